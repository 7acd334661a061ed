"""What treatments did, in words: against what was expected without them, and no middle value."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from benchwalk.catalogue import say
from benchwalk.report.effect_drawing import effect_drawing
from benchwalk.report.figures import day, percent, shown
from benchwalk.report.forecast_words import change_words, pooled_words
from benchwalk.report.names import Names
from benchwalk.summarise.forecasts import Did, Forecasts
from benchwalk.summarise.unit import UnitCourse

SHOWN = 6  # the last treatments are shown, not all of a season; own choice


@dataclass(frozen=True)
class EffectWords:
    """One treatment and one stage of its pest, said and drawn."""

    what: str
    kind: str
    pest: str
    word: str
    ends: str
    rests: str
    tell: str
    assumed: str
    picture: str


@dataclass(frozen=True)
class TreatmentsDid:
    """The last treatments of a unit, and whether their actives still work in this operation."""

    each: tuple[EffectWords, ...]
    still_works: tuple[str, ...]


def treatments_did(
    names: Names, course: UnitCourse, found: Forecasts, numbers: dict[dt.date, int]
) -> TreatmentsDid:
    """What the last treatments of a unit did; ``numbers`` are those the pictures give the days."""
    last = last_of(found.did, course)
    actives = {(d.treatment.active, d.population.key.taxon, d.population.key.stage) for d in last}
    pooled = [r for r in found.still_works if (r.active, r.taxon, r.stage) in actives]
    return TreatmentsDid(
        each=tuple(_words(names, d, numbers) for d in last),
        still_works=tuple(pooled_words(names, row) for row in pooled),
    )


def last_of(did: Sequence[Did], course: UnitCourse) -> list[Did]:
    """The newest treatments of a unit, each pest by the stage and method that say most of it."""
    best: dict[tuple[object, ...], Did] = {}
    for d in did:
        key, t = d.population.key, d.treatment
        of = (t.at, t.what, key.taxon)
        here = key.unit_id == course.unit.id and course.since <= t.on <= course.day
        if here and (of not in best or d.share_of_data > best[of].share_of_data):
            best[of] = d
    return sorted(best.values(), key=lambda d: -d.treatment.at)[:SHOWN]


def _words(names: Names, d: Did, numbers: dict[dt.date, int]) -> EffectWords:
    locale, t, key = names.locale, d.treatment, d.population.key
    ends = change_words(d.low, d.high, locale)
    expected = percent(100 * d.expected)
    sentence = say("page.did_sentence", locale, ends=ends, expected=expected)
    return EffectWords(
        what=". ".join(_parts(t.on, shown(t.what), numbers)),
        kind=f"{say(f'report.kind.{t.kind}', locale)}, {day(t.on, locale)}",
        pest=f"{names.series(key)}, {names.method(key.method)}",
        word=say(f"page.did_{d.word}", locale),
        ends=say("page.did_ends", locale, ends=ends),
        rests=say(
            "forecast.did.rests",
            locale,
            expected=expected,
            share=percent(100 * max(d.share_of_data, 0.0)),
        ),
        tell=say("forecast.did.would_tell", locale) if d.word == "cannot_tell" else "",
        assumed=say("forecast.did.assumed", locale) if t.assumed else "",
        picture=effect_drawing(100 * d.low, 100 * d.high, sentence, expected=100 * d.expected),
    )


def _parts(on: dt.date, what: str, numbers: dict[dt.date, int]) -> Iterator[str]:
    """The number of a day that a picture shows, before what was put out."""
    if on in numbers:
        yield str(numbers[on])
    yield what
