"""What is gathered from a sheet while its rows are read, and the rows that are only a remark."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import cached_property

from benchwalk.records.sheets import remarks
from benchwalk.records.sheets.context import Context, Sheet, cell, place_key
from benchwalk.records.sheets.counts import Taken
from benchwalk.records.sheets.dates import ORDERS, parts
from benchwalk.records.sheets.found import (
    Assumed,
    At,
    Count,
    Duplicate,
    Note,
    NothingSeen,
    NotLooked,
    Question,
    Reject,
    Rename,
    SheetRefused,
    Skip,
    Treatment,
)
from benchwalk.records.sheets.headings import CARDS
from benchwalk.records.sheets.layout import Column
from benchwalk.records.sheets.page import Row
from benchwalk.records.sheets.questions import Questions
from benchwalk.records.sheets.remarks import NO_DAY, heading_and_key
from benchwalk.records.sheets.values import Said, hostile, said
from benchwalk.records.sheets.words import means, tidy

# own choice: more counts than this are not held in 300 MB; ten years of a nursery are fewer
MOST_COUNTS = 150_000
SHORTEST_SENTENCE = 8
SEVERAL_CARDS = 2
DASH_CHOICES = ("none_found", "not_looked")
ASKED_ABOUT = {
    "dash_without_key": "dash",
    "ambiguous_date": "date_order",
    "several_cards": "cards",
}
CARD_CHOICES = ("sum", "mean")  # what a number of several cards is


class Gathering:
    """The outcomes of a sheet, filled row by row; `read` counts what had to end in one."""

    def __init__(
        self, sheets: Sequence[Sheet], answers: Mapping[str, str], own: Mapping[str, str]
    ) -> None:
        self.sheets = sheets
        self.sheet = sheets[0]
        self.questions = Questions(answers, own)
        self.key = remarks.kept_key(answers)
        self.read = 0
        self.records: list[Count] = []
        self.nothing_seen: list[NothingSeen] = []
        self.not_looked: list[NotLooked] = []
        self.rejects: list[Reject] = []
        self.duplicates: list[Duplicate] = []
        self.treatments: list[Treatment] = []
        self.renames: list[Rename] = []
        self.notes: list[Note] = []
        self.skipped: list[Skip] = []
        self._skipped_at: set[At] = set()
        self.assumed: dict[str, Assumed] = {}

    def refuse_too_many(self) -> None:
        """Refuse a file of more counts than can be held.

        Raises
        ------
        SheetRefused
        """
        if len(self.records) + len(self.not_looked) + len(self.rejects) > MOST_COUNTS:
            raise SheetRefused(
                "file_too_large_unpacked",
                f"{self.sheet.block.file} holds more than {MOST_COUNTS:,} counts; divide it by"
                " years and import one after the other",
            )

    def assume(self, what: str, value: str, because: At | None) -> None:
        """Say what is assumed, once."""
        self.assumed.setdefault(what, Assumed(what, value, because))

    def skip(self, place: At, why: str) -> None:
        """A row or cell without a record and without a complaint; a row of two tables once."""
        if place not in self._skipped_at:
            self._skipped_at.add(place)
            self.read += 1
            self.skipped.append(Skip(place, why))

    def reject(
        self,
        place: At,
        reason: str,
        raw: str,
        because: Column | None = None,
        question: str | None = None,
    ) -> None:
        """A cell for a person to look at; `because` is the column at fault when it is another."""
        number = place.line[1] if place.line else place.row
        fault = None if because is None else self.sheet.at(number, because)
        question = ASKED_ABOUT.get(reason, question) or self._about_blanks(reason, because)
        self.rejects.append(Reject(place, reason, raw, because=fault, question=question))
        if reason == "dash_without_key":
            self._ask_dash(place)
        elif reason == "several_cards" and self.questions.answer("cards") is None:
            self._ask_cards(place)

    def _about_blanks(self, reason: str, column: Column | None) -> str | None:
        """The question about the blank cells of a column, where one is open."""
        if column is None or not reason.startswith("missing"):
            return None
        open_ = self.sheet.block.open_blanks
        ids = [b.question for b in open_ if b.spot[1] == column.index]
        return next((id_ for id_ in ids if self.questions.answer(id_) is None), None)

    def said(self, raw: str, column: Column) -> Said:
        """What a count cell says, by the file's own key where it has one."""
        own = heading_and_key(column.heading)[1]
        key = {**self.key, **own} if own else self.key
        if words := self.sheet.yes_or_no(column):
            key = {**words, **key}
            self.assume("yes and no", "present, none", self.sheet.at(1, column))
        return said(raw, decimal=self.sheet.ways.decimal, key=key)

    def _ask_dash(self, place: At) -> None:
        self.questions.ask(
            Question(
                id="dash",
                at=place,
                reason="dash_without_key",
                question="What does '-' mean in a count: none found, or not looked?",
                choices=DASH_CHOICES,
                proposed=None,
            )
        )

    def of_cards(self, taken: Taken, context: Context) -> Taken:
        """A number of several cards: their mean, once a person says that it is, or is their sum.

        It is no count of one card, and which of the two it is the sheet does not say.
        """
        cards = context.cards
        if taken.method not in CARDS or context.station or not cards or cards < SEVERAL_CARDS:
            return taken
        if taken.how == "density" or taken.reason is not None or taken.value is None:
            return taken
        if taken.how == "counted" and taken.value == 0:
            return replace(taken, how="density", value=0.0, of=cards)
        answer = self.questions.answer("cards")
        if taken.how != "counted" or answer not in CARD_CHOICES:
            return replace(taken, reason="several_cards")
        mean = taken.value / cards if answer == "sum" else float(taken.value)
        return replace(taken, how="density", value=mean, of=cards)

    def _ask_cards(self, place: At) -> None:
        self.questions.ask(
            Question(
                id="cards",
                at=place,
                reason="several_cards",
                question="Is a number of several cards their sum, or their mean?",
                choices=CARD_CHOICES,
                proposed=None,
            )
        )

    def ask_date_order(self) -> None:
        """One question for the whole file, while dates stand in it that could be either."""
        refused = [r for r in self.rejects if r.reason == "ambiguous_date"]
        if refused:
            contradicted = self.sheet.ways.habit.contradicted
            both = " The column shows both habits." if contradicted else ""
            self.questions.ask(
                Question(
                    id="date_order",
                    at=refused[0].because or refused[0].at,
                    reason="ambiguous_date",
                    question=f"Is the month or the day written first?{both}",
                    choices=tuple(o.replace(" ", "_") for o in ORDERS),
                    proposed=None,
                )
            )

    def learn_keys(self, rows: Iterable[Row]) -> None:
        """What the file itself says of its signs, in rows that hold nothing else."""
        for row in rows:
            filled = [c for c in row if c.strip()]
            text = _as_key(filled)
            if text is not None:
                self.key = {**dict(remarks.keys_in(text)), **self.key}

    def took_whole(self, number: int, row: Sequence[str]) -> bool:
        """Take a row that is one remark (or too long for its headings) as a whole."""
        block = self.sheet.block
        if block.turned:
            return False
        place = block.row_at(number)
        if any(c.strip() for c in row[len(block.rows[0]) :]):
            self.read += 1
            self.reject(place, "ragged_row", block.delimiter.join(block.written(number)))
            return True
        if sum(1 for c in row if c.strip()) > 2 + len(block.added):
            return False
        own = (c for c in self.sheet.layout.columns if c.index not in block.added)
        filled = [c for c in own if cell(row, c).strip()]
        if len(filled) > 2:
            return False
        text = _as_key([tidy(cell(row, c)) for c in filled])
        if text is not None and list(remarks.keys_in(text)):
            self.skip(place, "key of signs")
            return True
        return len(filled) == 1 and self._only_remark(number, filled[0], tidy(cell(row, filled[0])))

    def _only_remark(self, number: int, column: Column, text: str) -> bool:
        if column.meaning not in ("remarks", "date", "house", "unit"):
            return False
        if parts(text) is not None or self.sheet.day(text).on is not None:
            return False
        if column.meaning in ("house", "unit") and place_key(text) in self._walked_often:
            return False
        if self._rename(self.sheet.at(number, column), text, self._last_day(), None):
            self.skip(self.sheet.block.row_at(number), "remark about a rename")
        else:
            self.stands_alone(self.sheet.at(number, column), text)
        return True

    @cached_property
    def _walked_often(self) -> frozenset[str]:
        """Places that name more than one row: no remark does."""
        rows: dict[str, set[tuple[str | None, int]]] = {}
        for sheet in self.sheets:
            columns = [c for m in ("house", "unit") if (c := sheet.layout.column(m))]
            columns = [c for c in columns if c.index not in sheet.block.added]
            for number, row in sheet.numbered() if columns and not sheet.block.turned else ():
                place = sheet.block.page.name, sheet.block.lines[number - 1]
                for c in columns:
                    rows.setdefault(place_key(cell(row, c)), set()).add(place)
        return frozenset(name for name, places in rows.items() if name and len(places) > 1)

    def stands_alone(self, place: At, text: str) -> None:
        """A text outside every table, or in a row of nothing else."""
        self.read += 1
        self.notes.append(Note(place, tidy(text), None, None, None, hostile(text)))

    def _rename(self, place: At, text: str, walk: dt.date | None, unit: str | None) -> bool:
        """Take the rename that a text states of units of the file; "this" is the row's unit."""
        stated = remarks.rename_in(text, walk, self.sheet.ways.remark_order)
        known = self.sheet.ways.spelling
        if stated is None:
            return False
        new = unit if unit and remarks.is_this(stated.new) else stated.new
        pair = [known.get(place_key(name)) for name in (stated.old, new)]
        if pair[0] is None or pair[1] is None or pair[0] == pair[1]:
            return False
        self.renames.append(Rename(old=pair[0], new=pair[1], on=stated.on, at=place, stated=True))
        return True

    def renamed_by(self, place: At, text: str) -> None:
        """Take a rename that a text outside every table states of units of the file."""
        if len(text) > SHORTEST_SENTENCE:
            self._rename(place, tidy(text), self._last_day(), None)

    @staticmethod
    def key_of_signs(text: str) -> bool:
        """Whether a text only says what signs mean."""
        return bool(list(remarks.keys_in(text)))

    def _last_day(self) -> dt.date | None:
        days = [r.on for r in self.records]
        return max(days, default=None)

    def remark(self, context: Context, column: Column, raw: str) -> None:
        """A remark beside counts: treatments, an incomplete one, or a note."""
        self.read += 1
        if not self.treated(context, column, raw):
            place = self.sheet.at(context.row, column)
            unit = self.sheet.place(self.sheet.block.rows[context.row - 1], "unit")
            self._rename(place, tidy(raw), context.on, unit)
            self.notes.append(
                Note(
                    at=place,
                    text=tidy(raw),
                    on=context.on,
                    house=context.house,
                    unit=context.unit,
                    hostile=hostile(raw),
                )
            )

    def treated(self, context: Context, column: Column, raw: str, *, alone: bool = False) -> bool:
        """Take the treatments of a remark; false where it tells of none.

        In a row of its own (`alone`) a treatment has the day of the row; beside counts that day is
        the walk's, and a treatment without a day is asked about.
        """
        done = remarks.treatments(raw, context.on, self.sheet.ways.remark_order)
        place = self.sheet.at(context.row, column)
        units = () if context.unit is None else (context.unit,)
        if done is None:
            self.reject(place, "treatment_incomplete", raw)
            return True
        if done and not units and not any(d.everywhere for d in done):
            self.reject(place, "missing_unit", raw, self.sheet.layout.column("unit"))
            return True
        if context.fault and context.on is None and any(d.on is None for d in done):
            self.reject(place, context.fault.reason, raw, context.fault.column)
            return True
        own_day = context.on if alone else None
        taken = [self._treatment(d, context, place, units, raw, own_day) for d in done]
        self.treatments += taken
        return bool(taken)

    def _treatment(
        self,
        done: remarks.Done,
        context: Context,
        place: At,
        units: tuple[str, ...],
        raw: str,
        own_day: dt.date | None,
    ) -> Treatment:
        everywhere = done.everywhere or any(map(remarks.is_everywhere, units))
        if self.sheet.block.turned and done.on == context.on and done.inferred == NO_DAY:
            # a column is a week: which of its days it was is not said
            done, week_of = replace(done, on=None, inferred=None), context.on
        else:
            week_of = None
        stands, written = True, done.inferred is None or done.on == own_day
        if not written and done.on and context.on:
            before = done.on - dt.timedelta(days=7) if done.on > context.on else None
            other = before.isoformat() if before else None
            stands = self.questions.day(place, tidy(raw), done.on.isoformat(), other)
        on = done.on if stands else self._answered_day(place)
        return Treatment(
            at=place,
            on=on,
            house=context.house,
            units=self._everywhere(context) if everywhere else units,
            raw=tidy(raw),
            kind=done.kind,
            what=done.what,
            active=done.active,
            week_of=week_of,
            inferred=done.inferred if stands and not written else None,
            lacks=() if on else ("date",),
        )

    def _answered_day(self, place: At) -> dt.date | None:
        found = parts(self.questions.answer(f"day:{place.cell or place.row}") or "")
        return found if isinstance(found, dt.date) else None

    def _everywhere(self, context: Context) -> tuple[str, ...]:
        """Every unit of the row's house, in the order of the file."""
        return tuple(unit for unit, house in self.units().items() if house == context.house)

    def units(self) -> dict[str, str | None]:
        """Every unit of the tables, in the order of the file, with its house."""
        contexts = (s.context(n, row) for s in self.sheets for n, row in s.numbered())
        return {c.unit: c.house for c in contexts if c.unit and not remarks.is_everywhere(c.unit)}

    def clean(self, raw: str) -> bool:
        """Whether a remark only says that nothing was found."""
        return means(raw) in ("clean", "zero")


def _as_key(filled: Sequence[str]) -> str | None:
    """A row of one cell, or two, as it could say what a sign means; none for any other.

    A name and a number are a place and its count: "B" and "4" is no key.
    """
    if len(filled) > 2:
        return None
    if len(filled) == 2 and filled[1].strip().isdecimal() and any(map(str.isalnum, filled[0])):
        return None
    return " = ".join(filled)
