"""What a row says besides its counts: day, place, crop, scout, and how much was looked at."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from statistics import median_low

from benchwalk.records.sheets.block import Block
from benchwalk.records.sheets.dates import (
    Day,
    Habit,
    Order,
    clock_in,
    day,
    habit,
    is_week,
    median_year,
    order_of,
    serial,
    time_in,
)
from benchwalk.records.sheets.found import Assumed, At
from benchwalk.records.sheets.headings import CARDS, HUNG, method_of
from benchwalk.records.sheets.layout import Column, Layout
from benchwalk.records.sheets.names import crop_of
from benchwalk.records.sheets.page import cell_at
from benchwalk.records.sheets.remarks import order_in, unit_with_old_name
from benchwalk.records.sheets.values import marks, plain, sign
from benchwalk.records.sheets.words import MANY, means, tidy

WHOLE_NUMBER = re.compile(r"[0-9]{1,6}([.,]0+)?")
SEVERAL = re.compile(r"[0-9]+\s?(?:[-–,+&/]|to|a|bis)\s?[0-9]+.*")  # "1-5" is not one plant
WEEK = re.compile(r"(?:(?:week|wk|semana|sem|kw|w)\.?\s?)?([0-9]{1,2})", re.IGNORECASE)
SQUARES = re.compile(r"([0-9]{1,4})\s?/\s?([0-9]{1,4})")
COUNTED = frozenset(["pest", "stage", "count", "mean", "remarks"])
ITEMS = {"leaves": "leaf", "flowers": "flower"}
YES_OR_NO = {
    **dict.fromkeys(("yes", "y", "si", "s", "ja", "j", "present", "+"), "present"),
    **dict.fromkeys(("no", "n", "nein", "absent"), "none"),
}


@dataclass(frozen=True)
class Fault:
    """Why nothing of a row, or none of its counts by one method, can be taken."""

    reason: str
    column: Column


@dataclass(frozen=True, kw_only=True)
class Context:
    """A row without its counts; `fault` is the first thing that keeps all of it out."""

    row: int
    on: dt.date | None
    house: str | None
    unit: str | None
    unit_raw: str
    crop_raw: str | None
    scout: str | None
    plant: str | None
    plants: int | None
    items: int | None
    item: str | None
    cards: int | None
    station: str | None
    time: str | None
    method: str | None
    hung_on: dt.date | None
    squares_counted: int | None
    squares_printed: int | None
    fault: Fault | None
    plants_fault: Fault | None
    squares_fault: Fault | None

    @property
    def crop(self) -> str | None:
        """The crop of the tables that the row's crop is, or the word itself where none is."""
        return crop_of(self.crop_raw) or self.crop_raw if self.crop_raw else None

    def fault_of(self, method: str) -> Fault | None:
        """What keeps a count by a method out, apart from the count itself."""
        return self.fault or (self.squares_fault if method in HUNG else self.plants_fault)

    def lacks(self, method: str) -> tuple[str, ...]:
        """What the file never says about a count by a method."""
        if method in HUNG:
            cards = self.station or self.cards
            said: dict[str, object] = {"exposure": self.hung_on, "number_of_cards": cards}
        else:
            said = {"plants_inspected": self.plants or self.items}
        return tuple(what for what, value in said.items() if value is None)


@dataclass(frozen=True)
class Ways:
    """How a file writes: what holds for all of its tables.

    Parameters
    ----------
    order : of day and month; `remark_order` is that of remarks where dates leave it open.
    near : the median year of its dates; `year` that of dates which have none.
    spelling : each place as it is written most often.
    """

    habit: Habit
    order: Order | None
    remark_order: Order | None
    near: int | None
    year: int | None
    from_1904: bool
    decimal: str
    spelling: Mapping[str, str]


def ways_of(
    sheets: Sequence[Sheet], answers: Mapping[str, str], year: int | None, from_1904: bool
) -> Ways:
    """How a file writes its dates, numbers and places, from all of its tables."""

    def cells(*meanings: str) -> list[str]:
        return [c for sheet in sheets for meaning in meanings for c in sheet.cells(meaning)]

    dates = cells("date", "date_out")
    years = [y for s in sheets if (y := s.block.year or year)]
    habit_ = habit(dates, next(iter(years), None))
    order = habit_.order or order_of(answers.get("date_order", ""))
    return Ways(
        habit=habit_,
        order=order,
        remark_order=order or order_in(cells("remarks")),
        near=median_year(dates, median_low(years) if years else None, from_1904=from_1904),
        year=year,
        from_1904=from_1904,
        decimal=marks([*cells("mean", "climate"), *(c for s in sheets for c in s.mean_cells())]),
        spelling=_spelling([*cells("house"), *map(_place, cells("unit"))]),
    )


