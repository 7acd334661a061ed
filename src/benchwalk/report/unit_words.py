"""One unit of the week in words: what stands there, who looked, its lines, what is missing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from benchwalk.catalogue import say
from benchwalk.report.effort_words import counted
from benchwalk.report.figures import capital, day, percent, times_figure
from benchwalk.report.line_words import STATES, LineWords, line_words
from benchwalk.report.names import Names
from benchwalk.summarise import Apart, Line, NotLooked, Share, UnitSummary
from benchwalk.summarise.week import SURE, Clean

NumberOf = Callable[[Line], int | None]


@dataclass(frozen=True)
class Missing:
    """A unit, or a series of a unit, that nobody looked at: its reason and its last day."""

    name: str
    method: str
    reason: str
    last: str


@dataclass(frozen=True)
class UnitWords:
    """One unit, said. `lines` are pests, `enemies` the natural enemies counted beside them."""

    name: str
    state: str
    state_word: str
    crops: str
    walked: str
    plants: str
    worst: str
    lines: tuple[LineWords, ...]
    enemies: tuple[LineWords, ...]
    missing: tuple[Missing, ...]
    notes: tuple[str, ...]

    @property
    def all_lines(self) -> tuple[LineWords, ...]:
        """Pests first, then natural enemies."""
        return (*self.lines, *self.enemies)


def unit_words(names: Names, unit: UnitSummary, number_of: NumberOf) -> UnitWords:
    crops = ", ".join(names.crop(code) for code in unit.crops)
    said = [line_words(names, line, crops, number_of(line)) for line in unit.lines]
    return UnitWords(
        name=names.place(unit.unit),
        state=unit.state,
        state_word=say(STATES[unit.state], names.locale),
        crops=crops or say("week.no_crop", names.locale),
        walked=say("week.walked", names.locale, date=day(unit.on, names.locale)),
        plants=_plants(names, unit),
        worst=_worst(names, said),
        lines=tuple(line for line in said if line.state != "enemy"),
        enemies=tuple(line for line in said if line.state == "enemy"),
        missing=tuple(series_not_counted(names, miss) for miss in unit.not_counted),
        notes=tuple(note for note in _notes(names, unit) if note),
    )


def unit_not_looked(names: Names, miss: NotLooked) -> Missing:
    """A unit nobody looked at."""
    return Missing(names.place(miss.unit), "", _not_looked(names, miss), _last(names, miss))


def series_not_counted(names: Names, miss: NotLooked) -> Missing:
    """A pest, stage and method that this week's walk did not count."""
    if miss.key is None:
        return unit_not_looked(names, miss)
    method = names.method(miss.key.method)
    return Missing(names.series(miss.key), method, names.reason(miss.reason), _last(names, miss))


def _not_looked(names: Names, miss: NotLooked) -> str:
    """The reason in its own absence: no word is not the scout's "not looked"."""
    reason = names.reason(miss.reason)
    if miss.reason in ("no_word", "not_sent"):
        return reason
    return say("abs.not_looked_why", names.locale, reason=reason)


def _last(names: Names, miss: NotLooked) -> str:
    if miss.last_on is None:
        return say("week.never_looked", names.locale)
    return say("week.last_looked", names.locale, date=day(miss.last_on, names.locale))


def _plants(names: Names, unit: UnitSummary) -> str:
    """Plants looked at, of those there; "" where only cards were read or nobody said."""
    if unit.plants_looked is None:
        return ""
    if unit.plants_there is None:
        return say("week.plants_looked", names.locale, n=unit.plants_looked)
    return say("week.plants_looked_of", names.locale, n=unit.plants_looked, of=unit.plants_there)


def _worst(names: Names, lines: list[LineWords]) -> str:
    """The first line over its threshold, as a sentence; "" when none is."""
    line = next((x for x in lines if x.state == "over"), None)
    if line is None:
        return ""
    return f"{capital(line.pest)}. {_over(names, line)}"


def _over(names: Names, line: LineWords) -> str:
    if line.drawn is None or line.drawn.times is None:
        return say("state.over_any_find", names.locale)
    m = times_figure(line.drawn.times)
    if not line.times_span:
        return say("state.over_bare", names.locale, m=m)
    return say("state.over_long", names.locale, m=m, span=line.times_span)


def _notes(names: Names, unit: UnitSummary) -> list[str]:
    return [
        _few(names, unit),
        _at_random(names, unit),
        *_clean(names, unit.clean),
        *(_stages(names, share) for share in unit.shares),
        *(_apart(names, apart) for apart in unit.apart),
    ]


def _few(names: Names, unit: UnitSummary) -> str:
    if not unit.few:
        return ""
    return say("week.few", names.locale, n=unit.plants_looked, of=unit.plants_there)


def _at_random(names: Names, unit: UnitSummary) -> str:
    """Said where all that was found stands apart, so that no one takes it for looked, none."""
    only_apart = unit.apart and not unit.lines
    return say("week.nothing_at_random", names.locale) if only_apart else ""


def _clean(names: Names, clean: Clean | None) -> list[str]:
    if clean is None:
        return []
    key = "week.clean_bare" if clean.population is None else "week.clean"
    at_most = percent(clean.at_most_percent)
    proved = say(
        key,
        names.locale,
        plants=clean.plants,
        of=clean.population,
        share=at_most,
        sure=percent(100 * SURE),
    )
    return [proved, _could_miss(names, clean)]


def _could_miss(names: Names, clean: Clean) -> str:
    share = percent(clean.could_miss_percent)
    if clean.could_miss_plants is None:
        return say("week.could_miss_share", names.locale, share=share)
    return say("week.could_miss", names.locale, plants=clean.could_miss_plants, share=share)


def _stages(names: Names, share: Share) -> str:
    stages = ", ".join(stage_share(names, stage, n, share.total) for stage, n in share.stages)
    return say(
        "week.stages",
        names.locale,
        pest=names.taxon(share.taxon),
        method=names.method(share.method),
        n=share.total,
        stages=stages,
    )


def stage_share(names: Names, stage: str, n: int, total: int) -> str:
    share = percent(100 * n / total)
    return say("week.stage_share", names.locale, stage=names.stage(stage), n=n, share=share)


def _apart(names: Names, apart: Apart) -> str:
    s = apart.series
    return say(
        "week.apart",
        names.locale,
        why=say(f"week.why.{s.why}", names.locale),
        date=day(s.on, names.locale),
        pest=names.series(s.key),
        method=names.method(s.key.method),
        counted=counted(names, s),
    )
