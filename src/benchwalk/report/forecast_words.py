"""Where each pest is heading and what treatments did, in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from benchwalk.catalogue import say
from benchwalk.records import queries
from benchwalk.report.as_json import ahead_json
from benchwalk.report.figures import chance, day, figure, interval, percent
from benchwalk.report.names import Names
from benchwalk.science.forecast import Scores
from benchwalk.summarise.forecasts import Ahead, Day, Did, Forecasts, StillWorks
from benchwalk.summarise.gathered import Gathered
from benchwalk.summarise.series import Key

SHOWN = 0.90  # level of the intervals that are printed


@dataclass(frozen=True)
class AheadWords:
    """One series: its unit, its name, its chance of being over, and sentences that explain it."""

    unit: str
    series: str
    chance: str
    sentences: tuple[str, ...]


@dataclass(frozen=True)
class ForecastWords:
    """The forecasts of an operation, those likely to be over first."""

    title: str
    with_threshold: tuple[AheadWords, ...]
    without: tuple[AheadWords, ...]
    treatments: tuple[str, ...]
    pooled: tuple[str, ...]
    surprising: tuple[str, ...]
    notes: tuple[str, ...]


def forecast_words(known: Gathered, found: Forecasts, locale: str = "en") -> ForecastWords:
    """All that is known of where pests are heading, in one language."""
    teller = _Teller(Names(known, locale))
    by_need = [a for a in found.by_need]
    rest = [a for a in found.ahead.values() if a.next_walk.over is None]
    return ForecastWords(
        title=say("forecast.title", locale, date=day(found.day, locale)),
        with_threshold=tuple(map(teller.ahead, by_need)),
        without=tuple(map(teller.ahead, rest)),
        treatments=tuple(map(teller.did, _latest(found.did))),
        pooled=tuple(map(teller.still_works, found.still_works)),
        surprising=tuple(map(teller.surprising, found.surprising)),
        notes=tuple(teller.notes(found.inflation)),
    )


def _latest(did: Sequence[Did]) -> list[Did]:
    """The last treatment of each series, newest first."""
    newest = {d.population.key: d for d in sorted(did, key=lambda d: d.treatment.at)}
    return sorted(newest.values(), key=lambda d: -d.treatment.at)


@dataclass(frozen=True)
class _Teller:
    names: Names

    @property
    def locale(self) -> str:
        return self.names.locale

    def ahead(self, a: Ahead) -> AheadWords:
        over = a.next_walk.over
        return AheadWords(
            unit=self._unit(a),
            series=self._series(a),
            chance="" if over is None else chance(over, self.locale),
            sentences=tuple(self._sentences(a)),
        )

    def _unit(self, a: Ahead) -> str:
        return self.names.place(_unit_of(self.names.known, a.key))

    def _series(self, a: Ahead) -> str:
        key = a.key
        return f"{self.names.series(key)}, {self.names.method(key.method)}"

    def _sentences(self, a: Ahead) -> Iterator[str]:
        say_ = self._say
        if a.next_walk.over is not None:
            yield say_(
                "forecast.over_by",
                p=chance(a.next_walk.over, self.locale),
                date=self._date(a.next_walk),
            )
            yield say_(
                "forecast.around",
                low=chance(_known(a.next_walk.over_70), self.locale),
                high=chance(_known(a.next_walk.over_150), self.locale),
            )
        yield self._expected(a, a.next_walk)
        if a.today is not None:
            yield say_("forecast.carried", date=day(a.last_on, self.locale))
        if a.population.days[-1].total == 0:
            yield say_("forecast.up_to", high=figure(a.now.high), per=self._per(a))
        if a.few:
            yield say_("forecast.few", n=a.population.walks)
        elif a.warned and a.now.high > 0:
            yield say_("forecast.warned")

    def _expected(self, a: Ahead, on: Day) -> str:
        held = on.within(SHOWN)
        return self._say(
            "forecast.expected",
            date=self._date(on),
            m=figure(on.middle),
            per=self._per(a),
            span=interval(held.low, held.high, self.locale),
        )

    def surprising(self, a: Ahead) -> str:
        side = "forecast.more" if _known(a.surprising) > 0 else "forecast.fewer"
        return self._say(
            side, unit=self._unit(a), series=self._series(a), date=day(a.last_on, self.locale)
        )

    def did(self, d: Did) -> str:
        """One treatment: who it was against, what is said of it, its interval, what it rests on."""
        key = d.population.key
        told = self._say(
            f"forecast.did.{d.word}",
            what=d.treatment.active or d.treatment.what,
            date=day(d.treatment.on, self.locale),
            unit=self.names.place(_unit_of(self.names.known, key)),
            series=f"{self.names.series(key)}, {self.names.method(key.method)}",
            change=self._change(d.low, d.high),
        )
        rests = self._say(
            "forecast.did.rests",
            expected=percent(100 * d.expected),
            share=percent(100 * max(d.share_of_data, 0.0)),
        )
        parts = [told, rests]
        if d.word == "cannot_tell":
            parts.append(self._say("forecast.did.would_tell"))
        if d.treatment.assumed:
            parts.append(self._say("forecast.did.assumed"))
        return " ".join(parts)

    def still_works(self, row: StillWorks) -> str:
        return pooled_words(self.names, row)

    def _change(self, low: float, high: float) -> str:
        return change_words(low, high, self.locale)

    def notes(self, inflation: float) -> Iterator[str]:
        if inflation > 1:
            yield self._say("forecast.calibration.inflated", factor=figure(inflation))
        yield self._say("forecast.note.without")
        yield self._say("forecast.note.levels")
        yield self._say("forecast.note.assumed")

    def _date(self, on: Day) -> str:
        return day(on.on, self.locale)

    def _per(self, a: Ahead) -> str:
        return self.names.per(a.population.per)

    def _say(self, key: str, **values: object) -> str:
        return say(key, self.locale, **values)


def pooled_words(names: Names, row: StillWorks) -> str:
    """Whether an active still works here, with its interval and what it rests on."""
    return say(
        f"forecast.pooled.{row.word}",
        names.locale,
        what=row.active.replace("_", " "),
        pest=names.taxon(row.taxon),
        stage=names.stage(row.stage),
        n=row.treatments,
        change=change_words(row.low, row.high, names.locale),
        share=percent(100 * max(row.share_of_data, 0.0)),
    )


def change_words(low: float, high: float, locale: str) -> str:
    """Reads "20 % to 74 % fewer", "30 % more to 74 % fewer"; both are shares taken away."""
    key = "forecast.fewer_both" if low >= 0 else "forecast.more_to_fewer"
    if high < 0:
        key, low, high = "forecast.more_both", high, low
    return say(key, locale, low=percent(100 * abs(low)), high=percent(100 * abs(high)))


def _unit_of(known: Gathered, key: Key) -> queries.Place:
    """The unit of a series: of a treatment of one it succeeded too."""
    return next(u for u in known.units if u.id == key.unit_id)


def _known(value: float | None) -> float:
    assert value is not None  # asked only where there is one
    return value


def calibration_words(scores: Scores | None, locale: str = "en") -> tuple[str, ...]:
    """How right past forecasts were, with n; a sentence when nothing was forecast yet."""
    if scores is None:
        return (say("forecast.calibration.none", locale),)
    told = [
        say("forecast.calibration.coverage", locale, n=scores.n, p=percent(100 * scores.coverage)),
        say(
            "forecast.calibration.crps",
            locale,
            crps=figure(scores.crps, 3),
            last=figure(scores.crps_last, 3),
        ),
    ]
    if scores.n_thresholds:
        told.append(
            say(
                "forecast.calibration.brier",
                locale,
                n=scores.n_thresholds,
                brier=figure(scores.brier, 3),
                last=figure(scores.brier_last, 3),
            )
        )
    bins = scores.reliability
    for said, happened, n in zip(bins.said, bins.happened, bins.n, strict=True):
        told.append(
            say(
                "forecast.calibration.bin",
                locale,
                said=percent(round(100 * float(said), 1)),
                happened=percent(round(100 * float(happened), 1)),
                n=int(n),
            )
        )
    return tuple(told)


def forecast_json(known: Gathered, found: Forecasts) -> dict[str, Any]:
    """The same for programs: one row a series, one a treatment, one an active."""
    return {
        "day": found.day.isoformat(),
        "series": [_series_json(known, a) for a in found.ahead.values()],
        "treatments": [did_json(known, d) for d in found.did],
        "pooled": [
            {
                "active": r.active, "taxon": r.taxon, "stage": r.stage, "treatments": r.treatments,
                "excluded": r.excluded, "low": r.low, "high": r.high, "level": 0.90,
                "share_of_data": r.share_of_data, "word": r.word,
            }
            for r in found.still_works
        ],
    }  # fmt: skip


def _series_json(known: Gathered, a: Ahead) -> dict[str, Any]:
    key = a.key
    names = {"taxon": key.taxon, "stage": key.stage, "method": key.method}
    return {"unit": _unit_of(known, key).full_name, **names, **ahead_json(a)}


def did_json(known: Gathered, d: Did) -> dict[str, Any]:
    """What one treatment did, as the ends of its interval."""
    key = d.population.key
    return {
        "unit": _unit_of(known, key).full_name,
        "taxon": key.taxon,
        "stage": key.stage,
        "method": key.method,
        "on": d.treatment.on.isoformat(),
        "what": d.treatment.what,
        "active": d.treatment.active,
        "acts_as": d.treatment.acts_as,
        "acts_as_assumed": d.treatment.assumed,
        "days": d.days,
        "low": d.low,
        "high": d.high,
        "level": 0.95,
        "expected": d.expected,
        "share_of_data": d.share_of_data,
        "word": d.word,
    }