@dataclass
class Sheet:
    """A table with its layout, and how its file writes."""

    block: Block
    layout: Layout
    ways: Ways = field(init=False)
    has_methods: bool = field(init=False)
    week_shift: int = field(init=False)
    _contexts: dict[int, Context] = field(init=False, default_factory=dict)
    _last: tuple[object, Context | None] = field(init=False, default=(None, None))
    _yes_or_no: dict[int, Mapping[str, str]] = field(init=False, default_factory=dict)

    def learn(self, ways: Ways) -> None:
        """Know how the file writes, before any row is read."""
        self.ways = ways
        written = {place_key(c) for c in self.cells("method")} - {""}
        # one word in every row that is no method says nothing; two say that there are methods
        self.has_methods = len(written) > 1 or any(map(method_of, written))
        self.week_shift = self._usual_shift()

    @cached_property
    def _indices(self) -> Mapping[str, int]:
        return {c.meaning: c.index for c in reversed(self.layout.columns)}

    @cached_property
    def _says(self) -> Callable[[Sequence[str]], object]:
        """What of a row is neither a pest nor its count."""
        own = [c.index for c in self.layout.columns if c.tally is None and c.meaning not in COUNTED]
        return lambda row: [row[n] for n in own if n < len(row)]

    @cached_property
    def headed(self) -> list[str]:
        """The headings, for comparing a row with them."""
        return [tidy(h) for h in self.block.rows[0]]

    @cached_property
    def of_cards(self) -> bool:
        """Whether the table is of cards, by columns that only cards have and none of plants."""
        there = {c.meaning for c in self.layout.columns}
        plants = there & {"plant", "plants", "infested"}
        on_cards = any(c.tally and c.tally.method in CARDS for c in self.layout.columns)
        return (
            bool(there & {"date_out", "squares_counted", "exposure", "cards"})
            and not plants
            and not on_cards
        )

    def assumed(self) -> tuple[Assumed, ...]:
        """What settled the order of day and month, and what else was taken for granted of dates."""
        said, ways = [], self.ways
        if ways.habit.order and ways.habit.doubtful and (by := self._settling()):
            said.append(Assumed("date_order", ways.habit.order, by))
        if self.block.ditto:
            said.append(Assumed("ditto marks", "as the row above", self.block.ditto))
        if self.block.filled:
            said.append(
                Assumed("blank cells", "as the cell above", self.block.at(*self.block.filled))
            )
        if ways.decimal == ",":
            said.append(Assumed("decimal_mark", ways.decimal, None))
        for what, holds, value in (
            ("days kept as numbers", serial, "1904" if ways.from_1904 else "1900"),
            ("the day of a week without one", is_week, "Monday"),
        ):
            if found := self._first_date(holds):
                said.append(Assumed(what, value, found))
        return tuple(said)

    def _first_date(self, holds: Callable[[str], object]) -> At | None:
        """The first date cell of which something holds."""
        for meaning in ("date", "date_out"):
            column = self.layout.column(meaning)
            for number, row in self.numbered() if column else ():
                if column and holds(cell(row, column)):
                    return self.at(number, column)
        return None

    def _settling(self) -> At | None:
        """The first date that is a day in one order only."""
        return self._first_date(lambda text: habit([text], self.ways.year).order)

    def at(self, number: int, column: Column) -> At:
        """The place of a cell."""
        return self.block.at(number, column.index)

    def yes_or_no(self, column: Column) -> Mapping[str, str]:
        """What yes and no say in a column that holds nothing else; empty for any other column.

        Among counts "no" says nothing that is sure.
        """
        if column.index not in self._yes_or_no:
            words = {sign(cell(row, column)) for row in self.body()}
            words = {w for w in words if w and means(w) != "not_looked"}
            plain_ = words <= {*YES_OR_NO} and bool(words)
            self._yes_or_no[column.index] = YES_OR_NO if plain_ else {}
        return self._yes_or_no[column.index]

    def cells(self, meaning: str) -> list[str]:
        """The cells of a column below its heading; none where there is no such column."""
        column = self.layout.column(meaning)
        return [] if column is None else [cell(row, column) for row in self.body()]

    def mean_cells(self) -> Iterator[str]:
        """The cells of columns of means."""
        means_ = [c for c in self.layout.tallies if c.tally and c.tally.per]
        return (cell(row, c) for c in means_ for row in self.body())

    def body(self) -> Sequence[Sequence[str]]:
        """The rows below the headings."""
        return self.block.rows[1:]

    def numbered(self) -> Iterable[tuple[int, Sequence[str]]]:
        """The rows below the headings with their record numbers."""
        return enumerate(self.body(), start=2)

    def text(self, row: Sequence[str], meaning: str) -> str | None:
        """A cell without outer spaces; none where it is empty or there is no such column."""
        index = self._indices.get(meaning)
        return None if index is None or index >= len(row) else tidy(row[index]) or None

    def place(self, row: Sequence[str], meaning: str) -> str | None:
        """The name of a house or unit as the file spells it most often."""
        found = self.text(row, meaning)
        return None if found is None else self.ways.spelling[place_key(_place(found))]

    def context(self, number: int, row: Sequence[str]) -> Context:
        """What a row says besides its counts; worked out once."""
        if number not in self._contexts:
            said = self._says(row)
            # the counts of one plant stand together and share all of it
            shared = said == self._last[0] and self._last[1]
            context = replace(shared, row=number) if shared else self._context(number, row)
            self._contexts[number], self._last = context, (said, context)
        return self._contexts[number]

    def _context(self, number: int, row: Sequence[str]) -> Context:
        on, late = self._days(row)
        hung_on, early = self._hung(row, on)
        house, unit = self.place(row, "house"), self.place(row, "unit")
        method, odd = self._method(row)
        if method in (None, "card"):
            method = self.block.method or method
        plants, plants_fault = self._plants(row)
        items, item, items_fault = self._items(row)
        cards, cards_fault = self._cards(row)
        counted, printed, squares_fault = self._squares(row)
        return Context(
            row=number,
            on=on,
            house=house,
            unit=f"{house} / {unit}" if house and unit else unit,
            unit_raw=cell(row, unit_column) if (unit_column := self.layout.column("unit")) else "",
            crop_raw=self.text(row, "crop"),
            scout=self.text(row, "scout"),
            plant=self._plant(row),
            plants=plants,
            items=items,
            item=item,
            cards=cards,
            time=self._time(row),
            station=self.text(row, "station"),
            method=method,
            hung_on=hung_on,
            squares_counted=counted,
            squares_printed=printed,
            fault=late or early or self._unplaced(unit) or self._unhoused(house) or odd,
            plants_fault=plants_fault or items_fault,
            squares_fault=squares_fault or cards_fault,
        )

    def day(self, raw: str) -> Day:
        """What a date cell says, in the ways of the file."""
        ways = self.ways
        year = self.block.year or ways.year
        return day(raw, ways.order, ways.near, year=year, from_1904=ways.from_1904)

    def _days(self, row: Sequence[str]) -> tuple[dt.date | None, Fault | None]:
        column = self.layout.column("date")
        if column is None:
            return None, None
        found = self.day(cell(row, column))
        if found.on is not None and self._in_another_week(row, found.on):
            return None, Fault("date_contradicts_week", column)
        return found.on, Fault(found.reason, column) if found.reason else None

    def _in_another_week(self, row: Sequence[str], on: dt.date) -> bool:
        """Whether the row's week number is another than that of its date."""
        written = self._week(row)
        return written is not None and (on.isocalendar().week + self.week_shift - written) % 52 != 0

    def _week(self, row: Sequence[str]) -> int | None:
        column = self.layout.column("week")
        found = WEEK.fullmatch(cell(row, column).strip()) if column else None
        return int(found[1]) if found else None

    def _usual_shift(self) -> int:
        """How far the file's week numbers run ahead of those of ISO 8601, in most of its rows."""
        column, shifts = self.layout.column("date"), Counter[int]()
        for row in self.body() if column else ():
            on = self.day(cell(row, column)).on if column else None
            written = self._week(row)
            if on is not None and written is not None:
                shifts[(written - on.isocalendar().week) % 52] += 1
        most = max(shifts.values(), default=None)
        return 0 if shifts[0] == most else next((s for s, n in shifts.items() if n == most), 0)

    def _hung(self, row: Sequence[str], on: dt.date | None) -> tuple[dt.date | None, Fault | None]:
        column, read_in = self.layout.column("date_out"), self.layout.column("date")
        exposed = self.layout.column("exposure")
        if column is None and exposed is not None and on is not None:
            days = whole(cell(row, exposed))
            return (on - dt.timedelta(days=days), None) if days else (None, None)
        if column is None or read_in is None or not cell(row, column).strip():
            return None, None
        found = self.day(cell(row, column))
        if found.reason:
            return None, Fault(found.reason, column)
        if on is None or found.on is None or found.on < on:
            return found.on, None
        reversed_ = found.on > on
        return None, Fault("dates_reversed" if reversed_ else "zero_exposure", read_in)

    def _unplaced(self, unit: str | None) -> Fault | None:
        column = self.layout.column("unit") or self.layout.column("date")
        return Fault("missing_unit", column) if unit is None and column else None

    def _unhoused(self, house: str | None) -> Fault | None:
        """A row without its house, in a table whose rows mostly have one: which is not said."""
        column = self.layout.column("house")
        if column is None or house is not None or not self._mostly_housed:
            return None
        return Fault("missing_unit", column)

    @cached_property
    def _mostly_housed(self) -> bool:
        filled = sum(1 for c in self.cells("house") if c.strip())
        units = sum(1 for c in self.cells("unit") if c.strip())
        return filled * 4 >= units

    def _method(self, row: Sequence[str]) -> tuple[str | None, Fault | None]:
        """The method a long row names; a card whose colour nobody says is yellow, and said so."""
        column = self.layout.column("method")
        written = self.text(row, "method")
        if self.has_methods and column and written:
            method = method_of(written)
            return method, None if method else Fault("unreadable_text", column)
        return "card" if self.text(row, "station") or self.of_cards else None, None

    def _plants(self, row: Sequence[str]) -> tuple[int | None, Fault | None]:
        column = self.layout.column("plants")
        if column is None:
            plant = self.text(row, "plant")
            return (1 if plant and not SEVERAL.fullmatch(plant) else None), None
        number = whole(cell(row, column))
        return number, None if number else Fault("missing_effort", column)

    def _items(self, row: Sequence[str]) -> tuple[int | None, str | None, Fault | None]:
        """How many leaves or flowers were looked at, and which of the two."""
        for meaning, item in ITEMS.items():
            if column := self.layout.column(meaning):
                number = whole(cell(row, column))
                return number, item, None if number else Fault("missing_effort", column)
        return None, None, None

    def _time(self, row: Sequence[str]) -> str | None:
        """The time of day, in a column of its own or behind the day."""
        apart = self.text(row, "time")
        return time_in(apart) if apart else clock_in(self.text(row, "date") or "")

    def _plant(self, row: Sequence[str]) -> str | None:
        """The plant, with the row of plants it stands in where the sheet says that too."""
        plant, line = self.text(row, "plant"), self.text(row, "row")
        return f"{line} / {plant}" if plant and line else plant

    def _cards(self, row: Sequence[str]) -> tuple[int | None, Fault | None]:
        """How many cards a row adds up or averages."""
        column = self.layout.column("cards")
        if column is None:
            return None, None
        number = whole(cell(row, column))
        return number, None if number else Fault("missing_effort", column)

    def _squares(self, row: Sequence[str]) -> tuple[int | None, int | None, Fault | None]:
        column, of = self.layout.column("squares_counted"), self.layout.column("squares_printed")
        if column is None:
            return None, None, None
        counted, printed = whole(cell(row, column)), whole(cell(row, of)) if of else None
        if found := SQUARES.fullmatch(plain(cell(row, column))):
            counted, printed = int(found[1]), int(found[2])
        if not counted:
            return None, printed, Fault("missing_effort", column)
        over = printed is not None and counted > printed
        return counted, printed, Fault("squares_over_printed", column) if over else None


def cell(row: Sequence[str], column: Column) -> str:
    """The cell of a column as written."""
    return cell_at(row, column.index)


@lru_cache(MANY)
def whole(text: str) -> int | None:
    """A whole number of plants or squares; none for an empty cell or another text."""
    found = plain(text)
    return int(re.split("[.,]", found)[0]) if WHOLE_NUMBER.fullmatch(found) else None


@lru_cache(MANY)
def place_key(name: str) -> str:
    """A house or unit for comparing: without case and doubled spaces."""
    return tidy(name).casefold()


def _place(text: str) -> str:
    return unit_with_old_name(text)[0]


def _spelling(names: Iterable[str]) -> dict[str, str]:
    """Each name as written most often; the first of equals."""
    written: dict[str, Counter[str]] = {}
    for name in map(tidy, names):
        written.setdefault(place_key(name), Counter())[name] += 1
    return {key: counts.most_common(1)[0][0] for key, counts in written.items()}
