"""How often the interval of a change holds the true one: ratio of rounds, percent control.

    python bench/change_coverage.py [--seed 7] [--repeats 4000] [--write]
    python bench/change_coverage.py --docs

Prints five tables; with --write keeps them in bench/results/change_coverage.json and in the pages
that have a place for them; with --docs takes those of the results that are there.

ratio    exact: negative binomial probabilities are summed over all pairs of totals.
abbott   simulated: untreated and treated after.
tilton   simulated: untreated and treated, before and after; the untreated grow to 1.5 times.
pairs    simulated: the same plants before and after, gamma distributed between plants.
units    simulated: one treated unit against several untreated ones whose ln growth differs.

Where there is no answer the interval neither holds nor fails; the share without one is given.
"""

from __future__ import annotations

from itertools import product

import numpy as np
import scipy
from scipy import stats

from benchwalk.science import density, efficacy
from benchwalk.science.efficacy import Counts
from kept import ROOT, head, options, results, with_tables, write_cells

NS, KS, MEANS = (10, 20, 60), (0.2, 0.6, 5), (0.2, 1, 5)
RATIOS, PERCENTS = (0.5, 1, 2), (0, 50, 90)
GROWTH = 1.5
LEVEL = 0.90
# totals left out of the exact sums have together at most this probability
LEFT_OUT = 1e-9
PAGES = [ROOT / "docs" / "science" / f"{name}.md" for name in ("density", "efficacy")]


def totals(mean: float, k: float, n: int) -> tuple[np.ndarray, np.ndarray]:
    """All totals that matter over n plants, and their probabilities."""
    share = k / (k + mean)
    t = np.arange(stats.nbinom.isf(LEFT_OUT, n * k, share) + 1)
    return t, stats.nbinom.pmf(t, n * k, share)


def ratio_cell(n: int, k: float, mean: float) -> dict:
    before, w0 = totals(mean, k, n)
    cell = {"n": n, "k": k, "mean": mean, "held": [], "no_answer": []}
    for ratio in RATIOS:
        now, w1 = totals(mean * ratio, k, n)
        found = density.ratio_interval(now[:, None], n, before[None, :], n, k, level=LEVEL)
        weight = w1[:, None] * w0[None, :]
        some = np.isin(found.reason, ("", "none_before"))
        held = some & (found.low <= ratio) & (ratio <= found.high)
        cell["held"].append(round(float(weight[held].sum() / weight[some].sum()), 4))
        without = weight[~some].sum() / weight.sum()
        cell["no_answer"].append(round(float(without), 4))
    return cell


def control_cell(rng, n: int, k: float, mean: float, repeats: int, *, before: bool) -> dict:
    def draw(m):
        return Counts(rng.negative_binomial(n * k, k / (k + m), repeats), n)

    cell = {"n": n, "k": k, "mean": mean, "no_answer": [], "none_after": []}
    cell |= {how: [] for how in efficacy.INTERVALS}
    for percent in PERCENTS:
        left = 1 - percent / 100
        if before:
            given = (draw(mean), draw(GROWTH * mean), draw(mean), draw(GROWTH * mean * left))
            function = efficacy.henderson_tilton_interval
        else:
            given, function = (draw(mean), draw(mean * left)), efficacy.abbott_interval
        for how in efficacy.INTERVALS:
            found = function(*given, k, level=LEVEL, interval=how)
            some = found.sides > 0
            cell[how].append(held(found, percent)[some].mean().round(4).item())
        cell["no_answer"].append(round(1 - some.mean().item(), 4))
        cell["none_after"].append((found.sides == 1).mean().round(4).item())
    return cell


def held(found, percent: float) -> np.ndarray:
    # 100 - 100 * 0.5 is 50 but for rounding
    return (found.low <= percent + 1e-9) & (percent <= found.high + 1e-9)


def pairs_cell(rng, n: int, mean: float, k: float, repeats: int) -> dict:
    """The same plants, and what the interval for independent samples makes of them."""

    def plants(change):
        own = rng.gamma(k, mean / k, (repeats, n))
        return rng.poisson(own), rng.poisson(own * change)

    cell = {"n": n, "mean": mean, "k": k, "pairs": [], "independent": [], "no_answer": []}
    for percent in PERCENTS:
        four = (*plants(GROWTH), *plants(GROWTH * (1 - percent / 100)))
        found = efficacy.paired_control(*four, level=LEVEL)
        some = found.sides > 0
        cell["pairs"].append(held(found, percent)[some].mean().round(4).item())
        cell["no_answer"].append(round(1 - some.mean().item(), 4))
        apart = efficacy.henderson_tilton_interval(
            *(Counts(c.sum(axis=1), n) for c in four), k, level=LEVEL
        )
        cell["independent"].append(held(apart, percent)[apart.sides > 0].mean().round(4).item())
    return cell


