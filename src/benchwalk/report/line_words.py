"""One line of the week in words: a pest, stage and method in one unit against its threshold."""

from __future__ import annotations

import math
from dataclasses import dataclass

from benchwalk.catalogue import say
from benchwalk.reference import STRIP_KINDS
from benchwalk.report import rule_words
from benchwalk.report.effort_words import counted, infested
from benchwalk.report.figures import chance, day, figure, interval, times_figure
from benchwalk.report.names import Names
from benchwalk.summarise import Change, Line
from benchwalk.summarise.week import LEVEL

STATES = {
    "over": "state.over",
    "near": "state.near",
    "at_least": "state.at_least",
    "present": "state.present",
    "no_density": "state.no_density",
    "not_looked": "abs.not_looked",
    "no_threshold": "state.no_threshold_word",
    "under": "state.under",
    "none": "abs.none",
    "enemy": "state.enemy",
}


@dataclass(frozen=True)
class Drawn:
    """What a threshold strip draws, in units of the threshold; None where it is not known."""

    times: float | None
    low: float | None
    high: float | None
    state: str
    before: float | None
    ahead: tuple[float, float, float] | None = None


NOT_LOOKED = Drawn(None, None, None, "not_looked", None)


@dataclass(frozen=True)
class LineWords:
    """One line, said; "" where there is nothing to say.

    `times` and `density` are figures ("2.4", "16 per card and week") and their `_span` the
    interval ("1.5 to 3.7"). Where there is no figure, `times` is a word, and `no_strip` says why
    nothing is drawn.
    """

    state: str
    state_word: str
    pest: str
    method: str
    times: str
    times_span: str
    density: str
    density_span: str
    k_mark: str
    counted: str
    infested: str
    change: str
    rule: str
    rule_number: int | None
    notes: tuple[str, ...]
    drawn: Drawn | None
    no_strip: str


def line_words(names: Names, line: Line, crops: str, rule_number: int | None) -> LineWords:
    """The line in words; ``crops`` names what stands there, for "no threshold set"."""
    return LineWords(
        state=line.state,
        state_word=say(STATES[line.state], names.locale),
        pest=names.series(line.series.key),
        method=names.method(line.method),
        times=_times(names, line),
        times_span=_times_span(names, line),
        density=_density(names, line),
        density_span=interval(line.density.low, line.density.high, names.locale),
        k_mark=_k_mark(names, line),
        counted=counted(names, line.series),
        infested=infested(names, line),
        change=_change(names, line),
        rule="" if line.rule is None else rule_words.short(names, line.rule.threshold),
        rule_number=rule_number,
        notes=tuple(note for note in _notes(names, line) if note),
        drawn=drawn(line),
        no_strip=_no_strip(names, line, crops),
    )


def drawn(line: Line) -> Drawn | None:
    """What the strip of a line shows; None where nothing can be compared with an act threshold."""
    if line.times is None or line.rule is None or line.rule.threshold.kind not in STRIP_KINDS:
        return None
    times, low, high = (None if math.isnan(x) else x for x in line.times)
    state = "none" if line.state == "near" and not line.series.found else line.state
    return Drawn(times, low, high, state, _before(line), _ahead(line))


def _ahead(line: Line) -> tuple[float, float, float] | None:
    """The forecast for the next walk in units of the threshold: low end, median, high end."""
    if line.ahead is None or line.rule is None or line.rule.threshold.value is None:
        return None
    held, value = line.ahead.next_walk.within(LEVEL), line.rule.threshold.value
    return held.low / value, line.ahead.next_walk.middle / value, held.high / value


def _before(line: Line) -> float | None:
    if line.change is None or line.rule is None or line.rule.threshold.value is None:
        return None
    return line.change.before / line.rule.threshold.value


