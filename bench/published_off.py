"""Would a wrong formula be seen? Results are made 1.001 times what they are, and tests must fail.

    python bench/published_off.py [--draws 20] [--seed 1] [--write]

Rows are drawn at random from the published tables of the science tests. For each, one of the
functions of `benchwalk.science` that the tests of that table call, drawn too, gives results 1.001
times too large, and those tests are run: at least one has to fail. Tables of raw data, that hold no
result of a function, are left out.
"""

from __future__ import annotations

import ast
import csv
import dataclasses
import functools
import importlib
import os
import random
import subprocess
import sys
from collections.abc import Callable
from typing import Any

import numpy as np

from kept import ROOT, head, keep, options

TESTS = ROOT / "tests" / "science"
RAW = {"corn_borers", "insect_sprays", "ticks", "ticks_by_brood", "webworm_blocks", "webworms"}
RAW |= {"peak_flow", "measured_durations"}  # measurements, near which a line passes
OFF = 1.001
TOLD = "BENCHWALK_RESULTS_OFF"
SECONDS = 300


def off(result: Any) -> Any:
    """The same result, its numbers 1.001 times as large."""
    if dataclasses.is_dataclass(result) and not isinstance(result, type):
        held = {f.name: off(getattr(result, f.name)) for f in dataclasses.fields(result) if f.init}
        return dataclasses.replace(result, **held)
    if isinstance(result, tuple):
        return tuple(off(part) for part in result)
    if isinstance(result, bool | np.bool_ | str) or result is None:
        return result
    if isinstance(result, int | float | np.number):
        return result * OFF
    numeric = isinstance(result, np.ndarray) and result.dtype.kind in "iuf"
    return result * OFF if numeric else result


def wrapped(function: Callable[..., Any]) -> Callable[..., Any]:
    @functools.wraps(function)
    def told(*args: Any, **kwargs: Any) -> Any:
        return off(function(*args, **kwargs))

    return told


def pytest_configure() -> None:
    """As a plugin: put the function that is named into its place before tests import it."""
    if name := os.environ.get(TOLD, ""):
        owner, function = name.rsplit(".", 1)
        place = named(owner)
        setattr(place, function, wrapped(getattr(place, function)))


def named(owner: str) -> Any:
    """A package of science, or a class in one."""
    last = owner.rsplit(".", 1)[1]
    return importlib.import_module(owner) if last.islower() else class_of(owner)


def class_of(owner: str) -> type:
    module, name = owner.rsplit(".", 1)
    return getattr(importlib.import_module(module), name)  # type: ignore[no-any-return]  # named


def literals(node: ast.AST) -> set[str]:
    return {n.value for n in ast.walk(node) if isinstance(n, ast.Constant) and n.value in TABLES}


def functions_of(tree: ast.Module) -> dict[str, str]:
    """What a test file calls a public function of science, by its full name."""
    found = {}
    for node in ast.walk(tree):
        if not isinstance(node, ast.ImportFrom) or not (node.module or "").startswith(
            "benchwalk.science"
        ):
            continue
        for alias in node.names:
            name = alias.asname or alias.name
            if node.module == "benchwalk.science":
                package = importlib.import_module(f"benchwalk.science.{alias.name}")
                found |= {f"{name}.{f}": f"{package.__name__}.{f}" for f in package.__all__}
            else:
                found[name] = f"{node.module}.{alias.name}"
    return {short: full for short, full in found.items() if short.split(".")[-1].islower()} | {
        f".{method}": f"{full}.{method}"
        for full in found.values()
        if not full.split(".")[-1].islower() and isinstance(named(full), type)
        for method in vars(named(full))
        if not method.startswith("_") and callable(getattr(named(full), method))
    }


def called(node: ast.AST, known: dict[str, str], tree: ast.Module) -> set[str]:
    """Functions of science a test uses, itself or through helpers and tables of its file."""
    names = {ast.unparse(n) for n in ast.walk(node) if isinstance(n, ast.Name | ast.Attribute)}
    names |= {f".{n.attr}" for n in ast.walk(node) if isinstance(n, ast.Attribute)}
    found = {known[n] for n in names if n in known}
    for other in tree.body:
        own = getattr(other, "name", None)
        if isinstance(other, ast.Assign):
            own = getattr(other.targets[0], "id", None)
        if own in names and other is not node:
            found |= called(other, known, tree)
    return found


def uses() -> dict[str, list[tuple[str, set[str]]]]:
    """For each table the tests that read it, with the functions they call."""
    found: dict[str, list[tuple[str, set[str]]]] = {}
    for path in sorted(TESTS.glob("test_*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        known = functions_of(tree)
        for node in tree.body:
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
                for table in literals(node):
                    test = f"{path.relative_to(ROOT)}::{node.name}"
                    found.setdefault(table, []).append((test, called(node, known, tree)))
    return found


TABLES = {p.stem for p in (TESTS / "published").glob("*.csv")} - RAW


def rows() -> list[tuple[str, int]]:
    """Every row of every table, by table and line."""
    found = []
    for table in sorted(TABLES):
        with (TESTS / "published" / f"{table}.csv").open(encoding="utf-8", newline="") as file:
            found += [(table, line) for line, _ in enumerate(csv.DictReader(file), start=2)]
    return found


def fails(tests: list[str], function: str = "") -> bool:
    options = ["-x", "-q", "-p", "no:randomly", "-p", "no:cacheprovider", "-p", "published_off"]
    path = os.pathsep.join([str(ROOT / "bench"), str(ROOT / "src")])
    told = dict(os.environ, PYTHONPATH=path) | {TOLD: function}
    command = [sys.executable, "-m", "pytest", *options, *tests]
    ran = subprocess.run(command, cwd=ROOT, env=told, capture_output=True, timeout=SECONDS)
    if ran.returncode not in (0, 1):
        raise SystemExit(ran.stdout.decode()[-2000:])
    return ran.returncode == 1


def main() -> None:
    asked = options(__doc__)
    asked.add_argument("--draws", type=int, default=20)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    chance, found, held = random.Random(given.seed), uses(), []
    for table, line in chance.sample(rows(), given.draws):
        tests = [test for test, _ in found[table]]
        function = chance.choice(sorted(set().union(*(names for _, names in found[table]))))
        seen = {"table": table, "line": line, "function": function}
        held.append(seen | {"passed": not fails(tests), "failed": fails(tests, function)})
        print("seen  " if held[-1]["failed"] else "UNSEEN", table, line, function, flush=True)
    result = {
        **head(given.seed),
        "drawn": len(held),
        "seen": sum(h["failed"] and h["passed"] for h in held),
        "draws": held,
    }
    keep("published_off", result, write=given.write)
    print(f"{result['seen']} of {result['drawn']} seen")


if __name__ == "__main__":
    main()
