"""A threshold in words: where acting begins, for what, from which source; why one does not fit."""

from __future__ import annotations

from collections.abc import Callable

from benchwalk.catalogue import say
from benchwalk.records import Threshold
from benchwalk.report.figures import capital
from benchwalk.report.names import Names
from benchwalk.summarise import InForce, Series, Unlike


def short(names: Names, t: Threshold) -> str:
    """Reads "act at 15 per card and week"; a printed range with its low end as 1."""
    locale = names.locale
    if t.value is None or t.per is None:
        return say("week.rule_any_find", locale)
    value, per = f"{t.value:g}", names.per(t.per)
    if t.sense == "floor":
        return say("week.rule_floor", locale, value=value, per=per)
    if t.sense == "ratio" and t.enemy is not None:
        return say("week.rule_ratio", locale, value=value, enemy=names.taxon(t.enemy))
    if t.below:
        return say("week.rule_below", locale, value=value, per=per)
    if t.high is not None and t.high > t.value:
        return say("week.rule_range", locale, low=value, high=f"{t.high:g}", per=per)
    return say("week.rule_at", locale, value=value, per=per)


def full(names: Names, rule: InForce) -> str:
    """The rule with its kind, its rank, what it is for, and its source."""
    t, locale = rule.threshold, names.locale
    about = say(
        "week.rule_full",
        locale,
        rule=capital(short(names, t)),
        kind=say(f"week.kind.{t.kind}", locale),
        precedence=say(f"week.precedence.{t.rule}", locale),
        pest=names.series(t),
        method=names.method(t.method),
        crop=names.crop(t.crop),
        phase=names.phase(t.phase),
        age=_age(t, locale),
    )
    return f"{about} {say('week.source', locale, source=names.source(t))}."


def unlike(names: Names, series: Series, other: Unlike) -> str:
    """Why the series is not compared with a threshold of its pest, in one sentence or two."""
    theirs, ours = _DIFFERENCES[other.why](names, series, other.threshold)
    return say(
        f"week.unlike.{other.why}",
        names.locale,
        rule=short(names, other.threshold),
        crop=names.crop(other.threshold.crop),
        theirs=theirs,
        ours=ours,
    )


Difference = Callable[[Names, Series, Threshold], tuple[str, str]]


def _quantity(names: Names, series: Series, t: Threshold) -> tuple[str, str]:
    theirs = say("week.rule_any_find", names.locale) if t.per is None else names.per(t.per)
    return theirs, names.per(series.per)


_DIFFERENCES: dict[str, Difference] = {
    "taxon": lambda names, s, t: (names.taxon(t.taxon), names.taxon(s.key.taxon)),
    "stage": lambda names, s, t: (names.stage(t.stage), names.stage(s.key.stage)),
    "method": lambda names, s, t: (names.method(t.method), names.method(s.key.method)),
    "quantity": _quantity,
    "age": lambda names, _, t: (_age(t, names.locale), ""),
    "phase": lambda names, _, t: (names.phase(t.phase), ""),
}


def _age(t: Threshold, locale: str) -> str:
    if t.age_until_weeks is not None:
        return say("week.age_span", locale, since=t.age_from_weeks, until=t.age_until_weeks)
    if t.age_from_weeks:
        return say("week.age_from", locale, since=t.age_from_weeks)
    return say("week.age_any", locale)