def _times(names: Names, line: Line) -> str:
    """The figure, else the word that stands in its place."""
    if line.times is None:
        any_find = line.rule is not None and line.rule.threshold.value is None
        word = "week.rule_any_find" if any_find and line.series.found else STATES[line.state]
        return say(word, names.locale)
    m = times_figure(line.times[0])
    return say("week.at_least", names.locale, m=m) if line.density.reason == "capped" else m


def _times_span(names: Names, line: Line) -> str:
    if line.times is None:
        return ""
    return interval(line.times[1], line.times[2], names.locale, times=True)


def _density(names: Names, line: Line) -> str:
    if math.isnan(line.density.mean):
        return ""
    key = "week.density_at_least" if line.density.reason == "capped" else "week.density"
    per = names.per(line.series.per)
    return say(key, names.locale, m=figure(line.density.mean), per=per)


def _k_mark(names: Names, line: Line) -> str:
    has_interval = not math.isnan(line.density.low)
    return say("week.k_assumed", names.locale) if line.dispersion.assumed and has_interval else ""


def _change(names: Names, line: Line) -> str:
    change, locale = line.change, names.locale
    if change is None:
        return say("week.change_no_walk", locale)
    values = {
        "date": day(change.before_on, locale),
        "before": figure(change.before),
        "per": names.per(line.series.per),
    }
    key = _change_key(change)
    if key == "week.change":
        values["m"] = figure(change.ratio)
        values["span"] = interval(change.low, change.high, locale)
    return say(key, locale, **values)


def _change_key(change: Change) -> str:
    if change.reason == "capped":
        return "week.change_capped"
    if change.reason in ("none_counted", "none_before"):
        return f"week.change_{change.reason}"
    if change.ratio == 0:
        return "week.change_none_now"
    return "week.change_not_compared" if math.isnan(change.low) else "week.change"


def _notes(names: Names, line: Line) -> list[str]:
    locale, s = names.locale, line.series
    reason = line.density.reason
    return [
        say(f"week.first_{line.first}", locale) if line.first else "",
        *_foreseen(names, line),
        say("week.capped", locale) if reason == "capped" else "",
        _why_no_density(names, line),
        _exposure(names, line),
        # records have no order: the same ones must say the same thing in every database
        *sorted(rule_words.unlike(names, s, other) for other in line.unlike),
    ]


def _foreseen(names: Names, line: Line) -> list[str]:
    """The chance of being over by the next walk, of what is not over now."""
    ahead, locale = line.ahead, names.locale
    if ahead is None or ahead.next_walk.over is None or line.state == "over":
        return []
    if ahead.few:
        return [say("forecast.few", locale, n=ahead.population.walks)]
    said = chance(ahead.next_walk.over, locale)
    return [say("forecast.over_by", locale, date=day(ahead.next_walk.on, locale), p=said)]


def _no_strip(names: Names, line: Line, crops: str) -> str:
    """Why no strip is drawn; "" where one is, and for natural enemies."""
    if line.rule is None:
        return _no_threshold(names, line, crops)
    if drawn(line) is not None:
        return ""
    any_find = line.rule.threshold.value is None
    return say("week.no_strip_any_find" if any_find else "week.no_strip", names.locale)


def _why_no_density(names: Names, line: Line) -> str:
    reason = line.density.reason
    if reason == "not_counted":  # the count itself says so
        return ""
    if math.isnan(line.density.mean):
        return say(f"week.no_density.{reason}", names.locale)
    if math.isnan(line.density.low):
        return say(f"week.no_interval.{reason}", names.locale)
    return ""


def _exposure(names: Names, line: Line) -> str:
    unsaid = line.series.lacks == "exposure_not_said" and not math.isnan(line.density.mean)
    return say("week.exposure_not_said", names.locale) if unsaid else ""


def _no_threshold(names: Names, line: Line, crops: str) -> str:
    if line.state == "enemy":
        return ""
    if not crops:
        return say("state.no_threshold_no_crop", names.locale)
    return say("state.no_threshold", names.locale, crop=crops)
