"""Values as cells of text: nothing that a spreadsheet would run, and back again unchanged.

A text that a spreadsheet takes for a formula gets one apostrophe in front; so does a text that
begins with one already, and the empty text, so that an empty cell always says "nothing was said".
Taking one apostrophe away gives every text back as it was.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable
from typing import Any

from benchwalk.records.ledger import canonical
from benchwalk.records.sheets.values import FORMULA_STARTS

GUARD = "'"


def runs(text: str) -> bool:
    """Whether a spreadsheet might take a text for a formula, blanks in front of it or not."""
    return text.startswith(FORMULA_STARTS) or text.lstrip().startswith(FORMULA_STARTS)


def guarded(text: str) -> str:
    """A text as a cell that shows it and runs nothing."""
    first = text[:1]
    # letters and digits, nearly all there is, are told at once
    if first.isalnum() or not (first in ("", GUARD) or runs(text)):
        return text
    return GUARD + text


def unguarded(cell: str) -> str | None:
    """The text that a cell was made of; None where nothing was said."""
    return (cell.removeprefix(GUARD)) if cell else None


def instant(at: dt.datetime) -> str:
    """An instant in UTC as text (ISO 8601), microseconds only where it has them."""
    return at.astimezone(dt.UTC).isoformat().replace("+00:00", "Z")


_TEXT: dict[type, Callable[[Any], str]] = {
    type(None): lambda _: "",
    str: guarded,
    bool: lambda value: "true" if value else "false",
    int: str,
    float: repr,
    uuid.UUID: str,
    dt.datetime: instant,
    dt.date: dt.date.isoformat,
    dict: canonical,
    list: canonical,
}


def cell(value: Any) -> str:
    """Any value of the records as a cell of a CSV file."""
    return _TEXT[type(value)](value)
