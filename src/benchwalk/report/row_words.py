"""The newest week in words, one row a unit: what the page of the week shows."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from benchwalk.catalogue import say
from benchwalk.report.effort_words import counted
from benchwalk.report.figures import capital, chance, day, shown
from benchwalk.report.figures import moment as clocked
from benchwalk.report.keys import looks_address, looks_of, number_key
from benchwalk.report.line_words import NOT_LOOKED, STATES, Drawn, LineWords, line_words
from benchwalk.report.names import Names
from benchwalk.report.unit_words import unit_not_looked
from benchwalk.report.words import NEED, Part, reasons_counted, taken
from benchwalk.summarise import Key, Line, NotLooked
from benchwalk.summarise.rows import Row, Wanted, WeekRows, chance_over


@dataclass(frozen=True)
class Figure:
    """A figure with what it stands for and where the looks behind it are."""

    key: str
    text: str
    href: str


@dataclass(frozen=True)
class RowWords:
    """One row, said; "" where there is nothing to say, None where there is no figure."""

    id: str
    house: str
    unit: str
    crop: str
    phase: str
    pest: str
    method: str
    drawn: Drawn | None
    no_strip: str
    state: str
    word: str
    times: Figure | None
    span: str
    density: Figure | None
    chance: Figure | None
    note: str
    weeks: tuple[float | None, ...]
    due: str
    due_word: str


@dataclass(frozen=True)
class RowGroup:
    """The rows of one state."""

    part: Part
    gloss: str
    rows: tuple[RowWords, ...]


@dataclass(frozen=True)
class Choice:
    """One thing that can be asked for."""

    value: str
    text: str
    chosen: bool


@dataclass(frozen=True)
class Filter:
    """A choice of what is shown."""

    name: str
    label: str
    choices: tuple[Choice, ...]


@dataclass(frozen=True)
class PageWords:
    """The page of a week, said. The parts of `head` add up to the rows that are shown."""

    week: str
    dates: str
    operation: str
    head: tuple[Part, ...]
    standing: tuple[str, ...]
    filters: tuple[Filter, ...]
    filtered: str
    groups: tuple[RowGroup, ...]


def page_words(rows: WeekRows, locale: str = "en") -> PageWords:
    """The rows of a week in words."""
    names = Names(rows.summary.known, locale)
    head = tuple(_head(rows, locale))
    return PageWords(
        week=say("page.week_number", locale, n=rows.summary.day.isocalendar().week),
        dates=say(
            "week.dates",
            locale,
            since=day(rows.summary.since, locale),
            until=day(rows.summary.day, locale, year=True),
        ),
        operation=shown(rows.summary.known.operation),
        head=head,
        standing=tuple(_standing(names, rows)),
        filters=tuple(_filters(names, rows)),
        filtered=_filtered(rows, locale),
        groups=tuple(_group(names, rows, part) for part in head),
    )


def _head(rows: WeekRows, locale: str) -> Iterator[Part]:
    for state in NEED:
        if n := rows.counts.get(state):
            yield Part(state, n, say(f"week.head.{state}", locale, n=n))


def _standing(names: Names, rows: WeekRows) -> Iterator[str]:
    """What is in, what is not and why; how long was walked; what was taken as true."""
    summary, locale = rows.summary, names.locale
    # of the units that are shown: the sentence above counts no others
    missed = [row.missing for row in rows.rows if row.missing is not None]
    looked = len(rows.rows) - len(missed)
    if rows.rows:
        yield _due_by(names, rows)
        yield say("week.looked_at", locale, n=looked, total=len(rows.rows))
    told = [miss for miss in missed if miss.reason not in ("no_word", "not_sent")]
    if told:
        yield say("page.not_looked_why", locale, n=len(told), reasons=reasons_counted(names, told))
    held_back = [miss for miss in missed if miss.reason == "not_sent"]
    yield from _by_phone(rows, held_back, lambda *of: _not_sent(names, *of))
    silent = [miss for miss in missed if miss.reason == "no_word"]
    yield from _by_phone(rows, silent, lambda *of: _no_word(names, *of))
    if rows.minutes is not None and rows.wanted.everything:
        yield say("page.minutes_walked", locale, n=round(rows.minutes))
    yield from taken(names, summary)


def _by_phone(
    rows: WeekRows,
    missed: list[NotLooked],
    said: Callable[[str, dt.datetime | None, int], str],
) -> Iterator[str]:
    """Units of which nothing came back, a sentence for each phone that was to send it."""
    by_phone: dict[tuple[str, dt.datetime | None], int] = {}
    units = {miss.unit.id for miss in missed}
    for row in rows.rows:
        if row.place.id in units and row.silent is not None:
            at = (row.silent.device or row.silent.scout or "", row.silent.heard_at)
            by_phone[at] = 1 + by_phone[at] if at in by_phone else 1
    for (phone, heard), n in by_phone.items():
        yield said(phone, heard, n)


def _not_sent(names: Names, phone: str, heard: dt.datetime | None, n: int) -> str:
    assert heard is not None  # a phone that was never heard did not say what it holds
    return say("phones.not_sent", names.locale, phone=shown(phone), since=moment(heard, names), n=n)


def _no_word(names: Names, phone: str, heard: dt.datetime | None, n: int) -> str:
    if not phone:
        return say("page.no_word", names.locale, n=n)
    if heard is None:
        return say("page.no_word_from", names.locale, phone=shown(phone), n=n)
    return say(
        "page.no_word_since",
        names.locale,
        phone=shown(phone),
        since=moment(heard, names),
        n=n,
    )


def moment(at: dt.datetime, names: Names) -> str:
    """A day and time where the operation is: "Thu 7 May 06:10"."""
    return clocked(at, ZoneInfo(names.known.zone), names.locale, year=False)


def _filters(names: Names, rows: WeekRows) -> Iterator[Filter]:
    wanted, locale = rows.wanted, names.locale
    pests = sorted((names.taxon(code), code) for code in rows.pests)
    options = {
        "house": [(shown(house), house) for house in rows.houses],
        "pest": [(capital(name), code) for name, code in pests],
        "person": [(shown(person), person) for person in rows.people],
    }
    for name, held in options.items():
        some = choices(say(f"page.every_{name}", locale), held, getattr(wanted, name))
        yield Filter(name, say(f"page.filter_{name}", locale), some)


def choices(every: str, held: Iterable[tuple[str, str]], chosen: str) -> tuple[Choice, ...]:
    """What can be asked for, everything first, from pairs of words and a value."""
    some = (Choice(value, text, value == chosen) for text, value in held)
    return Choice("", every, not chosen), *some


def _filtered(rows: WeekRows, locale: str) -> str:
    if rows.wanted == Wanted():
        return ""
    total = len(rows.summary.units) + len(rows.summary.not_looked)
    return say("page.filtered", locale, n=len(rows.rows), total=total)


def _group(names: Names, rows: WeekRows, part: Part) -> RowGroup:
    key = "abs.not_looked_long" if part.state == "not_looked" else f"week.group.{part.state}"
    held = tuple(
        said for row in rows.rows if row.state == part.state for said in _row(names, rows, row)
    )
    return RowGroup(part, say(key, names.locale), held)


def _row(names: Names, rows: WeekRows, row: Row) -> Iterator[RowWords]:
    """The unit's row, and one for each further line over its threshold."""
    if row.missing is not None:
        yield _missing(names, rows, row, row.missing)
        return
    yield _looked(names, rows, row, row.line)
    for line in row.others:
        yield _looked(names, rows, row, line)