def units_cell(rng, units: int, between: float, repeats: int) -> dict:
    n, k, mean, percent = 20, 1.0, 3.0, 80

    def draw(m):
        return Counts(rng.negative_binomial(n * k, k / (k + m)), n)

    growth = np.exp(rng.normal(np.log(GROWTH), between, (repeats, units + 1)))
    found = efficacy.control_against_units(
        draw(np.full((repeats, units), mean)),
        draw(mean * growth[:, :-1]),
        draw(np.full(repeats, mean)),
        draw(mean * growth[:, -1] * (1 - percent / 100)),
        k,
        level=LEVEL,
    )
    return {
        "untreated_units": units,
        "between": between,
        "held": held(found, percent)[found.sides > 0].mean().round(4).item(),
    }


def percents(shares: list[float]) -> str:
    return " / ".join(f"{100 * share:.1f}" for share in shares)


def ratio_table(results: dict) -> list[str]:
    lines = [
        "| plants | k | mean before | ratio 0.5 / 1 / 2: held, % | no answer, % |",
        "|---|---|---|---|---|",
    ]
    for c in results["ratio"]:
        parts = [c["n"], c["k"], c["mean"], percents(c["held"]), percents(c["no_answer"])]
        lines.append("| " + " | ".join(map(str, parts)) + " |")
    return lines


def _control_table(cells: list[dict]) -> list[str]:
    lines = [
        "| plants | k | mean | recovered | profile | log | none left, % | no answer, % |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for c in cells:
        shares = [c[key] for key in (*efficacy.INTERVALS, "none_after", "no_answer")]
        parts = [c["n"], c["k"], c["mean"], *map(percents, shares)]
        lines.append("| " + " | ".join(map(str, parts)) + " |")
    return lines


def abbott_table(results: dict) -> list[str]:
    return _control_table(results["abbott"])


def tilton_table(results: dict) -> list[str]:
    return _control_table(results["tilton"])


def pairs_table(results: dict) -> list[str]:
    lines = [
        "| plants | mean | k | pairs | as if independent | no answer, % |",
        "|---|---|---|---|---|---|",
    ]
    for c in results["pairs"]:
        shares = [c[key] for key in ("pairs", "independent", "no_answer")]
        parts = [c["n"], c["mean"], c["k"], *map(percents, shares)]
        lines.append("| " + " | ".join(map(str, parts)) + " |")
    return lines


def units_table(results: dict) -> list[str]:
    sds = sorted({c["between"] for c in results["units"]})
    lines = ["| untreated units | " + " | ".join(f"ln growth differs by {sd}" for sd in sds) + " |"]
    lines.append("|---" * (len(sds) + 1) + "|")
    for units in sorted({c["untreated_units"] for c in results["units"]}):
        held_in = [c["held"] for c in results["units"] if c["untreated_units"] == units]
        lines.append(f"| {units} | " + " | ".join(f"{100 * h:.1f}" for h in held_in) + " |")
    return lines


TABLES = {
    "ratio": ratio_table,
    "abbott": abbott_table,
    "tilton": tilton_table,
    "pairs": pairs_table,
    "units": units_table,
}


def written(page: str, held: dict) -> str:
    """The text of a page with its tables as they are in the results."""
    return with_tables(page, {f"table: {name}": table(held) for name, table in TABLES.items()})


def measured(seed: int, repeats: int) -> dict:
    rng = np.random.default_rng(seed)
    grid = list(product(NS, KS, MEANS))
    return {
        **head(seed),
        "repeats": repeats,
        "level": LEVEL,
        "numpy": np.__version__,
        "scipy": scipy.__version__,
        "ratio": [ratio_cell(*cell) for cell in grid],
        "abbott": [control_cell(rng, *cell, repeats, before=False) for cell in grid],
        "tilton": [control_cell(rng, *cell, repeats, before=True) for cell in grid],
        "pairs": [
            pairs_cell(rng, n, mean, k, repeats)
            for n, mean, k in product((6, 10, 20, 60), (1, 5), (0.6, 5))
        ],
        "units": [
            units_cell(rng, units, between, repeats)
            for units, between in product((1, 2, 3, 5, 8), (0, 0.3, 0.6))
        ],
    }


def main() -> None:
    arguments = options(__doc__)
    arguments.add_argument("--seed", type=int, default=7)
    arguments.add_argument("--repeats", type=int, default=4000)
    arguments.add_argument("--docs", action="store_true")
    given = arguments.parse_args()
    held = results("change_coverage") if given.docs else measured(given.seed, given.repeats)
    if given.write:
        write_cells("change_coverage", held)
    if given.docs or given.write:
        for page in PAGES:
            page.write_text(written(page.read_text("utf-8"), held), encoding="utf-8")
    for name, table in TABLES.items():
        print(f"\n{name}", *table(held), sep="\n")


if __name__ == "__main__":
    main()
