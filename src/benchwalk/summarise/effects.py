"""What changed after each treatment, against the last count before it.

This is a change against before, not against what was expected without the treatment: pests that
were growing hide some of an effect, pests that were going anyway look like one.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np

from benchwalk import reference
from benchwalk.records import queries
from benchwalk.science import density
from benchwalk.summarise.dispersion import learned
from benchwalk.summarise.gathered import Gathered
from benchwalk.summarise.series import Key, Series

LEVEL = 0.95  # of the interval of one treatment: at less, a spray of nothing too often "works"
FELL = 30.0  # [% fewer] the lower end of what fell for certain; own rule of this program
HALF = 50.0  # [% fewer] an upper end under this is no success; own rule of this program
BEFORE_DAYS, AFTER_DAYS = 14, 28  # how old a count before may be, how late one after; own choice
NAN = float("nan")


@dataclass(frozen=True)
class Effect:
    """A treatment and one stage of its pest, counted before and after.

    Attributes
    ----------
    fewer_low, fewer_high : ends of the interval [% fewer than before]; less than 0 is more. NaN
        where `word` says why there is none.
    word : fell, not_fallen, cannot_tell; none_before (nothing was there to fall), no_before,
        not_yet (no count after it so far), not_compared (no interval).
    among : other treatments against the pest between the two counts.
    check_on : the first day on which looking again says something.
    """

    put: queries.Put
    on: dt.date
    key: Key
    before_on: dt.date | None
    after_on: dt.date | None
    fewer_low: float
    fewer_high: float
    word: str
    among: int
    check_on: dt.date


def effects(
    known: Gathered,
    sample: Sequence[Series],
    put: Sequence[queries.Put],
    walks: Sequence[queries.Called],
) -> Iterator[Effect]:
    """One effect for each treatment and pest that it was against, the newest treatment first."""
    zone = ZoneInfo(known.zone)
    for p in sorted(put, key=lambda p: p.at, reverse=True):
        for series in _counted(known, sample, p):
            yield _effect(known, p, p.at.astimezone(zone).date(), series, sample, put, walks)


def _counted(known: Gathered, sample: Sequence[Series], p: queries.Put) -> list[list[Series]]:
    """Of each pest that a treatment was against: the stage and method with the most counted."""
    if p.against is None:
        return []
    here = set(known.unit_line(known.units[0].id))
    by_key: dict[tuple[str, str, str], list[Series]] = {}
    for s in sorted(sample, key=lambda s: s.on):
        related = p.against in known.taxon_line(s.key.taxon)
        if related and s.key.unit_id in here and s.counts is not None:
            by_key.setdefault((s.key.taxon, s.key.stage, s.key.method), []).append(s)
    most: dict[str, list[Series]] = {}
    for (taxon, _, _), series in by_key.items():
        if taxon not in most or _individuals(series) > _individuals(most[taxon]):
            most[taxon] = series
    return list(most.values())


def _individuals(series: Sequence[Series]) -> int:
    return sum(s.total for s in series if s.total is not None)


def _effect(
    known: Gathered,
    p: queries.Put,
    on: dt.date,
    series: Sequence[Series],
    sample: Sequence[Series],
    put: Sequence[queries.Put],
    walks: Sequence[queries.Called],
) -> Effect:
    before, after = _last_before(p, on, series, walks), _first_after(p, on, series)
    low, high, word = _fewer(known, before, after, sample)
    return Effect(
        put=p,
        on=on,
        key=series[-1].key,
        before_on=None if before is None else before.on,
        after_on=None if after is None else after.on,
        fewer_low=low,
        fewer_high=high,
        word=word,
        among=_among(p, put, before, after, ZoneInfo(known.zone)),
        check_on=on + dt.timedelta(days=_works_after(p)),
    )


def _last_before(
    p: queries.Put, on: dt.date, series: Sequence[Series], walks: Sequence[queries.Called]
) -> Series | None:
    """The newest count that was made before the treatment began, also on its own day."""
    same_day = any(w.walk_on == on and w.ended_at is not None and w.ended_at <= p.at for w in walks)
    earliest = on - dt.timedelta(days=BEFORE_DAYS)
    held = [s for s in series if earliest <= s.on < on or (s.on == on and same_day)]
    return held[-1] if held else None


def _first_after(p: queries.Put, on: dt.date, series: Sequence[Series]) -> Series | None:
    soonest = on + dt.timedelta(days=_works_after(p))
    latest = on + dt.timedelta(days=AFTER_DAYS)
    return next((s for s in series if soonest <= s.on <= latest), None)


def _works_after(p: queries.Put) -> int:
    """Days until looking again says something, as a rule of practice has it [days]."""
    if p.kind == "release":
        low = reference.practice("recheck_release").low
    elif p.effect == "growth_regulator":
        low = reference.practice("recheck_growth_regulator").low
    elif p.kind in ("spray", "drench", "fog"):
        low = reference.practice("recheck_contact").low
    else:
        return 1  # what is washed off or taken out is gone at once
    if low is None:
        raise ValueError(f"practice.csv has no shortest time for looking again after {p.kind}")
    return int(low)


def _fewer(
    known: Gathered, before: Series | None, after: Series | None, sample: Sequence[Series]
) -> tuple[float, float, str]:
    if before is None or before.counts is None:
        return NAN, NAN, "no_before"
    if after is None or after.counts is None:
        return NAN, NAN, "not_yet"
    if before.per != after.per or before.at_least or after.at_least:
        return NAN, NAN, "not_compared"
    if before.counts[0] == 0:
        return NAN, NAN, "none_before"
    low, high = _ratio(known, before, after, sample)
    if np.isnan(low) or np.isnan(high):
        return NAN, NAN, "not_compared"
    fewer = 100 * (1 - high), 100 * (1 - low)
    return *fewer, _word(*fewer)


def _ratio(
    known: Gathered, before: Series, after: Series, sample: Sequence[Series]
) -> tuple[float, float]:
    """Limits of the density after over that before."""
    assert before.counts is not None  # the caller has looked
    assert after.counts is not None
    (total_0, n_0, effort_0), (total, n, effort) = before.counts, after.counts
    k = learned(known, [after], sample)[0].k
    found = density.ratio_interval(total, n, total_0, n_0, k, level=LEVEL)
    per_item = (n / effort) / (n_0 / effort_0)
    return float(found.low) * per_item, float(found.high) * per_item


def _word(low: float, high: float) -> str:
    if low > FELL:
        return "fell"
    return "not_fallen" if high < HALF else "cannot_tell"


def _among(
    p: queries.Put,
    put: Sequence[queries.Put],
    before: Series | None,
    after: Series | None,
    zone: ZoneInfo,
) -> int:
    """Other treatments against the same pest between the two counts."""
    if before is None or after is None:
        return 0
    days = [
        q.at.astimezone(zone).date()
        for q in put
        if q.application_id != p.application_id and q.against == p.against
    ]
    return sum(before.on <= on <= after.on for on in days)
