"""A list of stations: the fixed places where cards, discs, traps, plants, sensors and hives are."""

from __future__ import annotations

import datetime as dt

from benchwalk.records.sheets.found import At
from benchwalk.records.sheets.headings import method_of
from benchwalk.records.sheets.lists.cells import Fault, word_of
from benchwalk.records.sheets.lists.found import StationRow
from benchwalk.records.sheets.lists.measures import LENGTH_M
from benchwalk.records.sheets.lists.sheet import Row
from benchwalk.records.sheets.words import fold


def station_in(row: Row) -> StationRow:
    """What one row says of a station; raises :class:`Fault` where it cannot be taken."""
    code = row.needed("code")
    unit = row.needed("unit")
    opened_on, closed_on = _opened(row), row.day("closed_on")
    if closed_on is not None and closed_on <= opened_on:
        raise Fault("ends_before_start", "closed_on")
    x_m, y_m = row.measured("x", LENGTH_M), row.measured("y", LENGTH_M)
    return StationRow(
        at=At(row.number),
        code=code,
        house=row.text("house"),
        unit=unit,
        kind=_kind(row),
        role=row.word("role", "role") or "interior",
        x_m=x_m,
        y_m=y_m,
        opened_on=opened_on,
        closed_on=closed_on,
    )


def _opened(row: Row) -> dt.date:
    """The first day; where the list does not say it, the day that a person gives for all."""
    opened_on = row.day("opened_on")
    if opened_on is not None:
        return opened_on
    told, question = row.sheet.answered_day("opened_on", At(row.number))
    if told is None:
        raise Fault("missing_opened_on", "opened_on", question)
    return told


def _kind(row: Row) -> str:
    """The kind as said; a colour, or a method of cards, says that it is a card."""
    text = row.text("kind")
    if text is not None and (kind := word_of(text, "station_kind")):
        return kind
    coloured = row.text("colour") or row.text("method") or text
    if coloured is None:
        raise Fault("missing_kind", "kind")
    if text is None or word_of(text, "colour"):
        if word_of(coloured, "colour") or method_of(coloured) is not None:
            return "card"
        raise Fault("unknown_colour", "colour" if row.text("colour") else "method")
    raise Fault("unknown_station_kind", "kind")


def station_key(s: StationRow) -> str:
    """What two rows share that are about one station: its code."""
    return fold(s.code)


def station_name(s: StationRow) -> str:
    """The words for a station."""
    return s.code
