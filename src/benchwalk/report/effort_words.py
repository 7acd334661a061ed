"""What was looked at and what was found there, in words."""

from __future__ import annotations

from benchwalk.catalogue import say
from benchwalk.report.figures import figure, percent
from benchwalk.report.names import Names
from benchwalk.summarise import Line, Series

_SAMPLED = {"card": "week.effort_cards", "disc": "week.effort_discs", "trap": "week.effort_traps"}


def effort(names: Names, s: Series) -> str:
    """Reads "20 plants", "20 plants, leaf: 60", "2 cards, card-weeks: 1.4", or that nobody said."""
    locale = names.locale
    method = names.known.methods[s.key.method]
    if s.units_sampled is None:
        return say("week.effort_unknown", locale)
    sampled = say(_SAMPLED.get(method.kind, "week.effort_plants"), locale, n=s.units_sampled)
    if s.effort is None or s.per == "per_plant":
        return sampled
    if s.per == "per_card_per_week":
        return say("week.effort_card_weeks", locale, cards=sampled, n=figure(s.effort))
    if method.kind != "plant":
        return sampled
    return say(
        "week.effort_items", locale, plants=sampled, item=names.item(method.item), n=int(s.effort)
    )


def counted(names: Names, s: Series) -> str:
    """Reads "43 on 20 plants"; "looked, none: 20 plants"; an absent count is a word."""
    locale, done = names.locale, effort(names, s)
    if not s.found:
        return say("week.counted_none", locale, effort=done)
    if s.total is None:
        key = "week.counted_present" if s.mean_only is None else "week.counted_mean"
        return say(key, locale, effort=done)
    key = "week.counted_at_least" if s.at_least else "week.counted"
    key = key if s.units_sampled is not None else f"{key}_unknown"
    return say(key, locale, n=s.total, effort=done)


def infested(names: Names, line: Line) -> str:
    """Reads "plants with any: 9 of 20, 45 % (28 to 63 %)"; "" where no look says."""
    s, shares = line.series, line.infested_percent
    if shares is None or s.infested is None or s.units_sampled is None or not s.found:
        return ""
    share, low, high = shares
    span = say("week.interval", names.locale, low=figure(low), high=figure(high))
    return say(
        "week.infested",
        names.locale,
        n=s.infested,
        of=s.units_sampled,
        share=percent(share),
        span=span,
    )
