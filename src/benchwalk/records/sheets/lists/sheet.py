"""A list with its layout, and what holds for all of its rows; a row, and what its cells say."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from benchwalk.records.sheets.dates import Habit, Order, day, habit, median_year, order_of, parts
from benchwalk.records.sheets.found import Assumed, At, Question, Reject, Skip
from benchwalk.records.sheets.lists.cells import (
    Fault,
    decimal_of,
    fault_in,
    number_of,
    parted,
    text_of,
    word_of,
)
from benchwalk.records.sheets.lists.found import Thing
from benchwalk.records.sheets.lists.headings import QUANTITY, unit_in, units_of
from benchwalk.records.sheets.lists.layout import Column, ListLayout
from benchwalk.records.sheets.names import taxon_of
from benchwalk.records.sheets.page import Table, cell_at
from benchwalk.records.sheets.questions import Questions
from benchwalk.records.sheets.words import means

DAYS = ("date", "stamp", "planted_on", "ended_on", "phase_on", "opened_on", "closed_on")
DATE_ORDER = "date_order"
GROUPED = re.compile(r"[0-9]{1,3}([.,'])[0-9]{3}(?:\1[0-9]{3})*")


class ListSheet:
    """A table, its layout and what a person answered."""

    def __init__(
        self,
        table: Table,
        layout: ListLayout,
        answers: Mapping[str, str],
        own: Mapping[str, str],
    ) -> None:
        self.table, self.layout, self.own = table, layout, own
        self.questions = Questions(answers, own)
        days = [parted(c)[0] for m in self._day_meanings() for c in self.cells(m)]
        self.habit: Habit = habit(days)
        self.order: Order | None = self.habit.order or order_of(answers.get(DATE_ORDER, ""))
        self.year = median_year(days)
        self.thousands: Assumed | None = None
        self.decimal = decimal_of(c for m in QUANTITY for c in self.cells(m))
        self._units()

    def _day_meanings(self) -> tuple[str, ...]:
        climate = self.layout.kind == "climate" and self.layout.column("date") is None
        return (*DAYS, "time") if climate else DAYS

    def cells(self, meaning: str) -> list[str]:
        """The cells of all columns of a meaning, below the headings."""
        places = [c.index for c in self.layout.columns if c.meaning == meaning]
        return [
            row[i] for row in self.table.rows[self.layout.row :] for i in places if i < len(row)
        ]

    def rows(self) -> Iterable[Row]:
        """The rows below the headings."""
        for number, cells in enumerate(self.table.rows[self.layout.row :], self.layout.row + 1):
            yield Row(self, number, cells)

    def at(self, number: int, meaning: str) -> At:
        """The place of a meaning's cell in a row; the row alone where there is no such column."""
        column = self.layout.column(meaning)
        return At(number, column.heading if column else None)

    def _units(self) -> None:
        """Units that headings leave open, from the cells, else from a person."""
        for meaning, quantity in QUANTITY.items():
            columns = [c for c in self.layout.columns if c.meaning == meaning and not c.unit]
            said = self._said_unit(meaning) if columns else None
            answer = self.questions.answer(unit_question(meaning))
            if said is None and answer in units_of(quantity):
                said = answer
            if said is not None:
                self.layout = self.layout.with_unit(meaning, said)

    def _said_unit(self, meaning: str) -> str | None:
        """The one unit that all numbers of a column have behind them."""
        tails = {_tail(text) for c in self.cells(meaning) if (text := text_of(c)) is not None}
        found = {unit_in(tail, meaning) for tail in tails}
        return found.pop() if len(found) == 1 else None

    def ask_unit(self, column: Column) -> str:
        """Ask in which unit a column is; the id of the question."""
        quantity = QUANTITY[column.meaning]
        question = Question(
            id=unit_question(column.meaning),
            at=At(self.layout.row, column.heading),
            reason=f"unit_of_{quantity}",
            question=f"{column.heading!r}: in which unit is it?",
            choices=units_of(quantity),
            proposed=None,
        )
        self.questions.ask(question)
        return question.id

    def taxon(self, text: str, at: At) -> str | None:
        """The pest that a name stands for; asks where it is near to one; None where not known."""
        found = taxon_of(text, self.own)
        if found.key is None or not found.proposed:
            return found.key
        return self.questions.name(text, at).key

    def ask_date_order(self, at: At) -> str:
        """Ask for the order of day and month; the id of the question."""
        self.questions.ask(
            Question(
                id=DATE_ORDER,
                at=at,
                reason="ambiguous_date",
                question="Is the month or the day written first?",
                choices=("month first", "day first"),
                proposed=None,
            )
        )
        return DATE_ORDER

    def answered_day(self, meaning: str, at: At) -> tuple[dt.date | None, str]:
        """The day that a person gives for all rows that lack one, and the id of the question."""
        id_ = f"day:{meaning}"
        told = parts(self.questions.answer(id_) or "")
        if not isinstance(told, dt.date):
            question = f"{meaning}: since which day, where the list does not say?"
            self.questions.ask(Question(id_, at, f"no_{meaning}", question, (), None))
            return None, id_
        return told, id_

    def assumed(self) -> list[Assumed]:
        """What settled the order of day and month, and the decimal mark if it is a comma."""
        said = []
        if self.habit.order and self.habit.doubtful:
            said.append(Assumed(DATE_ORDER, self.habit.order, None))
        if self.decimal == ",":
            said.append(Assumed("decimal_mark", ",", None))
        if self.thousands is not None:
            said.append(self.thousands)
        return said


