"""Are the tests sharp? Random small faults are put into a copy of the source, and tests are run.

    python bench/mutants.py density [--number 100] [--seed 1]
    python bench/mutants.py sheets
    python bench/mutants.py cells       (what reads one cell of a sheet)
    python bench/mutants.py science     (drawn over all families, each tested by its own tests)

Source and tests are those of the last commit, and they must pass as they are: a mutant is killed
when some test fails. Survivors are listed, each a line to look at: either a test is missing, or the
change does not matter.
"""

from __future__ import annotations

import ast
import copy
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass
from pathlib import Path

from kept import ROOT, head, keep, options

SCIENCE = "src/benchwalk/science"
SHEETS = "src/benchwalk/records/sheets"


def family(name: str, *tests: str) -> tuple[list[str], list[str]]:
    """A folder of the science and the files that test it."""
    folder = sorted((ROOT / SCIENCE / name).glob("*.py"))
    files = [str(p.relative_to(ROOT)) for p in folder if p.name != "__init__.py"]
    return files, [f"tests/science/test_{test}.py" for test in tests]


TARGETS = {
    "density": family("density", "how_many_pests_there_are", "how_a_density_changes"),
    "degree_days": family(
        "degree_days", "heat_of_a_day", "heat_from_readings", "when_a_pest_is_where"
    ),
    "climate": family("climate", "what_the_air_does"),
    "efficacy": family("efficacy", "what_a_treatment_did"),
    "agreement": family("agreement", "whether_scouts_agree"),
    "detection": family("detection", "finding_a_pest", "accepting_a_delivery"),
    "dispersion": family(
        "dispersion",
        *("how_clumped_a_pest_is", "indices_of_clumping", "how_variance_grows_with_the_mean"),
    ),
    "precision": family("precision", "how_many_units_a_precision_takes"),
    "stopping": family(
        "stopping",
        *("when_to_stop_counting", "infested_instead_of_counted", "stop_tables"),
        "a_plan_in_minutes",
    ),
    "sheets": (
        sorted(
            str(p.relative_to(ROOT))
            for p in (ROOT / SHEETS).glob("*.py")
            if p.name not in ("landing.py", "ground.py", "bring.py", "mappings.py", "__init__.py")
        ),
        # the quick ones first: a mutant's run ends with the first failure
        [
            f"tests/records/sheets/test_{name}.py"
            for name in (
                *("sheets_with_a_truth", "unseen_sheets", "values", "dates", "names", "tables"),
                *("layouts", "remarks", "units", "repeats", "rejects", "json"),
                *("same_counts_another_shape", "any_sheet"),
            )
        ],
    ),
    "cells": (
        [
            f"{SHEETS}/{name}.py"
            for name in ("values", "dates", "cells", "numbers", "counts", "words")
        ],
        [
            f"tests/records/sheets/test_{name}.py"
            for name in (
                *(
                    "values",
                    "words_beside_numbers",
                    "dates",
                    "numbers",
                    "cells",
                    "units",
                    "tables",
                    "names",
                ),
                *("sheets_with_a_truth", "workbooks"),
            )
        ],
    ),
}
FAMILIES = [held for name, held in TARGETS.items() if name not in ("sheets", "cells")]
COMPARE = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
}
ARITHMETIC = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
    ast.Pow: ast.Mult,
    ast.BitOr: ast.BitAnd,
    ast.BitAnd: ast.BitOr,
}
SECONDS = 240


@dataclass
class Mutant:
    file: str
    line: int
    was: str
    became: str
    killed: bool | None = None


def changes(node: ast.AST) -> Iterator[ast.AST]:
    """Every small fault one node can be given."""
    if isinstance(node, ast.Compare) and type(node.ops[0]) in COMPARE:
        other = copy.deepcopy(node)
        other.ops[0] = COMPARE[type(node.ops[0])]()
        yield other
    elif isinstance(node, ast.BinOp) and type(node.op) in ARITHMETIC:
        other = copy.deepcopy(node)
        other.op = ARITHMETIC[type(node.op)]()
        yield other
    elif isinstance(node, ast.BoolOp):
        other = copy.deepcopy(node)
        other.op = ast.And() if isinstance(node.op, ast.Or) else ast.Or()
        yield other
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        yield node.operand
    elif isinstance(node, ast.Constant) and type(node.value) in (int, float):
        yield ast.Constant(node.value + 1)
    elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
        yield ast.Constant(not node.value)
    elif isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value:
        yield ast.Constant(node.value + "x")
    elif isinstance(node, ast.IfExp):
        yield ast.IfExp(node.test, node.orelse, node.body)
    elif isinstance(node, ast.Return) and node.value is not None:
        yield ast.Return(ast.Constant(None))


