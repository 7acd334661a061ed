"""One unit under two names: stated renames are applied, likely ones asked."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass, field, replace

from rapidfuzz.distance import OSA

from benchwalk.records.sheets.context import Sheet, cell, place_key
from benchwalk.records.sheets.found import At, Count, Question, Rename
from benchwalk.records.sheets.gathering import Gathering
from benchwalk.records.sheets.layout import Column
from benchwalk.records.sheets.questions import AGREED, choices_of
from benchwalk.records.sheets.remarks import unit_with_old_name
from benchwalk.records.sheets.words import squeezed

# own choices: a name on a fourth of the days of another may be a slip of the pen
RARE, SHORTEST = 4, 4
LONG_WORD = 5  # own choice: a slip in a shorter word can be another word


@dataclass
class Walked:
    """The days and crops of a unit in the file."""

    house: str | None
    at: At
    days: set[dt.date] = field(default_factory=set)
    crops: set[str | None] = field(default_factory=set)


def renamed(found: Gathering) -> Gathering:
    """The outcomes with each renamed unit under its new name."""
    _stated_in_cells(found)
    walked = _walked(found)
    slips = _slips(found, walked)
    _likely(found, walked, slips)
    new_names = _new_names(found, walked) | slips
    if not new_names:
        return found

    def name(unit: str | None, house: str | None) -> str | None:
        if unit is None:
            return None
        short = unit.removeprefix(f"{house} / ") if house else unit
        new = new_names.get((house, place_key(short)))
        if new is None:
            return unit
        return f"{house} / {new}" if house else new

    proposed = _unanswered(found, slips)
    found.records = [_under(c, name(c.unit, c.house) or c.unit, proposed) for c in found.records]
    found.nothing_seen = [
        replace(n, unit=name(n.unit, n.house) or n.unit) for n in found.nothing_seen
    ]
    found.not_looked = [replace(n, unit=name(n.unit, n.house)) for n in found.not_looked]
    found.notes = [replace(n, unit=name(n.unit, n.house)) for n in found.notes]
    found.treatments = [
        replace(t, units=tuple(dict.fromkeys(name(u, t.house) or u for u in t.units)))
        for t in found.treatments
    ]
    return found


def _under(count: Count, unit: str, proposed: frozenset[tuple[str | None, str]]) -> Count:
    """A count under its unit's name; said to be proposed where nobody agreed to the name yet."""
    key = count.house, place_key(_short(count.unit, count.house))
    resolved = "proposed" if key in proposed else count.resolved
    return replace(count, unit=unit, resolved=resolved)


def _short(unit: str, house: str | None) -> str:
    return unit.removeprefix(f"{house} / ") if house else unit


Names = dict[tuple[str | None, str], str]


def _unanswered(found: Gathering, slips: Names) -> frozenset[tuple[str | None, str]]:
    open_ = (k for k in slips if found.questions.answer(f"unit:{k[1]}") is None)
    return frozenset(open_)


def _slips(found: Gathering, walked: Walks) -> Names:
    """(house, misspelt name) -> the one unit near it, unless a person said that it is none."""
    slips: Names = {}
    for (house, name), seen in walked.items():
        near = [
            other
            for (of, other), usual in walked.items()
            if of == house and other != name and _is_slip(name, seen, other, usual)
        ]
        if len(near) != 1:
            continue
        answer = found.questions.answer(f"unit:{name}")
        if answer is None:
            _ask_slip(found, name, near[0], seen)
        if answer is None or place_key(answer) in (place_key(near[0]), AGREED):
            slips[house, place_key(name)] = near[0]
    return slips


def _is_slip(name: str, seen: Walked, other: str, usual: Walked) -> bool:
    """Whether a name that stands on few days is one slip away from a unit walked on many.

    Its days lie among those of the other, and its digits are the same: bay 1 is not bay 2. One slip
    in a long word is one in a short file too, where a unit is walked on few days.
    """
    if _slip_in_a_word(name, other) and len(seen.days) < len(usual.days):
        return bool(seen.crops & usual.crops)
    if len(seen.days) * RARE > len(usual.days) or len(squeezed(name)) < SHORTEST:
        return False
    digits = [[c for c in n if c.isdigit()] for n in (name, other)]
    among = min(usual.days) <= min(seen.days) and max(seen.days) <= max(usual.days)
    return (
        among
        and digits[0] == digits[1]
        and bool(seen.crops & usual.crops)
        and OSA.distance(squeezed(name), squeezed(other), score_cutoff=1) <= 1
    )


def _slip_in_a_word(name: str, other: str) -> bool:
    """Whether two names differ by one slip in one long word: "Nroth 1" and "North 1"."""
    words = [place_key(n).split() for n in (name, other)]
    if len(words[0]) != len(words[1]):
        return False
    pairs = [pair for pair in zip(*words, strict=True) if pair[0] != pair[1]]
    if len(pairs) != 1 or not all(w.isalpha() and len(w) >= LONG_WORD for w in pairs[0]):
        return False
    return OSA.distance(*pairs[0], score_cutoff=1) == 1


