"""How right past forecasts were, for the page: each figure with what it means and its n."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from html import escape

from benchwalk.catalogue import say
from benchwalk.report.figures import chance, figure, interval, percent
from benchwalk.report.targets import number, svg_text
from benchwalk.science.density import infested_interval
from benchwalk.science.forecast import Scores
from benchwalk.science.forecast.calibration import FEWEST, LEVEL, LOWEST

ENOUGH_IN_A_BIN = 5  # counts; under it a share says nothing, and is not drawn; own choice
WIDE_FROM = 0.90  # share inside from which intervals are wider than they need be; own choice
SHARE_LEVEL = 0.90  # of the interval of a share, as of every figure on pages
#: left end, foot and side of the picture's square [px]
LEFT, FOOT, SIDE = 44.0, 228.0, 200.0
QUARTERS = (0.0, 0.25, 0.5, 0.75, 1.0)


@dataclass(frozen=True)
class Part:
    """One score: what it asks, the answer in a sentence, and the figures it rests on."""

    key: str
    title: str
    answer: str
    ours: str
    last: str
    n: int


@dataclass(frozen=True)
class Bin:
    """Forecasts that said about the same chance, and how often it came so."""

    said: str
    happened: str
    span: str
    n: int


@dataclass(frozen=True)
class CalibrationWords:
    """The page, said. `few` is the sentence where there are too few forecasts; else ""."""

    few: str
    parts: tuple[Part, ...]
    bins: tuple[Bin, ...]
    picture: str
    inflated: str


def calibration_page_words(
    scores: Scores | None, inflation: float, locale: str = "en"
) -> CalibrationWords:
    """The scores that the command prints, with what each asks; too few of them are said so."""
    n = 0 if scores is None else scores.n
    few = say("page.calibration_few", locale, n=n, least=FEWEST) if n < FEWEST else ""
    inflated = (
        say("forecast.calibration.inflated", locale, factor=figure(inflation))
        if inflation > 1
        else ""
    )
    if scores is None:
        return CalibrationWords(few, (), (), "", inflated)
    bins = tuple(_bins(scores, locale))
    picture = _picture(scores, locale) if scores.n_thresholds else ""
    return CalibrationWords(few, tuple(_parts(scores, locale)), bins, picture, inflated)


def _parts(scores: Scores, locale: str) -> Iterator[Part]:
    yield Part(
        key="coverage",
        title=say("page.calibration_inside", locale, level=percent(100 * LEVEL)),
        answer=say(_width(scores), locale, p=percent(100 * scores.coverage)),
        ours=percent(100 * scores.coverage),
        last="",
        n=scores.n,
    )
    yield Part(
        key="crps",
        title=say("page.calibration_next", locale),
        answer=_against(scores.crps, scores.crps_last, locale),
        ours=figure(scores.crps, 3),
        last=figure(scores.crps_last, 3),
        n=scores.n,
    )
    if scores.n_thresholds:
        yield Part(
            key="brier",
            title=say("page.calibration_over", locale),
            answer=_against(scores.brier, scores.brier_last, locale),
            ours=figure(scores.brier, 3),
            last=figure(scores.brier_last, 3),
            n=scores.n_thresholds,
        )


def _width(scores: Scores) -> str:
    if scores.n < FEWEST:
        return "page.calibration_open"
    if scores.coverage < LOWEST:
        return "page.calibration_narrow"
    return (
        "page.calibration_wide" if scores.coverage >= WIDE_FROM else "page.calibration_about_right"
    )


def _against(ours: float, last: float, locale: str) -> str:
    """Reads "18 % smaller than with the last count taken again", larger, or the same."""
    if ours == last or last == 0:
        return say("page.calibration_same", locale)
    key = "page.calibration_smaller" if ours < last else "page.calibration_larger"
    return say(key, locale, p=percent(100 * abs(1 - ours / last)))


def _bins(scores: Scores, locale: str) -> Iterator[Bin]:
    for said, happened, low, high, n in _shares(scores):
        yield Bin(
            said=chance(said, locale),
            happened=percent(round(100 * happened, 1)),
            span=interval(round(100 * low, 1), round(100 * high, 1), locale),
            n=n,
        )


def _shares(scores: Scores) -> Iterator[tuple[float, float, float, float, int]]:
    """Said, happened, its interval and n of each bin."""
    held = scores.reliability
    for said, happened, n in zip(held.said, held.happened, held.n, strict=True):
        ends = infested_interval(round(float(happened) * int(n)), int(n), level=SHARE_LEVEL)
        yield float(said), float(happened), float(ends.low), float(ends.high), int(n)


def _picture(scores: Scores, locale: str) -> str:
    """Said along the foot, happened upwards; the line is where both are the same."""
    marks = [_mark(*row[:4]) for row in _shares(scores) if row[4] >= ENOUGH_IN_A_BIN]
    words = [
        svg_text(
            "tick", LEFT + SIDE / 2, FOOT + 36, say("page.calibration_axis_said", locale), "middle"
        ),
        svg_text("tick", 4, 12, say("page.calibration_axis_happened", locale), "start"),
    ]
    label = escape(say("page.calibration_picture", locale, n=scores.n_thresholds), quote=True)
    line = f"M{number(LEFT)} {number(FOOT)}L{number(LEFT + SIDE)} {number(FOOT - SIDE)}"
    parts = [*_grid(), f'<path class="same-line" d="{line}"/>', *marks, *words]
    box = 'viewBox="0 0 300 272" width="300" height="272" class="days"'
    return f'<svg role="img" aria-label="{label}" {box}>{"".join(parts)}</svg>'


def _x(share: float) -> str:
    return number(LEFT + SIDE * share)


def _y(share: float) -> str:
    return number(FOOT - SIDE * share)


def _grid() -> Iterator[str]:
    for share in QUARTERS:
        right, top = number(LEFT + SIDE), number(FOOT - SIDE)
        yield f'<path class="grid" d="M{number(LEFT)} {_y(share)}H{right}"/>'
        yield f'<path class="grid" d="M{_x(share)} {number(FOOT)}V{top}"/>'
        yield svg_text("tick", LEFT - 6, FOOT - SIDE * share + 4, f"{100 * share:.0f}", "end")
        yield svg_text("tick", LEFT + SIDE * share, FOOT + 18, f"{100 * share:.0f}", "middle")


def _mark(said: float, happened: float, low: float, high: float) -> str:
    whisker = f'<path class="whisker" d="M{_x(said)} {_y(low)}V{_y(high)}"/>'
    return f'{whisker}<circle class="now" cx="{_x(said)}" cy="{_y(happened)}" r="4.2"/>'
