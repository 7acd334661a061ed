"""An absent count is never 0: the source is read for the habits that make it one."""

import ast
from pathlib import Path

import pytest

from tests.in_turn import each_of

PACKAGE = Path(__file__).parent.parent / "src" / "benchwalk"


def zeros_for_nothing(source: str) -> list[int]:
    """Lines where a missing value becomes 0: ``x or 0``, ``.get(k, 0)``, ``getattr(x, n, 0)``."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.BoolOp) and isinstance(node.op, ast.Or):
            found += [node.lineno for value in node.values[1:] if _is_zero(value)]
        if isinstance(node, ast.Call) and _name(node.func) in (
            "get",
            "getattr",
            "coalesce",
            "setdefault",
        ):
            found += [node.lineno for value in node.args[1:] if _is_zero(value)]
    return found


def _is_zero(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and type(node.value) in (int, float) and node.value == 0


def _name(node: ast.expr) -> str:
    return node.attr if isinstance(node, ast.Attribute) else getattr(node, "id", "")


@each_of("path", sorted(PACKAGE.rglob("*.py")))
def test_no_absent_value_becomes_zero(path):
    assert zeros_for_nothing(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    "line", ["total = row.total or 0", "n = held.get(key, 0)", "sum(x or 0.0 for x in counts)"]
)
def test_the_habit_is_seen_wherever_it_stands(line):
    assert zeros_for_nothing(line) == [1]


def test_a_flag_with_or_is_not_taken_for_the_habit():
    assert zeros_for_nothing("locale = given or 'en'\nready = a or b\n") == []
