"""Pictures of docs/science/{density,efficacy,degree_days}.md, made from the package itself.

    python bench/science_pictures.py

Writes one SVG beside each page.
"""

from __future__ import annotations

import numpy as np

from benchwalk.science import degree_days, density
from benchwalk.science.efficacy import Counts, henderson_tilton_interval
from kept import ROOT, results
from stopping_figures import Plot, side_by_side

FOLDER = ROOT / "docs" / "science"


def bar(plot: Plot, x: float, low: float, high: float, kind: str) -> str:
    return plot.line([x, x], [low, high], kind)


def intervals_of_means() -> list[str]:
    """Totals on 20 plants: the interval where pests are clumped, and where they are not."""
    plot = Plot(0, 26, 3)
    parts = plot.axes("aphids a plant", "aphids on 20 plants", (0, 5, 10, 20), (0, 1, 2, 3))
    for total in (0, 2, 5, 10, 15, 20):
        clumped = density.mean_interval(total, 20, 0.6)
        random = density.mean_interval(total, 20, np.inf)
        parts += [
            bar(plot, total, float(clumped.low), float(clumped.high), "exact"),
            bar(plot, total + 0.8, float(random.low), float(random.high), "formula"),
            plot.line([total - 0.3, total + 0.3], [float(clumped.mean)] * 2, "exact"),
        ]
    return [*parts, plot.words(1, 2.7, "line: k = 0.6; dashes: random")]


def intervals_of_a_doubling() -> list[str]:
    """Twice as many as before, 1 and 2 a plant: limits of the ratio by plants looked at."""
    plants = np.arange(5, 101, 5)
    plot = Plot(1, 100, 6)
    clumped = density.ratio_interval(2 * plants, plants, plants, plants, 0.6)
    random = density.ratio_interval(2 * plants, plants, plants, plants, np.inf)
    return [
        *plot.axes("ratio", "plants on each walk", (5, 25, 50, 75, 100), (0, 1, 2, 4, 6)),
        plot.area(plants, clumped.low, np.minimum(clumped.high, 6)),
        plot.line(plants, random.low, "formula"),
        plot.line(plants, random.high, "formula"),
        plot.line([0, 100], [1, 1], "spot"),
        plot.line([0, 100], [2, 2], "exact"),
        plot.words(96, 2.2, "twice as many", "end"),
        plot.words(96, 1.05, "no change", "end"),
        plot.words(96, 5.3, "grey: k = 0.6; dashes: random", "end"),
    ]


def limits_of_control() -> list[str]:
    """80 % control, 3 a plant before: limits by plants counted each time."""
    plants = np.arange(15, 101, 5)
    cells = [Counts(mean * plants, plants) for mean in (3, 4, 3, 0.8)]
    plot = Plot(0, 100, 100)
    parts = plot.axes("control, %", "plants each time", (15, 40, 70, 100), (0, 25, 50, 75, 100))
    for k, kind in ((0.6, "exact"), (5, "formula")):
        found = henderson_tilton_interval(*cells, k)
        parts += [plot.line(plants, found.low, kind), plot.line(plants, found.high, kind)]
    parts.append(plot.line([0, 100], [80, 80], "spot"))
    return [*parts, plot.words(96, 14, "line: k = 0.6; dashes: k = 5", "end")]


def coverage_by_untreated_units() -> list[str]:
    """How often the interval holds true control, by number of untreated units."""
    cells = results("change_coverage")["units"]
    plot = Plot(1, 8.5, 100)
    parts = plot.axes(
        "true control held, %", "untreated units", (1, 2, 3, 5, 8), (0, 25, 50, 75, 90, 100)
    )
    for between, kind in ((0, "spot"), (0.3, "formula"), (0.6, "exact")):
        rows = [c for c in cells if c["between"] == between]
        parts.append(
            plot.line([c["untreated_units"] for c in rows], [100 * c["held"] for c in rows], kind)
        )
    return [
        *parts,
        plot.words(8, 30, "growth differs by 0 (dots),", "end"),
        plot.words(8, 20, "0.3 (dashes), 0.6 (line)", "end"),
    ]


def heat_of_a_day() -> list[str]:
    """A day from 12 to 36 degC with thresholds 10 and 30: what a horizontal cut-off counts."""
    hours = np.linspace(0, 24, 97)
    warm = 24 - 12 * np.cos(hours / 24 * 2 * np.pi)
    plot = Plot(0, 24, 40)
    found = float(degree_days.single_sine(12, 36, 10, 30).degree_days)
    return [
        *plot.axes("degC", "hour", (0, 6, 12, 18, 24), (0, 10, 20, 30, 40)),
        plot.area(hours, np.full(hours.shape, 10), np.clip(warm, 10, 30)),
        plot.line(hours, warm, "exact"),
        plot.line([0, 24], [10, 10], "formula"),
        plot.line([0, 24], [30, 30], "formula"),
        plot.words(12, 19, f"{found:.1f} degree-days", "middle"),
        plot.words(12, 6, "lower threshold", "middle"),
        plot.words(1, 32, "upper"),
    ]


def stages_of_a_cohort() -> list[str]:
    """Shares done with two stages of 60 and 120 degree-days at 12.5 a day."""
    days = np.arange(26)
    plot = Plot(1, 25, 1)
    parts = plot.axes("share done", "day", (0, 5, 10, 15, 20, 25), (0, 0.5, 1))
    for spread, kind in ((0.15, "exact"), (0.3, "formula")):
        done = degree_days.stage_calendar([12.5] * 25, [60, 120], spread).share_done
        parts += [plot.line(days, np.concatenate([[0], stage]), kind) for stage in done]
    return [
        *parts,
        plot.words(24.5, 0.4, "heat varies by", "end"),
        plot.words(24.5, 0.3, "0.15 (line),", "end"),
        plot.words(24.5, 0.2, "0.3 (dashes)", "end"),
    ]


PICTURES = {
    "density": (intervals_of_means, intervals_of_a_doubling),
    "efficacy": (limits_of_control, coverage_by_untreated_units),
    "degree_days": (heat_of_a_day, stages_of_a_cohort),
}
TITLES = {
    "density": "Intervals of a mean on 20 plants, and of a doubling by the number of plants",
    "efficacy": "Limits of 80 % control by plants counted; coverage by number of untreated units",
    "degree_days": "A day's heat between two thresholds; shares of a cohort done with two stages",
}


def picture(name: str) -> str:
    left, right = PICTURES[name]
    return side_by_side(TITLES[name], left(), right())


if __name__ == "__main__":
    for name in PICTURES:
        (FOLDER / f"{name}.svg").write_text(picture(name), encoding="utf-8")