def _looked(names: Names, rows: WeekRows, row: Row, line: Line | None) -> RowWords:
    crops = ", ".join(dict.fromkeys(names.crop(p.crop) for p in row.standing))
    if line is None:
        return _said(names, row, note=_apart(names, row), due=_due(names, rows, row))
    said = line_words(names, line, crops, None)
    href = looks_address(line.series)
    first = line is row.line
    # of all lines none found any: what needs somebody stood on plants not chosen at random
    found_apart = first and row.state == "present" and line.state != "present"
    return _said(
        names,
        row,
        note=say("week.found_apart", names.locale) if found_apart else "",
        pest=said.pest,
        method=said.method,
        drawn=said.drawn,
        no_strip=said.no_strip,
        word=say(STATES[row.state if found_apart else line.state], names.locale),
        times=_times(said, line, href),
        span=said.times_span if line.times is not None else "",
        density=_density(names, said, line, href),
        chance=_chance(names, chance_over(line.ahead), line.series.key, href),
        weeks=row.weeks if first else (),
        due=_due(names, rows, row) if first else ("", ""),
        state=row.state if found_apart else line.state,
    )


def _times(said: LineWords, line: Line, href: str) -> Figure | None:
    if line.times is None:
        return None
    return Figure(number_key(line.series.key, "times"), said.times, href)


