"""The rows of a table in one test, where each row takes less time than a test of its own."""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Iterable, Sequence
from typing import Any

import pytest

SHOWN = 20  # of the faulty rows in the first line; each stands beside its own fault as well


def each_of(names: str | Sequence[str], rows: Iterable[Any]) -> Callable[..., Callable[..., None]]:
    """Like ``parametrize``, but one test: all rows are tried, and every faulty one is named."""
    keys = names.replace(",", " ").split() if isinstance(names, str) else list(names)
    held = [dict(zip(keys, row if len(keys) > 1 else (row,), strict=True)) for row in rows]
    assert held, f"no row of {keys}"

    def over(test: Callable[..., None]) -> Callable[..., None]:
        @functools.wraps(test)
        def in_turn(**fixtures: Any) -> None:
            faults = []
            for row in held:
                try:
                    test(**fixtures, **row)
                except (Exception, pytest.fail.Exception) as fault:  # noqa: BLE001 - told below
                    fault.add_note(f"row: {row}")
                    faults.append((row, fault))
            if faults:
                named = [" ".join(map(str, row.values())) for row, _ in faults[:SHOWN]]
                said = f"{len(faults)} of {len(held)} rows: {named}"
                raise BaseExceptionGroup(said, [fault for _, fault in faults])

        signature = inspect.signature(test)
        others = [p for name, p in signature.parameters.items() if name not in keys]
        in_turn.__signature__ = signature.replace(parameters=others)  # type: ignore[attr-defined]
        return in_turn

    return over