def sites(tree: ast.Module) -> list[tuple[ast.AST, ast.AST]]:
    """Node and fault, leaving out docstrings, annotations, imports and messages of errors."""
    skipped: set[int] = set()
    for node in ast.walk(tree):
        idle: list[ast.AST | None] = []
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            idle.append(node)
        if isinstance(node, ast.AnnAssign | ast.arg):
            idle.append(node.annotation)
        if isinstance(node, ast.FunctionDef):
            idle += [node.returns, *node.decorator_list]
        if isinstance(node, ast.ClassDef):
            idle += node.decorator_list
        if isinstance(node, ast.Raise | ast.ImportFrom | ast.Import | ast.JoinedStr):
            idle.append(node)
        if isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") == "__all__":
            idle.append(node)
        skipped |= {id(x) for i in idle if i is not None for x in ast.walk(i)}
    return [(n, c) for n in ast.walk(tree) if id(n) not in skipped for c in changes(n)]


class Put(ast.NodeTransformer):
    def __init__(self, old: ast.AST, new: ast.AST) -> None:
        self.old, self.new = old, new

    def visit(self, node: ast.AST) -> ast.AST:
        return ast.copy_location(self.new, node) if node is self.old else self.generic_visit(node)


def draw(files: list[str], number: int, seed: int, tree_at: Path) -> list[tuple[Mutant, str]]:
    """Mutants drawn at random from all sites of all files, with the mutated source."""
    found = []
    for file in files:
        tree = ast.parse((tree_at / file).read_text(encoding="utf-8"))
        found += [(file, tree, old, new) for old, new in sites(tree)]
    drawn = random.Random(seed).sample(found, min(number, len(found)))
    out = []
    for file, tree, old, new in drawn:
        text = ast.unparse(ast.fix_missing_locations(Put(old, new).visit(copy_of(tree, old))))
        mutant = Mutant(file, getattr(old, "lineno", 0), ast.unparse(old), ast.unparse(new))
        out.append((mutant, text))
    return out


def copy_of(tree: ast.Module, keep: ast.AST) -> ast.Module:
    """A copy of a tree in which one node is still itself."""
    return copy.deepcopy(tree, {id(keep): keep})


def committed(folder: Path) -> None:
    """The tree of the last commit; what is being worked on kills no mutant."""
    packed = folder / "committed.tar"
    subprocess.run(["git", "-C", ROOT, "archive", "-o", packed, "HEAD"], check=True)
    shutil.unpack_archive(packed, folder, filter="data")
    packed.unlink()


def fails(tests: list[str], tree: Path, source: Path) -> bool:
    """Whether a test of a tree fails with a source."""
    options = ["-x", "-q", "-p", "no:randomly", "-p", "no:cacheprovider", "--no-header"]
    command = [sys.executable, "-m", "pytest", *options, *tests]
    environment = dict(os.environ, PYTHONPATH=str(source), PYTHONDONTWRITEBYTECODE="1")
    ran = subprocess.run(command, cwd=tree, env=environment, capture_output=True, timeout=SECONDS)
    return ran.returncode != 0


def run(job: tuple[Mutant, str, list[str], Path]) -> Mutant:
    mutant, text, tests, tree = job
    with tempfile.TemporaryDirectory(prefix="benchwalk-mutant-") as folder:
        source = Path(folder) / "src"
        shutil.copytree(tree / "src", source, ignore=shutil.ignore_patterns("__pycache__"))
        (Path(folder) / mutant.file).write_text(text, encoding="utf-8")
        try:
            mutant.killed = fails(tests, tree, source)
        except subprocess.TimeoutExpired:
            mutant.killed = True  # it hangs: somebody would notice
    print("killed  " if mutant.killed else "SURVIVED", mutant.file, mutant.line, flush=True)
    return mutant


def main() -> None:
    asked = options(__doc__)
    asked.add_argument("target", nargs="?", choices=[*TARGETS, "science"], default="density")
    asked.add_argument("--number", type=int, default=100)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    held = FAMILIES if given.target == "science" else [TARGETS[given.target]]
    tests_of = {file: tests for files, tests in held for file in files}
    with tempfile.TemporaryDirectory(prefix="benchwalk-mutants-") as folder:
        tree = Path(folder)
        first = head(given.seed)
        committed(tree)
        for tests in {tuple(tests): tests for tests in tests_of.values()}.values():
            if fails(tests, tree, tree / "src"):
                raise SystemExit(f"a test fails without any fault put in: {' '.join(tests)}")
        drawn = draw(list(tests_of), given.number, given.seed, tree)
        jobs = [(mutant, text, tests_of[mutant.file], tree) for mutant, text in drawn]
        with ThreadPoolExecutor(2) as pool:
            mutants = list(pool.map(run, jobs))
    survivors = [m for m in mutants if not m.killed]
    result = {
        **first,
        "mutants": len(mutants),
        "killed": len(mutants) - len(survivors),
        "survivors": [asdict(m) for m in survivors],
    }
    keep(f"mutants_{given.target}", result, write=given.write)
    for m in survivors:
        print(f"{m.file}:{m.line}: {m.was}  ->  {m.became}")
    print(f"{result['killed']} of {result['mutants']} killed")


if __name__ == "__main__":
    main()