def _density(names: Names, said: LineWords, line: Line, href: str) -> Figure:
    text = said.density or counted(names, line.series)
    what = "density" if said.density else "counted"
    return Figure(number_key(line.series.key, what), text, href)


def _chance(names: Names, over: float | None, key: Key, href: str) -> Figure | None:
    """The chance of being over by the next walk, where there is a forecast of that."""
    if over is None:
        return None
    return Figure(number_key(key, "over"), chance(over, names.locale), href)


def _said(
    names: Names,
    row: Row,
    *,
    pest: str = "",
    method: str = "",
    drawn: Drawn | None = None,
    no_strip: str = "",
    word: str = "",
    times: Figure | None = None,
    span: str = "",
    density: Figure | None = None,
    chance: Figure | None = None,
    note: str = "",
    weeks: tuple[float | None, ...] = (),
    due: tuple[str, str] = ("", ""),
    state: str = "",
) -> RowWords:
    phases = dict.fromkeys(names.phase(p.phase) for p in row.standing if p.phase != "not_said")
    crops = dict.fromkeys(names.crop(p.crop) for p in row.standing)
    return RowWords(
        id=str(row.place.id),
        house="" if row.place.house is None else shown(row.place.house),
        unit=shown(row.place.name),
        crop=", ".join(crops) or say("week.no_crop", names.locale),
        phase=", ".join(phases),
        pest=pest,
        method=method,
        drawn=drawn,
        no_strip=no_strip,
        state=state or row.state,
        word=word or say(STATES[row.state], names.locale),
        times=times,
        span=span,
        density=density,
        chance=chance,
        note=note,
        weeks=weeks,
        due_word=due[0],
        due=due[1],
    )


def _apart(names: Names, row: Row) -> str:
    has_apart = row.unit is not None and row.unit.apart
    return say("week.nothing_at_random", names.locale) if has_apart else ""


def _missing(names: Names, rows: WeekRows, row: Row, miss: NotLooked) -> RowWords:
    said = unit_not_looked(names, miss)
    drawn = NOT_LOOKED if row.last is None else Drawn(None, None, None, "not_looked", row.last)
    return _said(
        names,
        row,
        pest="" if row.last_key is None else names.series(row.last_key),
        method="" if row.last_key is None else names.method(row.last_key.method),
        drawn=drawn,
        word=say("week.no_count", names.locale),
        chance=None
        if row.last_key is None or row.last_on is None
        else _chance(names, row.over, row.last_key, looks_of(row.last_key, row.last_on)),
        note=f"{capital(said.reason)}; {said.last}",
        weeks=row.weeks,
        due=_due(names, rows, row),
    )


def _due(names: Names, rows: WeekRows, row: Row) -> tuple[str, str]:
    """What comes first, check or walk, its word in front; a day gone by says how many days ago."""
    on = row.first_due
    if on is None:
        return "", ""
    late = (rows.summary.day - on).days
    word = say(f"page.due_{_what_is_due(row)}", names.locale)
    if late > 0:
        return word, say("page.due_late", names.locale, n=late)
    return word, day(on, names.locale)


def _what_is_due(row: Row) -> str:
    """A walk looks again too: where both are due on a day it is the check that is named."""
    check = row.check is not None and row.check.due_on == row.first_due
    return "check" if check else "walk"


def _due_by(names: Names, rows: WeekRows) -> str:
    """Units by what is due in them by the week's day, with the rest; each is counted once.

    Where no plan speaks of a unit nobody knows what is due there: it is told apart.
    """
    today, locale = rows.summary.day, names.locale
    planned = [row for row in rows.rows if row.first_due is not None]
    now = [row for row in planned if row.first_due is not None and row.first_due <= today]
    count = Counter(_what_is_due(row) for row in now)
    parts = [say(f"page.due_n_{what}", locale, n=n) for what, n in sorted(count.items())]
    rest = say("page.due_nothing", locale, n=len(planned) - len(now))
    if unplanned := len(rows.rows) - len(planned):
        rest = f"{rest} {say('page.due_unplanned', locale, n=unplanned)}"
    if not parts:
        return rest
    return " ".join(
        (say("page.due_by", locale, date=day(today, locale), parts=", ".join(parts)), rest)
    )
