"""The tables of docs/science/forecast_measured.md, from the results."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from kept import ROOT, with_tables

PAGE = ROOT / "docs" / "science" / "forecast_measured.md"
Results = dict[str, Any]


def three(values: list[float]) -> str:
    return " / ".join(f"{value:.3f}" for value in values)


def per_cent(values: list[float]) -> str:
    return " / ".join(f"{100 * value:.1f}" for value in values)


def table(head: list[str], rows: list[list[str]]) -> list[str]:
    lines = [head, ["---"] * len(head), *rows]
    return [f"| {' | '.join(line)} |" for line in lines]


def engines(results: Results) -> list[str]:
    head = ["engine", "CRPS", "covered, %", "width", "Brier", "Brier, count below the threshold",
            "bins off by at most", "warned, %", "days", "s per 1,000 series"]  # fmt: skip
    rows = [
        [
            name,
            three(e["crps"]),
            per_cent(e["cover"]),
            " / ".join(f"{w:.2f}" for w in e["width"]),
            three(e["brier"]),
            three(e["brier_sheet_below"]),
            f"{e['reliability_worst']:.3f}",
            f"{100 * e['warned']:.1f}",
            f"{e['warned_days']:.1f}",
            f"{e['seconds_per_1000_series']:.2f}",
        ]
        for name, e in results["engines"].items()
    ]
    return table(head, rows)


def saved(results: Results) -> list[str]:
    kinds = (*results["saved"].values(), results["saved_sheet_below"])
    rows = []
    for name in results["saved"]["filter"]:
        cells = (f"{100 * s[name]['saved']:.1f} ({per_cent(s[name]['ends'])})" for s in kinds)
        rows.append([name, *cells])
    return table(
        ["CRPS below that of", "filter, %", "refitted, %", "filter, count below the threshold, %"],
        rows,
    )


def parts(results: Results) -> list[str]:
    rows = [
        [
            name,
            f"{p['n']:,}",
            three(p["crps"]),
            per_cent(p["cover"]),
            "; ".join(" to ".join(f"{100 * end:.1f}" for end in ends) for ends in p["cover_ends"]),
            " / ".join(f"{w:.2f}" for w in p["width"]),
        ]
        for name, p in results["parts"].items()
    ]
    return table(["forecasts of the filter", "n", "CRPS", "covered, %", "95 %", "width"], rows)


def bins(results: Results) -> list[str]:
    e = results["engines"]["filter"]
    pairs = zip(e["reliability_said"], e["reliability_came"], strict=True)
    return table(["said", "came"], [[f"{s:.3f}", f"{c:.3f}"] for s, c in pairs])


def ablations(results: Results) -> list[str]:
    rows = [
        [name, three(a["crps"]), per_cent(a["cover"]), three(a["crps_after"]),
         per_cent(a["cover_after"])]
        for name, a in results["ablations"].items()
    ]  # fmt: skip
    return table(["the filter", "CRPS", "covered, %", "CRPS after a treatment", "covered, %"], rows)


TABLES: dict[str, Callable[[Results], list[str]]] = {
    "engines": engines,
    "saved": saved,
    "parts": parts,
    "bins": bins,
    "ablations": ablations,
}


def written(page: str, results: Results) -> str:
    """The page with its tables as they are in the results."""
    return with_tables(page, {name: table_of(results) for name, table_of in TABLES.items()})
