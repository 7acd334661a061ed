"""A record of treatments: when, where, what, by whom; the day alone where no time is given."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from benchwalk.records.sheets.found import At, Question
from benchwalk.records.sheets.lists.cells import Fault, clock_of, offset_of, parted, word_of
from benchwalk.records.sheets.lists.clock import instant, shown, wall
from benchwalk.records.sheets.lists.found import TreatmentRow
from benchwalk.records.sheets.lists.measures import VOLUME_ML
from benchwalk.records.sheets.lists.sheet import Row
from benchwalk.records.sheets.lists.substances import (
    Substance,
    agreed_active,
    near_active,
    several_in,
    substance_of,
)
from benchwalk.records.sheets.names import REFUSED
from benchwalk.records.sheets.words import fold, tidy

NOTED = ("rate", "amount", "remarks")  # kept as text, under the words of their headings
USUAL = "spray"  # own choice: what a treatment is where neither its kind nor its material says


@dataclass(frozen=True)
class Treatments:
    """Reads the rows of a record of treatments; times without an offset are of ``zone``."""

    zone: dt.tzinfo

    def __call__(self, row: Row) -> TreatmentRow:
        """What one row says of a treatment; raises :class:`Fault` where it cannot be taken."""
        on, started = self._start(row)
        what, known = _material(row)
        house, units = row.text("house"), row.text("unit")
        if house is None and units is None:
            raise Fault("missing_unit", "unit")
        target, target_words = _target(row)
        kind = _kind(row, known)
        return TreatmentRow(
            at=At(row.number),
            on=on,
            started=started,
            ended=self._end(row, on, started),
            house=house,
            units=None if units is None or word_of(units, "everywhere") else units,
            kind=kind or USUAL,
            kind_assumed=kind is None,
            what=what,
            active=known.active if known else None,
            moa_group=_moa_group(row),
            water_ml=_water(row),
            target=target,
            applicator=row.text("applicator"),
            note=_note(row, target_words),
        )

    def _start(self, row: Row) -> tuple[dt.date, dt.datetime | None]:
        """The day, and the time where there is one beside it or behind it."""
        text = row.text("date")
        if text is None:
            raise Fault("missing_treatment_day", "date")
        day_text, clock, offset = parted(text)
        on = row.day_in(day_text, "date")
        clock_text = row.text("started")
        if clock_text is not None:
            return on, self._instant(row, on, clock_text, "started")
        return on, None if clock is None else self._at(on, clock, offset, "date")

    def _end(self, row: Row, on: dt.date, started: dt.datetime | None) -> dt.datetime | None:
        text = row.text("ended")
        if text is None or started is None:
            return None
        ended = self._instant(row, on, text, "ended")
        if ended < started:
            raise Fault("ends_before_start_time", "ended")
        return ended

    def _instant(self, row: Row, on: dt.date, text: str, meaning: str) -> dt.datetime:
        """A cell with a time of day, or with a day and a time."""
        if clock_of(text) is not None:
            return self._at(on, text, None, meaning)
        day_text, clock, offset = parted(text)
        if clock is None:
            raise Fault("unreadable_time", meaning)
        return self._at(row.day_in(day_text, meaning), clock, offset, meaning)

    def _at(self, on: dt.date, clock: str, offset: str | None, meaning: str) -> dt.datetime:
        since_midnight = clock_of(clock)
        if since_midnight is None:
            raise Fault("unreadable_time", meaning)
        at, zone = wall(on, since_midnight), offset_of(offset) if offset else None
        often = "once" if zone else shown(at, self.zone)
        if often != "once":
            raise Fault(f"time_shown_{often}", meaning)
        return instant(at, zone or self.zone)


def _material(row: Row) -> tuple[str, Substance | None]:
    """The words for what was put out, and what the reference knows by exactly that name."""
    active, material = row.text("active"), row.text("material")
    for text, meaning in ((active, "active"), (material, "material")):
        if text is not None and several_in(text):
            raise Fault("several_materials", meaning)
    known = next((s for t in (active, material) if t and (s := substance_of(t))), None)
    if known is None and active is not None:
        known = _near(row, active)
    what = " / ".join(dict.fromkeys(t for t in (material, active) if t is not None))
    if not what:
        what = row.text("kind") or ""
    if not what:
        raise Fault("missing_material", "material")
    return what, known


def _near(row: Row, text: str) -> Substance | None:
    """An active ingredient misspelt: the one name near it, once a person agrees."""
    id_, near = f"active:{tidy(text)}", near_active(text)
    questions = row.sheet.questions
    answer = questions.answer(id_)
    if answer is not None:
        return Substance(agreed, None) if (agreed := agreed_active(answer, near)) else None
    if near is None:
        return None
    at = row.sheet.at(row.number, "active")
    sentence = f"{text!r} is no active ingredient in the tables; is it {near}?"
    questions.ask(Question(id_, at, "misspelt_active", sentence, (near, REFUSED), near))
    return Substance(near, None)


def _kind(row: Row, known: Substance | None) -> str | None:
    """The kind as written, also in place of a material; living material is released."""
    said = row.word("kind", "treatment_kind")
    work = word_of(row.text("material") or "", "treatment_kind")
    return said or work or (known.kind if known else None)


def _moa_group(row: Row) -> str | None:
    """The group as written, with its scheme where the heading says it."""
    groups = []
    for meaning, scheme in (("irac", "IRAC"), ("frac", "FRAC"), ("moa_group", "")):
        text = row.text(meaning)
        if text is not None:
            written = scheme and not fold(text).startswith(fold(scheme))
            groups.append(f"{scheme} {text}" if written else text)
    return "; ".join(groups) or None


def _water(row: Row) -> int | None:
    water = row.above_zero("water", VOLUME_ML)
    return None if water is None else round(water)


def _target(row: Row) -> tuple[str | None, str | None]:
    """The pest aimed at, or its words where they are no known name."""
    text = row.text("target")
    if text is None:
        return None, None
    found = row.sheet.taxon(text, row.sheet.at(row.number, "target"))
    return found, None if found else text


def _note(row: Row, target_words: str | None) -> str | None:
    """What has no place of its own, in the words of the list: "Rate: 5 ml/L"."""
    said = [(m, row.text(m)) for m in NOTED]
    lines = [f"{row.heading(m)}: {text}" for m, text in said if text is not None]
    if target_words is not None:
        lines.append(f"{row.heading('target')}: {target_words}")
    return "\n".join(lines) or None


def treatment_key(t: TreatmentRow) -> tuple[object, ...]:
    """What two rows share that are about one treatment."""
    where = fold(t.house or ""), fold(t.units or "")
    return t.on, t.started, *where, t.kind, fold(t.active or t.what)


def treatment_name(t: TreatmentRow) -> str:
    """The words for a treatment."""
    return f"{t.what}, {t.on.isoformat()}"