def _ask_slip(found: Gathering, name: str, other: str, seen: Walked) -> None:
    found.questions.ask(
        Question(
            id=f"unit:{name}",
            at=seen.at,
            reason="misspelt_unit",
            question=f"{name!r} is written on few days; is it {other!r}?",
            choices=choices_of([other]),
            proposed=other,
        )
    )


def _new_names(found: Gathering, walked: Walks) -> dict[tuple[str | None, str], str]:
    """(house, old name) -> new name, in each house that has both: others keep their own."""
    places = {(w.house, place_key(unit)) for (_, unit), w in walked.items()}
    return {
        (house, place_key(r.old)): r.new
        for r in found.renames
        if r.stated
        for house, unit in places
        if unit == place_key(r.new) and (house, place_key(r.old)) in places
    }


def _stated_in_cells(found: Gathering) -> None:
    """A cell "N3 (old North 3)" in the column of units states a rename, once."""
    for sheet in found.sheets:
        column = sheet.layout.column("unit")
        seen: set[str] = set()
        for number, row in sheet.numbered() if column else ():
            text = cell(row, column) if column else ""
            if column and "(" in text and text not in seen:
                seen.add(text)
                _stated_in(found, sheet, number, column)


def _stated_in(found: Gathering, sheet: Sheet, number: int, column: Column) -> None:
    row = sheet.block.rows[number - 1]
    new, old = unit_with_old_name(cell(row, column))
    spelling = sheet.ways.spelling
    if old is None or place_key(old) not in spelling:
        return
    if (place_key(old), place_key(new)) in {
        (place_key(r.old), place_key(r.new)) for r in found.renames
    }:
        return
    found.renames.append(
        Rename(
            old=spelling[place_key(old)],
            new=spelling[place_key(new)],
            on=sheet.context(number, row).on,
            at=sheet.at(number, column),
            stated=True,
        )
    )


Walks = dict[tuple[str | None, str], Walked]


def _walked(found: Gathering) -> Walks:
    walked: Walks = {}
    for sheet in found.sheets:
        column = sheet.layout.column("unit")
        for number, row in sheet.numbered() if column else ():
            context, unit = sheet.context(number, row), sheet.place(row, "unit")
            if unit is not None and context.on is not None and column is not None:
                key = context.house, unit
                if key not in walked:
                    walked[key] = Walked(context.house, sheet.at(number, column))
                walked[key].days.add(context.on)
                walked[key].crops.add(context.crop_raw)
    return walked


def _likely(found: Gathering, all_walked: Walks, slips: Names) -> None:
    """Ask about a unit that stops where one begins that could be the same; a slip is no unit."""
    told = {place_key(r.old) for r in found.renames}
    walked = {k: w for k, w in all_walked.items() if (k[0], place_key(k[1])) not in slips}
    pairs: dict[str, dict[str, Walked]] = defaultdict(dict)
    for (_, old), before in walked.items():
        for (_, new), after in walked.items():
            if place_key(old) not in told and _follows(old, before, new, after):
                pairs[old][new] = after
    for old, news in pairs.items():
        _ask(found, old, news)


def _follows(old: str, before: Walked, new: str, after: Walked) -> bool:
    same_place = before.house == after.house and bool(before.crops & after.crops)
    return same_place and max(before.days) < min(after.days) and _alike(old, new)


def _alike(one: str, other: str) -> bool:
    """Whether one name is the other, written shorter or spaced another way."""
    same = squeezed(one) == squeezed(other)
    return same or _shortens(one, other) or _shortens(other, one)


def _shortens(short: str, long: str) -> bool:
    """Whether a name keeps the first letter and all digits of a longer one, in its order."""
    a, b = squeezed(short), squeezed(long)
    digits = [[c for c in name if c.isdigit()] for name in (a, b)]
    rest = iter(b)
    in_order = all(c in rest for c in a)
    return a[:1] == b[:1] and digits[0] == digits[1] and len(a) < len(b) and in_order


def _ask(found: Gathering, old: str, news: dict[str, Walked]) -> None:
    answer = found.questions.answer(f"rename:{old}")
    agreed = next((n for n in news if answer and place_key(n) == place_key(answer)), None)
    new = agreed or next(iter(news))
    if answer is None or agreed:
        on = min(news[new].days)
        rename = Rename(old, new, on, news[new].at, stated=agreed is not None)
        found.renames.append(rename)
    if answer is None:
        found.questions.ask(
            Question(
                id=f"rename:{old}",
                at=news[new].at,
                reason="rename",
                question=f"{old!r} stops where {new!r} begins; is it the same unit?",
                choices=choices_of(news),
                proposed=None,
            )
        )
