"""What changed after a treatment, in words: the ends of the interval, and no middle value."""

from __future__ import annotations

import math
from dataclasses import dataclass

from benchwalk.catalogue import say
from benchwalk.report.course_words import numbers_of
from benchwalk.report.effect_drawing import effect_drawing
from benchwalk.report.figures import capital, day, percent, shown
from benchwalk.report.names import Names
from benchwalk.summarise.effects import Effect
from benchwalk.summarise.unit import UnitCourse


@dataclass(frozen=True)
class EffectWords:
    """One treatment and one stage of its pest, said; `picture` is "" where nothing is compared."""

    what: str
    kind: str
    pest: str
    word: str
    ends: str
    between: str
    tell: str
    picture: str


def effect_words(names: Names, course: UnitCourse, effect: Effect) -> EffectWords:
    """The change in words."""
    locale = names.locale
    ends = _ends(names, effect)
    kind = say(f"report.kind.{effect.put.kind}", locale)
    group = f", {shown(effect.put.moa_group)}" if effect.put.moa_group else ""
    return EffectWords(
        what=f"{numbers_of(course)[effect.on]}. {shown(effect.put.what)}",
        kind=f"{kind}{group}, {day(effect.on, locale)}",
        pest=f"{names.series(effect.key)}, {names.method(effect.key.method)}",
        word=say(f"page.effect_{effect.word}", locale),
        ends=ends,
        between=_between(names, effect),
        tell=say("page.effect_tell", locale) if effect.word == "cannot_tell" else "",
        picture=effect_drawing(effect.fewer_low, effect.fewer_high, ends) if ends else "",
    )


def _ends(names: Names, effect: Effect) -> str:
    """Reads "20 % more to 66 % fewer": never a minus sign."""
    if math.isnan(effect.fewer_low):
        return ""
    low, high = (_end(names, end) for end in (effect.fewer_low, effect.fewer_high))
    return say("page.effect_ends", names.locale, low=low, high=high)


def _end(names: Names, fewer: float) -> str:
    if fewer <= -100:
        times = f"{1 - fewer / 100:.2g}"
        return say("page.effect_times", names.locale, m=times)
    key = "page.effect_more" if fewer < 0 else "page.effect_fewer"
    return say(key, names.locale, share=percent(abs(fewer)))


def _between(names: Names, effect: Effect) -> str:
    """Which counts were compared, and what else happened between them."""
    if effect.before_on is None or effect.after_on is None:
        return ""
    said = say(
        "page.effect_counted",
        names.locale,
        before=day(effect.before_on, names.locale),
        after=day(effect.after_on, names.locale),
    )
    if effect.among:
        return capital(f"{said}; {say('page.effect_among', names.locale, n=effect.among)}")
    return said
