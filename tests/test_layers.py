"""The import order is the week: a part imports earlier parts only (CONTRIBUTING.md)."""

import ast
import sys
from pathlib import Path

from tests.in_turn import each_of

PACKAGE = Path(__file__).parent.parent / "src" / "benchwalk"
ORDER = [
    "catalogue",
    "science",
    "reference",
    "records",
    "plan",
    "walk",
    "summarise",
    "decide",
    "treat",
    "verify",
    "review",
    "train",
    "report",
    "across",
    "demo",
    "web",
    "cli",
]


def imports(source: str) -> set[str]:
    """Every module a file imports, wherever in it the import stands."""
    found = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are written in full, so that the order can be read"
            assert node.module is not None
            found |= {node.module} | {f"{node.module}.{alias.name}" for alias in node.names}
    return found


def layer(module: str) -> str:
    return module.removeprefix("benchwalk.").split(".")[0]


def out_of_order(part: str, source: str) -> list[str]:
    """Sentences, one for each import of a later part."""
    ours = {layer(m) for m in imports(source) if m.startswith("benchwalk.")} & set(ORDER)
    return [
        f"{part} imports {other}, which comes later in the week"
        for other in sorted(ours)
        if ORDER.index(other) > ORDER.index(part)
    ]


def files() -> list[Path]:
    return sorted(
        p
        for p in PACKAGE.rglob("*.py")
        if p.name not in ("__main__.py",) and p != PACKAGE / "__init__.py"
    )


def part_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


@each_of("path", files())
def test_a_part_imports_earlier_parts_only(path):
    assert part_of(path) in ORDER, f"{path.name}: a new part needs its place in the week"
    assert out_of_order(part_of(path), path.read_text(encoding="utf-8")) == []


def test_an_import_inside_a_function_is_seen_too():
    source = "def f():\n    from benchwalk.web import pages\n    return pages\n"
    assert out_of_order("summarise", source) == [
        "summarise imports web, which comes later in the week"
    ]


def test_science_imports_numpy_scipy_and_the_standard_library_only():
    allowed = {"numpy", "scipy", "benchwalk"} | set(sys.stdlib_module_names)
    for path in sorted((PACKAGE / "science").rglob("*.py")):
        used = {m.split(".")[0] for m in imports(path.read_text(encoding="utf-8"))}
        assert used <= allowed, f"{path.name} imports {sorted(used - allowed)}"
        ours = {m for m in imports(path.read_text(encoding="utf-8")) if m.startswith("benchwalk.")}
        assert {layer(m) for m in ours} <= {"science"}, path.name


def test_the_reference_needs_nothing_but_the_standard_library():
    allowed = {"benchwalk"} | set(sys.stdlib_module_names)
    for path in sorted((PACKAGE / "reference").rglob("*.py")):
        used = {m.split(".")[0] for m in imports(path.read_text(encoding="utf-8"))}
        assert used <= allowed, f"{path.name} imports {sorted(used - allowed)}"
