"""Dates whose year, month, week and day stand in columns of their own, or in a title."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from benchwalk.records.sheets.block import Block
from benchwalk.records.sheets.dates import A_WEEK, MONTHS
from benchwalk.records.sheets.headings import heading_key, listed
from benchwalk.records.sheets.page import Row, cell_at
from benchwalk.records.sheets.words import fold, tidy

YEARS = frozenset({"year", "yr", "ano", "jahr"})
MONTH_WORDS = frozenset({"month", "mo", "mes", "monat"})
YEAR = re.compile("19[89][0-9]|20[0-9]{2}")
DAY = re.compile("0?[1-9]|[12][0-9]|3[01]")
MONTH = re.compile("0?[1-9]|1[0-2]")
WEEK = re.compile(rf"(?:(?:{A_WEEK})\.?\s?)?([1-9]|[0-4][0-9]|5[0-3])", re.IGNORECASE)
MONTH_AND_YEAR = re.compile(r"([^\W\d_]{3,})\.?,?(?: de| of)? ((?:19[89]|20[0-9])[0-9])")


def with_whole_days(block: Block, titles: Iterable[str]) -> Block:
    """The table with whole dates, where its day or week stands apart from its year and month.

    Other tables, and a row in which a part is missing, stay as they are.
    """
    columns = _columns(block.rows[0])
    day, week = columns.get("date"), columns.get("week")
    if day is not None and _all(block, day, DAY):
        return _dated(block, day, columns, _month_in(titles))
    if day is None and week is not None and "year" in columns:
        return _weeks(block, week, lambda row: _week_of(row, week, columns["year"]))
    return block


def with_weeks_for_days(block: Block) -> Block:
    """The table with its weeks as its days, where neither a column nor a title tells a day.

    What is not a week stays as it is; the year is that of the file's titles.
    """
    week = _columns(block.rows[0]).get("week")
    if week is None or not any(WEEK.fullmatch(_cell(row, week)) for row in block.rows[1:]):
        return block
    return _weeks(block, week, lambda row: _named_week(_cell(row, week)))


def _named_week(text: str) -> str | None:
    found = WEEK.fullmatch(text)
    return f"Wk {found[1]}" if found else None


def _weeks(block: Block, week: int, told: Callable[[Row], str | None]) -> Block:
    rows = [_with(row, week, told(row)) for row in block.rows[1:]]
    return replace(block, rows=(_with(block.rows[0], week, "Date"), *rows))


def _columns(headings: Row) -> dict[str, int]:
    found: dict[str, int] = {}
    for n, heading in enumerate(headings):
        key = heading_key(heading)
        part = "year" if key in YEARS else "month" if key in MONTH_WORDS else listed(heading)
        if part is not None:
            found.setdefault(part, n)
    return found


def _all(block: Block, column: int, form: re.Pattern[str]) -> bool:
    cells = [c for row in block.rows[1:] if (c := _cell(row, column))]
    return bool(cells) and all(form.fullmatch(c) for c in cells)


def _month_in(titles: Iterable[str]) -> tuple[str, str] | None:
    """The one month, with its year, that titles name by itself: "May 2024"."""
    told = {
        (str(MONTHS[found[1]]), found[2])
        for text in titles
        if (found := MONTH_AND_YEAR.fullmatch(tidy(text).casefold())) and found[1] in MONTHS
    }
    return told.pop() if len(told) == 1 else None


def _dated(block: Block, day: int, columns: dict[str, int], told: tuple[str, str] | None) -> Block:
    if "year" in columns and "month" in columns:
        year, month = columns["year"], columns["month"]
        rows = [
            _with(row, day, _date(_cell(row, year), _cell(row, month), _cell(row, day)))
            for row in block.rows[1:]
        ]
    elif told is not None:
        rows = [_with(row, day, _date(told[1], told[0], _cell(row, day))) for row in block.rows[1:]]
    else:
        return block
    return replace(block, rows=(block.rows[0], *rows))


def _date(year: str, month: str, day: str) -> str | None:
    number = MONTHS.get(fold(month).strip("."), month)
    if not (YEAR.fullmatch(year) and MONTH.fullmatch(str(number)) and DAY.fullmatch(day)):
        return None
    return f"{year}-{int(number):02}-{int(day):02}"


def _week_of(row: Row, week: int, year: int) -> str | None:
    found = WEEK.fullmatch(_cell(row, week))
    whole = YEAR.fullmatch(_cell(row, year))
    return f"{whole[0]}-W{int(found[1]):02}" if found and whole else None


def _cell(row: Sequence[str], column: int) -> str:
    return tidy(cell_at(row, column))


def _with(row: Row, column: int, text: str | None) -> Row:
    return row if text is None else (*row[:column], text, *row[column + 1 :])
