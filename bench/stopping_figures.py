"""Picture and table of docs/science/stopping.md, made from the package itself.

    python bench/stopping_figures.py [--write]

Prints the table of the page; with --write draws docs/science/stopping.svg.
"""

from __future__ import annotations

import numpy as np

from benchwalk.science.stopping import (
    HotSpot,
    InfestedUnits,
    NegativeBinomialCounts,
    PoissonCounts,
    exact_characteristic,
    wald_characteristic,
    wald_lines,
    wald_table,
)
from kept import ROOT, options

PICTURE = ROOT / "docs" / "science" / "stopping.svg"
# the plan of the picture: 0.5 against 2 aphids a plant, k = 0.8, threshold 1
K, LOW, HIGH, THRESHOLD, MOST, FEWEST = 0.8, 0.5, 2.0, 1.0, 30, 5
ALPHA = BETA = 0.1
CASES = (
    ("infested .10 / .30, alpha .02, beta .03", InfestedUnits(), 0.1, 0.3, 0.02, 0.03),
    ("infested .10 / .25", InfestedUnits(), 0.1, 0.25, 0.1, 0.1),
    ("Poisson 1 / 2", PoissonCounts(), 1, 2, 0.1, 0.1),
    ("Poisson 3 / 5", PoissonCounts(), 3, 5, 0.1, 0.1),
    ("k 1.0246, 1 / 2", NegativeBinomialCounts(1.0246), 1, 2, 0.1, 0.1),
    ("k 0.8, 2 / 4", NegativeBinomialCounts(0.8), 2, 4, 0.1, 0.1),
)
# of the picture, in its own units
WIDTH, HEIGHT, LEFT, TOP, PLOT_WIDTH, PLOT_HEIGHT, GAP = 760, 330, 60, 40, 270, 220, 110
STYLE = (
    "text{font:13px sans-serif;fill:#222}.axis{stroke:#222;fill:none}"
    ".exact{stroke:#222;stroke-width:2;fill:none}"
    ".formula{stroke:#222;stroke-width:1.5;stroke-dasharray:6 4;fill:none}"
    ".spot{stroke:#222;stroke-width:1.5;stroke-dasharray:1 4;fill:none}"
    ".between{fill:#e8e8e8}"
)


def table() -> list[str]:
    """Chance of "under" and expected plants, by formula and exactly."""
    lines = [
        "| plan | at | under: formula | exact | units: formula | exact |",
        "|---|---|---|---|---|---|",
    ]
    for name, counts, low, high, alpha, beta in CASES:
        pair = wald_lines(counts, low, high, alpha=alpha, beta=beta)
        means = [low, float(pair.slope), high]
        formula = wald_characteristic(pair, means)
        exact = exact_characteristic(wald_table(pair, 20_000), counts, means)
        for i, at in enumerate(("low", "slope", "high")):
            figures = (formula.under[i], exact.under[i]), (formula.units[i], exact.units[i])
            cells = [f"{v:.4f}" for v in figures[0]] + [f"{v:.2f}" for v in figures[1]]
            lines.append("| " + " | ".join([name, at, *cells]) + " |")
    return lines


