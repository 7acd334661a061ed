"""A logger file: temperatures and humidities of one sensor or several, in columns or in rows."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise
from zoneinfo import ZoneInfo, available_timezones

from benchwalk.records.sheets.found import Assumed, At, Duplicate, Question, Reject, Skip
from benchwalk.records.sheets.headings import heading_key, listed
from benchwalk.records.sheets.lists.cells import Fault, fault_in, offset_of, text_of
from benchwalk.records.sheets.lists.found import ClimateRow, Finding, Sensor
from benchwalk.records.sheets.lists.headings import MEASURED, unit_in, words_of
from benchwalk.records.sheets.lists.layout import Column
from benchwalk.records.sheets.lists.measures import degrees_c
from benchwalk.records.sheets.lists.repeats import without_repeats
from benchwalk.records.sheets.lists.series import (
    by_sensor,
    gaps,
    implausible,
    length,
    of_sensors,
    stuck,
    with_jumps,
)
from benchwalk.records.sheets.lists.sheet import Gathered, ListSheet, Row
from benchwalk.records.sheets.lists.stamps import (
    CLOCK,
    STANDARD,
    WALL,
    Stamp,
    newest_first,
    settled,
    stamp_of,
    usual_step,
)

DAY_S = 86_400


@dataclass
class ClimateFile:
    """One logger file while it is read; ``zone`` is that of the operation."""

    sheet: ListSheet
    zone: dt.tzinfo
    gathered: Gathered = field(init=False)
    findings: list[Finding] = field(default_factory=list)
    repeats: tuple[Duplicate, ...] = ()
    newest_first: bool = False

    def __post_init__(self) -> None:
        self.gathered = Gathered(self.sheet)
        unit = unit_in(self.above.get("unit_of_temperature", ""), "temp") or self._unit_beside()
        if unit is not None:
            self.sheet.layout = self.sheet.layout.with_unit_of_temperature(unit)

    def _unit_beside(self) -> str | None:
        """The one unit that other temperatures of the file have in their headings."""
        columns = [c for c in self.sheet.layout.columns if c.meaning.startswith("temp")]
        units = {c.unit for c in columns if c.unit}
        return units.pop() if len(units) == 1 else None

    @cached_property
    def above(self) -> Mapping[str, str]:
        """What the lines above the headings say: meaning -> value."""
        said: dict[str, str] = {}
        for row in self.sheet.table.rows[: self.sheet.layout.row - 1]:
            for key, value in _pairs(row):
                meaning = words_of("climate").get(heading_key(key)) or listed(key)
                if meaning is not None and (text := text_of(value)):
                    said.setdefault(meaning, text)
        return said

    @cached_property
    def offset(self) -> dt.tzinfo | None:
        """The zone that the file says for all of its times; None where they are local."""
        column = next((c for c in self._times() if c.unit), None)
        said = (column.unit if column else None) or self.above.get("zone", "")
        if said in available_timezones():
            return ZoneInfo(said)
        return offset_of(said)

    def _times(self) -> list[Column]:
        return [c for c in self.sheet.layout.columns if c.meaning in ("stamp", "date", "time")]

    def read(self) -> None:
        """Every cell of a sensor in one outcome; what is odd about the series is found."""
        self.gathered.skip_above()
        rows: dict[int, Row] = {}
        stamps: list[Stamp] = []
        for row in self.sheet.rows():
            if why := row.blank():
                self.gathered.skips.append(Skip(At(row.number), why))
            elif stamp := self._stamp(row):
                rows[row.number] = row
                stamps.append(stamp)
        for stamp in self._settle(stamps):
            self._values(rows[stamp.row], stamp)
        self._look_over()

    def _stamp(self, row: Row) -> Stamp | None:
        try:
            return stamp_of(row, row.text("sensor") or "", self.offset)
        except Fault as fault:
            self.gathered.reject(row, fault)
            return None

    def _settle(self, stamps: Sequence[Stamp]) -> list[Stamp]:
        """Instants; where the clock of the file is in doubt, nothing of it is taken before."""
        answer = self.sheet.questions.answer(CLOCK)
        self.newest_first = newest_first(stamps)
        found = settled(stamps, self.zone, answer, backwards=self.newest_first)
        doubtful = next((s for s in found if s.doubt), None)
        asked = doubtful is not None and answer not in (STANDARD, WALL)
        if doubtful is not None and asked:
            self._ask_clock(doubtful)
        for s in found:
            if asked or s.doubt:
                self._in_doubt(s, CLOCK if asked else None)
        self._told_apart(found)
        return [] if asked else [s for s in found if not s.doubt]

    def _told_apart(self, found: Sequence[Stamp]) -> None:
        """The nights on which the clocks went back, told by the order of the rows."""
        nights: dict[tuple[str, dt.date], list[Stamp]] = {}
        for s in found:
            if s.second:
                nights.setdefault((s.series, s.at.date()), []).append(s)
        for (series, _), stamps in nights.items():
            at = At(stamps[0].row, self._times()[0].heading)
            first, last = (min(i for s in stamps if (i := s.instant)), stamps[-1].instant)
            raw = f"{stamps[0].at:%H:%M}"
            self.findings.append(Finding("clock_back", at, series, first, last or first, raw))

    def _in_doubt(self, s: Stamp, question: str | None) -> None:
        at, raw = At(s.row, self._times()[0].heading), f"{s.at:%Y-%m-%d %H:%M}"
        reason = s.doubt or "clock_not_known"
        self.gathered.rejects.append(Reject(at, reason, raw, question=question))

    def _ask_clock(self, s: Stamp) -> None:
        self.sheet.questions.ask(
            Question(
                id=CLOCK,
                at=At(s.row, self._times()[0].heading),
                reason=str(s.doubt),
                question=f"{s.at:%Y-%m-%d %H:%M}: is the logger at standard time all year?",
                choices=(STANDARD, WALL),
                proposed=None,
            )
        )

    def _values(self, row: Row, stamp: Stamp) -> None:
        for label, columns in self._columns.items():
            try:
                self._reading(row, stamp, row.text("sensor") or label, columns)
            except Fault as fault:
                column = next(c for c in columns if c.meaning == fault.meaning)
                self.gathered.rejects.append(
                    Reject(
                        At(row.number, column.heading),
                        fault.reason,
                        row.of(column),
                        question=fault.question,
                    )
                )

    @cached_property
    def _columns(self) -> Mapping[str, list[Column]]:
        """The measured columns of each sensor, by the name in their headings."""
        held: dict[str, list[Column]] = {}
        for c in self.sheet.layout.columns:
            if c.meaning in MEASURED:
                held.setdefault(c.sensor or "", []).append(c)
        return held

    def _reading(self, row: Row, stamp: Stamp, sensor: str, columns: Sequence[Column]) -> None:
        values = {c.meaning: _value(row, c) for c in columns}
        at = At(row.number, columns[0].heading)
        if stamp.instant is None or all(v is None for v in values.values()):
            self.gathered.skips.append(Skip(at, "no reading"))
            return
        low, high, rh = (values.get(m) for m in ("temp_min", "temp_max", "rh"))
        if low is not None and high is not None and low > high:
            raise Fault("low_above_high", "temp_min")
        odd = implausible([values.get("temp"), low, high], rh)
        if odd:
            raw = ", ".join(row.of(c).strip() for c in columns)
            found = Finding("implausible", at, sensor, stamp.instant, stamp.instant, raw)
            self.findings.append(found)
        self.gathered.things.append(
            ClimateRow(
                at=at,
                sensor=sensor,
                instant=stamp.instant,
                span_s=DAY_S if stamp.whole_day else 0,
                temp_c=values.get("temp"),
                temp_min_c=low,
                temp_max_c=high,
                # the records hold no humidity outside 0 to 100; the file and the finding do
                rh_percent=rh if rh is None or 0 <= rh <= 100 else None,
                implausible=odd,
            )
        )

    def _look_over(self) -> None:
        """Repeats told apart; gaps, jumps, stuck sensors and steps back named."""
        rows = [t for t in self.gathered.things if isinstance(t, ClimateRow)]
        self.findings += _steps_back(rows[::-1] if self.newest_first else rows)
        once = without_repeats(rows, lambda r: (r.sensor, r.instant), lambda r: f"{r.instant}")
        self.repeats = once.duplicates
        self.gathered.rejects += once.rejects
        kept: list[ClimateRow] = []
        for series in of_sensors([r for r in once.things if isinstance(r, ClimateRow)]):
            marked, jumps = with_jumps(_spanned(series))
            self.findings += [*jumps, *gaps(marked), *stuck(marked)]
            kept += marked
        self.gathered.things = list(kept)
        self.findings = [self._local(f) for f in self.findings]

    def _local(self, found: Finding) -> Finding:
        since, until = (at.astimezone(self.zone) for at in (found.since, found.until))
        return replace(found, since=since, until=until)

    def sensors(self) -> tuple[Sensor, ...]:
        """The sensors of the file, and where it says that they hang."""
        names = dict.fromkeys(t.sensor for t in self.gathered.things if isinstance(t, ClimateRow))
        return tuple(self._sensor(name) for name in names)

    def _sensor(self, name: str) -> Sensor:
        code = name or self.above.get("sensor")
        house, unit = (self.above.get(m) or self._beside(name, m) for m in ("house", "unit"))
        return Sensor(name, code, house, unit)

    def _beside(self, name: str, meaning: str) -> str | None:
        """The house or unit in the rows of a sensor; a cell that cannot be read says neither."""
        for row in self.sheet.rows():
            text = text_of(row.raw(meaning))
            if text is None or fault_in(text):
                continue
            if text_of(row.raw("sensor")) in (name, None):
                return text
        return None

    def assumed(self) -> Iterator[Assumed]:
        """What the file leaves open and was taken for granted."""
        if self.offset is None:
            yield Assumed("time_zone", str(self.zone), None)
        if self.newest_first:
            yield Assumed("order", "newest first", None)


def _spanned(series: list[ClimateRow]) -> list[ClimateRow]:
    """Lows and highs are of a stretch of time: a day, or one usual step."""
    step = usual_step([r.instant for r in series])
    if step is None or all(r.temp_min_c is None and r.temp_max_c is None for r in series):
        return series
    seconds = int(step.total_seconds())
    return [r if r.span_s else replace(r, span_s=seconds) for r in series]


def _steps_back(rows: Sequence[ClimateRow]) -> Iterator[Finding]:
    """Places where a sensor's time runs backwards."""
    for series in by_sensor(rows):
        for before, after in pairwise(series):
            if after.instant < before.instant:
                raw = length(before.instant - after.instant)
                yield Finding(
                    "backwards", after.at, after.sensor, before.instant, after.instant, raw
                )


def _value(row: Row, column: Column) -> float | None:
    said = row.number_in(column)
    if said is None:
        return None
    return said[0] if column.meaning == "rh" else degrees_c(*said)


def _pairs(row: Sequence[str]) -> Iterator[tuple[str, str]]:
    """A key and a value: in one cell with a colon, or in two cells side by side."""
    for cell in row:
        key, mark, value = cell.partition(":")
        if mark:
            yield key, value
    for key, value in pairwise(row):
        yield re.sub(r":\s*$", "", key), value