def unit_question(meaning: str) -> str:
    """The id of the question about a unit; all temperatures of a file are in one."""
    return "unit:temperature" if QUANTITY[meaning] == "temperature" else f"unit:{meaning}"


def _tail(text: str) -> str:
    try:
        return number_of(text, ".")[1] or number_of(text, ",")[1]
    except ValueError:
        return ""


@dataclass(frozen=True)
class Row:
    """A row below the headings. Each reader of a cell gives None where the cell says nothing."""

    sheet: ListSheet
    number: int
    cells: Sequence[str]

    def raw(self, meaning: str) -> str:
        """The cell as written; empty where there is no such column."""
        column = self.sheet.layout.column(meaning)
        return self.of(column) if column else ""

    def of(self, column: Column) -> str:
        """The cell of a column as written."""
        return cell_at(self.cells, column.index)

    def heading(self, meaning: str) -> str:
        """The heading of a meaning's column, as written."""
        column = self.sheet.layout.column(meaning)
        return column.heading.strip() if column else ""

    def text(self, meaning: str) -> str | None:
        """A name or words."""
        text = text_of(self.raw(meaning))
        if text is not None and (fault := fault_in(text)):
            raise Fault(fault, meaning)
        return text

    def needed(self, meaning: str) -> str:
        """A name or words without which the row says nothing."""
        text = self.text(meaning)
        if text is None:
            raise Fault(f"missing_{meaning}", meaning)
        return text

    def word(self, meaning: str, table: str) -> str | None:
        """One of the known words of a table."""
        text = self.text(meaning)
        if text is None:
            return None
        found = word_of(text, table)
        if found is None:
            raise Fault(f"unknown_{table}", meaning)
        return found

    def day(self, meaning: str) -> dt.date | None:
        """A day; its order of day and month is that of the whole file."""
        text = self.text(meaning)
        return None if text is None else self.day_in(text, meaning)

    def day_in(self, text: str, meaning: str) -> dt.date:
        """The day that a text says."""
        found = day(text, self.sheet.order, self.sheet.year)
        if found.on is None:
            open_ = found.reason == "ambiguous_date" and not self.sheet.habit.contradicted
            at = self.sheet.at(self.number, meaning)
            question = self.sheet.ask_date_order(at) if open_ else None
            raise Fault(found.reason or "impossible_date", meaning, question)
        return found.on

    def number_in(self, column: Column) -> tuple[float, str] | None:
        """A measured number and its unit, that of its column or the one behind it."""
        text = text_of(self.of(column))
        if text is None:
            return None
        value, tail = self._split(text, column.meaning)
        own = unit_in(tail, column.meaning) if tail else None
        if tail and own is None:
            raise Fault("unreadable_number", column.meaning)
        if own and column.unit and own != column.unit:
            raise Fault("unit_contradicts", column.meaning)
        unit = own or column.unit or _only(units_of(QUANTITY[column.meaning]))
        if unit is None:
            raise Fault("unit_not_said", column.meaning, self.sheet.ask_unit(column))
        return value, unit

    def measured(self, meaning: str, in_units: Mapping[str, float]) -> float | None:
        """The measured number of a meaning, in the unit that counts 1 in ``in_units``."""
        column = self.sheet.layout.column(meaning)
        said = None if column is None else self.number_in(column)
        return None if said is None else said[0] * in_units[said[1]]

    def above_zero(self, meaning: str, in_units: Mapping[str, float]) -> float | None:
        """A measured number that is above 0."""
        measured = self.measured(meaning, in_units)
        if measured is not None and measured <= 0:
            raise Fault("not_above_zero", meaning)
        return measured

    def whole(self, meaning: str) -> int | None:
        """A number of things, above 0."""
        text = self.text(meaning)
        if text is None:
            return None
        value, tail = self._thousands(text, meaning) or self._split(text, meaning)
        if tail or value != int(value):
            raise Fault("not_whole", meaning)
        if value < 1:
            raise Fault("not_above_zero", meaning)
        return int(value)

    def _thousands(self, text: str, meaning: str) -> tuple[float, str] | None:
        """A number in groups of three, in a column of whole numbers: said, not taken silently."""
        found = GROUPED.fullmatch(text)
        if found is None or found[1] == self.sheet.decimal:
            return None
        self.sheet.thousands = Assumed(
            "thousands_mark", found[1], self.sheet.at(self.number, meaning)
        )
        return float(text.replace(found[1], "")), ""

    def _split(self, text: str, meaning: str) -> tuple[float, str]:
        try:
            return number_of(text, self.sheet.decimal)
        except ValueError as reason:
            raise Fault(str(reason), meaning) from reason

    def blank(self) -> str | None:
        """Why the row is passed over without complaint; None where it says something."""
        filled = [c for c in self.cells if c.strip()]
        if not filled:
            return "blank"
        if [c.strip() for c in self.cells] == [
            c.strip() for c in self.sheet.table.rows[self.sheet.layout.row - 1]
        ]:
            return "headings again"
        return "totals" if means(filled[0]) == "totals" else None