class Plot:
    """One pair of axes: data in, places on the paper out."""

    def __init__(self, number: int, across: float, up: float) -> None:
        self.left = LEFT + number * (PLOT_WIDTH + GAP)
        self.across, self.up = across, up

    def place(self, x: float, y: float) -> str:
        on_x = self.left + PLOT_WIDTH * x / self.across
        on_y = TOP + PLOT_HEIGHT * (1 - y / self.up)
        return f"{on_x:.1f},{on_y:.1f}"

    def line(self, x, y, kind: str) -> str:
        points = " ".join(self.place(a, b) for a, b in zip(x, y, strict=True))
        return f'<polyline class="{kind}" points="{points}"/>'

    def area(self, x, low, high) -> str:
        there = [self.place(a, b) for a, b in zip(x, low, strict=True)]
        back = [self.place(a, b) for a, b in zip(x, high, strict=True)][::-1]
        return f'<polygon class="between" points="{" ".join(there + back)}"/>'

    def words(self, x: float, y: float, text: str, anchor: str = "start") -> str:
        on_x, on_y = self.place(x, y).split(",")
        return f'<text x="{on_x}" y="{on_y}" text-anchor="{anchor}">{text}</text>'

    def axes(self, title: str, below: str, ticks_x, ticks_y) -> list[str]:
        bottom, right = TOP + PLOT_HEIGHT, self.left + PLOT_WIDTH
        parts = [
            f'<path class="axis" d="M{self.left},{TOP}V{bottom}H{right}"/>',
            f'<text x="{self.left - 40}" y="{TOP - 16}">{title}</text>',
            f'<text x="{self.left + PLOT_WIDTH / 2:.0f}" y="{bottom + 40}" '
            f'text-anchor="middle">{below}</text>',
        ]
        for tick in ticks_x:
            on_x = self.place(tick, 0).split(",")[0]
            parts.append(f'<text x="{on_x}" y="{bottom + 18}" text-anchor="middle">{tick:g}</text>')
        for tick in ticks_y:
            on_y = float(self.place(0, tick).split(",")[1]) + 4
            parts.append(
                f'<text x="{self.left - 6}" y="{on_y:.1f}" text-anchor="end">{tick:g}</text>'
            )
        return parts


def side_by_side(about: str, left: list[str], right: list[str]) -> str:
    """A picture of two plots."""
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img">',
        f"<title>{about}</title>",
        f"<style>{STYLE}</style>",
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/>',
        *left,
        *right,
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def plan():
    pair = wald_lines(NegativeBinomialCounts(K), LOW, HIGH, alpha=ALPHA, beta=BETA)
    return pair, wald_table(pair, MOST, fewest=FEWEST, cut="middle")


def limits() -> list[str]:
    """The stop table: where counting ends as under, and where as over."""
    _, limits = plan()
    n = np.arange(FEWEST, MOST + 1)
    under, over = limits.under[FEWEST - 1 :] + 0.5, limits.over[FEWEST - 1 :] - 0.5
    plot = Plot(0, MOST, 40)
    return [
        *plot.axes("individuals so far", "plants looked at", (5, 10, 20, 30), (0, 10, 20, 30, 40)),
        plot.area(n, np.maximum(under, 0), over),
        plot.line(n, np.maximum(under, 0), "exact"),
        plot.line(n, over, "exact"),
        plot.words(9, 29, "over: stop"),
        plot.words(18, 17.2, "go on", "middle"),
        plot.words(18, 5, "under: stop"),
    ]


def chances() -> list[str]:
    """Chance of "under" against the true mean: formula, exact, and pests in a hot spot."""
    pair, limits = plan()
    mean = np.linspace(0, 4, 81)
    formula = wald_characteristic(pair, mean).under
    exact = exact_characteristic(limits, NegativeBinomialCounts(K), mean).under
    spot = exact_characteristic(limits, HotSpot(0.05, K), mean).under
    plot = Plot(1, 4, 1)
    return [
        *plot.axes(
            "chance of &quot;under&quot;", "true mean, individuals a plant", range(5), (0, 0.5, 1)
        ),
        plot.line(mean, formula, "formula"),
        plot.line(mean, exact, "exact"),
        plot.line(mean, spot, "spot"),
        plot.words(2.0, 0.86, "dots: on 5 % of the plants"),
        plot.words(1.25, 0.5, "full: exact"),
        plot.words(1.9, 0.28, "dashes: formula"),
    ]


def picture() -> str:
    about = (
        f"Stop limits for {LOW:g} against {HIGH:g} individuals a plant, k {K:g}, and the chance of "
        "the answer under, by formula, exactly, and where all pests stand on 5 percent of plants"
    )
    return side_by_side(about, limits(), chances())


if __name__ == "__main__":
    if options(__doc__).parse_args().write:
        PICTURE.write_text(picture(), encoding="utf-8")
    print("\n".join(table()))
