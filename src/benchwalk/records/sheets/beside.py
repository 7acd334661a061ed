"""Pages of treatments in a workbook of counts: each row of them is a treatment of its units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from benchwalk.records.sheets.context import place_key
from benchwalk.records.sheets.found import At, Reject, Treatment
from benchwalk.records.sheets.gathering import Gathering
from benchwalk.records.sheets.lists.found import ListReading, ListRefused, TreatmentRow
from benchwalk.records.sheets.lists.layout import page_of
from benchwalk.records.sheets.lists.reading import read_list
from benchwalk.records.sheets.lists.several import RANGE, in_range, parts_of
from benchwalk.records.sheets.page import Page, Table
from benchwalk.records.sheets.remarks import is_everywhere

KIND = "treatments"


def treatments_on(
    page: Page, table: Table, answers: Mapping[str, str], own: Mapping[str, str]
) -> ListReading | None:
    """What a page without counts says as a list of treatments; none where it is no such list."""
    try:
        found = page_of(replace(table, pages=(page,)), None, own)
        if found is None or found[0] != KIND:
            return None
        return read_list(found[1], KIND, answers=answers, own_names=own)
    except ListRefused:
        return None


def take(reading: ListReading, page: Page, found: Gathering) -> None:
    """Take the treatments of a page beside those that remarks of the counts tell of.

    A treatment of a unit that no count names is refused: whether it is one of them under another
    name the file does not say.
    """
    for row in reading.things:
        if isinstance(row, TreatmentRow):
            _take(row, page, found)
    for r in reading.rejects:
        found.read += 1
        found.rejects.append(replace(r, at=_on(page, r.at), because=None))
    for d in reading.duplicates:
        found.read += 1
        found.duplicates.append(replace(d, at=_on(page, d.at), of=_on(page, d.of)))
    for s in reading.skips:
        if s.why != "headings":  # as of tables of counts, whose headings are no rows
            found.skip(_on(page, s.at), s.why)
    for question in reading.asked:
        found.questions.ask(replace(question, at=_on(page, question.at)))


def _on(page: Page, at: At) -> At:
    return At(at.row, sheet=page.name)


def _take(row: TreatmentRow, page: Page, found: Gathering) -> None:
    found.read += 1
    at, units = _on(page, row.at), _units(row, found)
    if units is None:
        raw = " ".join(filter(None, (row.house, row.units)))
        found.rejects.append(Reject(at, "missing_unit", raw))
        return
    found.treatments.append(
        Treatment(
            at=at,
            on=row.on,
            house=row.house,
            units=units,
            raw=row.what,
            kind=row.kind,
            what=row.what,
            active=row.active,
        )
    )


def _units(row: TreatmentRow, found: Gathering) -> tuple[str, ...] | None:
    """The units of the counts that a treatment names; none where one of them is not there."""
    known = found.units()
    of_house = [u for u, house in known.items() if not row.house or _same(house, row.house)]
    if row.units is None or is_everywhere(row.units):
        return tuple(of_house) or None
    by_name = {place_key(u.rpartition(" / ")[2]): u for u in of_house}
    by_name |= {place_key(u): u for u in of_house}
    whole = by_name.get(place_key(row.units))
    named = [whole] if whole else [by_name.get(name) for name in _names(row.units)]
    units = tuple(dict.fromkeys(n for n in named if n is not None))
    return units if all(named) else None


def _names(text: str) -> list[str]:
    """The names in a cell of several units, a range as each of its units, ready to compare."""
    ranges = ((part, RANGE.fullmatch(part)) for part in parts_of(text))
    return [place_key(n) for part, found in ranges for n in (found and in_range(found)) or [part]]


def _same(house: str | None, other: str) -> bool:
    return house is not None and place_key(house) == place_key(other)