def _only(units: tuple[str, ...]) -> str | None:
    return units[0] if len(units) == 1 else None


@dataclass
class Gathered:
    """The outcomes of the rows of one list, while it is read."""

    sheet: ListSheet
    things: list[Thing] = field(default_factory=list)
    rejects: list[Reject] = field(default_factory=list)
    skips: list[Skip] = field(default_factory=list)

    def take(self, read: Callable[[Row], Thing]) -> None:
        """Read every row: a thing, a reject with the faulty cell, or a skip."""
        self.skip_above()
        for row in self.sheet.rows():
            if why := row.blank():
                self.skips.append(Skip(At(row.number), why))
            else:
                self._take(row, read)

    def skip_above(self) -> None:
        """What stands above the headings is no row of the list."""
        for number in range(1, self.sheet.layout.row):
            self.skips.append(Skip(At(number), _above(self.sheet.table.rows[number - 1])))
        self.skips.append(Skip(At(self.sheet.layout.row), "headings"))

    def _take(self, row: Row, read: Callable[[Row], Thing]) -> None:
        try:
            if any(c.strip() for c in row.cells[len(self.sheet.layout.columns) :]):
                raise Fault("ragged_row", "")
            self.things.append(read(row))
        except Fault as fault:
            self.reject(row, fault)

    def reject(self, row: Row, fault: Fault) -> None:
        """Put a row aside for a person."""
        at, raw = self.sheet.at(row.number, fault.meaning), row.raw(fault.meaning)
        self.rejects.append(Reject(at, fault.reason, raw, question=fault.question))


def _above(row: Sequence[str]) -> str:
    return "title" if any(c.strip() for c in row) else "blank"
