"""How often the interval of a density holds the true mean: k known, k learned, and a change.

    python bench/density_coverage.py [--seed 20] [--repeats 2000] [--write]

Prints three tables; with --write keeps them in bench/results/density_coverage.json.

known    exact: negative binomial probabilities are summed over all totals, nothing is simulated.
learned  simulated: k is learned from earlier rounds of n plants each, whose means vary between
         rounds (sd of ln mean 0.8), and then used for the interval of the next round.
ratio    exact: probabilities are summed over all pairs of totals with at least one individual.
"""

from __future__ import annotations

import time
from itertools import product

import numpy as np
import scipy
from scipy import stats

from benchwalk.science import density, dispersion
from benchwalk.science.limits import RULES
from kept import head, options, write_cells

MEANS = (0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20)
KS = (0.2, 0.5, 1, 2, 5)
NS = (10, 15, 20, 30, 60)
LEVEL = 0.90
# totals left out of the exact sums have together at most this probability
LEFT_OUT = 1e-10
ROUNDS = (0, 3, 6, 9, 26)
SD_BETWEEN_ROUNDS = 0.8
PRIOR = dispersion.PRIOR_K["plant"]
RATIOS = (0.1, 0.5, 1, 2, 5)
RATIO_MEANS = (0.1, 0.5, 2, 10)
RATIO_KS = (0.3, 0.6, 1.5, 5)
RATIO_NS = ((10, 10), (20, 20), (20, 60), (60, 20))


def totals(mean: float, k: float, n: int) -> tuple[np.ndarray, np.ndarray]:
    """All totals that matter over n plants, and their probabilities."""
    size = n * k
    share = size / (size + n * mean)
    t = np.arange(stats.nbinom.isf(LEFT_OUT, size, share) + 1)
    return t, stats.nbinom.pmf(t, size, share)


def exact_coverage(mean: float, k: float, n: int, rule: str, level: float = LEVEL) -> float:
    """Probability that the interval holds the mean, k being known."""
    t, weight = totals(mean, k, n)
    found = density.mean_interval(t, n, k, level=level, rule=rule)
    return float(weight[(found.low <= mean) & (mean <= found.high)].sum())


def known() -> list[dict]:
    return [
        {"mean": m, "k": k, "n": n, "expected": n * m}
        | {rule: round(exact_coverage(m, k, n, rule), 4) for rule in RULES}
        for m, k, n in product(MEANS, KS, NS)
    ]


def rounds_of_counts(rng, mean, k, n, rounds, repeats):
    means = mean * np.exp(rng.normal(0, SD_BETWEEN_ROUNDS, (repeats, rounds, 1)))
    return rng.negative_binomial(k, k / (k + means), (repeats, rounds, n))


def estimates(counts: np.ndarray, n: int) -> dict[str, np.ndarray]:
    """k by each way of learning it; the prior where a way has no answer."""
    mean, variance = counts.mean(axis=-1), counts.var(axis=-1, ddof=1)
    moments = dispersion.common_k_by_moments(mean, variance, np.full(mean.shape, n)).k
    return {
        "learned": dispersion.k_from_rounds(mean, variance, n, PRIOR).k,
        "moments": np.where(np.isnan(moments), PRIOR, moments),
    }


def learned(seed: int, repeats: int) -> list[dict]:
    rng = np.random.default_rng(seed)
    return [
        _learned_cell(rng, m, k, n, rounds, repeats)
        for rounds, m, k, n in product(ROUNDS, MEANS, KS, NS)
    ]


def _learned_cell(rng, mean, k, n, rounds, repeats) -> dict:
    counts = rounds_of_counts(rng, mean, k, n, rounds, repeats)
    total = rng.negative_binomial(n * k, k / (k + mean), repeats)
    cell = {"rounds": rounds, "mean": mean, "k": k, "n": n}
    ways = estimates(counts, n) if rounds else {"learned": np.full(repeats, PRIOR)}
    for way, used in ways.items():
        found = density.mean_interval(total, n, used, level=LEVEL)
        held = (found.low <= mean) & (mean <= found.high)
        error = np.log(np.clip(used, 0.01, 100) / k)
        cell[way] = {
            "coverage": round(float(held.mean()), 4),
            "median_k": round(float(np.median(used)), 3),
            "rms_error_ln_k": round(float(np.sqrt(np.mean(error**2))), 3),
        }
    return cell


def ratio() -> list[dict]:
    cases = product(RATIO_MEANS, RATIOS, RATIO_KS, RATIO_NS)
    return [
        {"mean_before": m, "ratio": r, "k": k, "n_before": n0, "n_now": n1}
        | {"coverage": round(ratio_coverage(m, r, k, n0, n1), 4)}
        for m, r, k, (n0, n1) in cases
        if m * r <= max(MEANS)
    ]


def ratio_coverage(mean_before: float, true: float, k: float, n_before: int, n_now: int) -> float:
    t0, w0 = totals(mean_before, k, n_before)
    t1, w1 = totals(mean_before * true, k, n_now)
    # limits depend on one total each, so they are found once and combined for all pairs
    found = density.ratio_interval(t1[:, None], n_now, t0[None, :], n_before, k, level=LEVEL)
    weight = w1[:, None] * w0[None, :]
    some = found.reason != "none_counted"
    held = some & (found.low <= true) & (true <= found.high)
    return float(weight[held].sum() / weight[some].sum())


def seconds_for_10_000_rows(seed: int) -> float:
    rng = np.random.default_rng(seed)
    total, n = rng.integers(0, 400, 10_000), rng.integers(5, 61, 10_000)
    k = rng.uniform(0.2, 5, 10_000)
    start = time.perf_counter()
    density.mean_interval(total, n, k)
    return time.perf_counter() - start


def percent(share: float) -> str:
    return f"{100 * share:.1f}"


def known_table(results: dict) -> list[str]:
    """Lowest and highest coverage of each rule, for many and for few expected individuals."""
    lines = [
        "| rule | n x mean 5 or more: lowest | highest | below 5: lowest | highest |",
        "|---|---|---|---|---|",
    ]
    for rule in RULES:
        many = [c[rule] for c in results["known"] if c["expected"] >= 5]
        few = [c[rule] for c in results["known"] if c["expected"] < 5]
        figures = (min(many), max(many), min(few), max(few))
        lines.append("| " + " | ".join([rule, *map(percent, figures)]) + " |")
    return lines


def learned_table(results: dict) -> list[str]:
    lines = [
        "| earlier rounds | lowest coverage | average | cells under 82 % | rms error of ln k "
        "| median k for true k 0.2, 0.5, 1, 2, 5 |",
        "|---|---|---|---|---|---|",
    ]
    for rounds in ROUNDS:
        cells = [c for c in results["learned"] if c["rounds"] == rounds]
        lines.append(_learned_line(str(rounds), cells, "learned"))
        if rounds == max(ROUNDS):
            lines.append(_learned_line(f"{rounds}, by moments", cells, "moments"))
    return lines


def _learned_line(name: str, cells: list[dict], way: str) -> str:
    coverage = [c[way]["coverage"] for c in cells]
    error = np.mean([c[way]["rms_error_ln_k"] for c in cells])
    used = [np.median([c[way]["median_k"] for c in cells if c["k"] == k]) for k in KS]
    parts = [
        name,
        percent(min(coverage)),
        percent(float(np.mean(coverage))),
        str(sum(share < 0.82 for share in coverage)),
        f"{error:.2f}",
        ", ".join(f"{k:.2f}" for k in used),
    ]
    return "| " + " | ".join(parts) + " |"


def ratio_table(results: dict) -> list[str]:
    lines = ["| individuals expected, fewer of the two | lowest | average | highest |"]
    lines.append("|---|---|---|---|")
    groups = {"3 or more": [], "less than 3": []}
    for c in results["ratio"]:
        fewer = c["mean_before"] * min(c["n_before"], c["ratio"] * c["n_now"])
        groups["3 or more" if fewer >= 3 else "less than 3"].append(c["coverage"])
    for name, shares in groups.items():
        figures = (min(shares), float(np.mean(shares)), max(shares))
        lines.append("| " + " | ".join([name, *map(percent, figures)]) + " |")
    return lines


TABLES = {"known": known_table, "learned": learned_table, "ratio": ratio_table}


def main() -> None:
    arguments = options(__doc__)
    arguments.add_argument("--seed", type=int, default=20)
    arguments.add_argument("--repeats", type=int, default=2000)
    given = arguments.parse_args()
    results = {
        **head(given.seed),
        "repeats": given.repeats,
        "level": LEVEL,
        "numpy": np.__version__,
        "scipy": scipy.__version__,
        "seconds_for_10_000_rows": round(seconds_for_10_000_rows(given.seed), 3),
        "known": known(),
        "learned": learned(given.seed, given.repeats),
        "ratio": ratio(),
    }
    if given.write:
        write_cells("density_coverage", results)
    for name, table in TABLES.items():
        print(f"\n{name}", *table(results), sep="\n")
    print(f"\n10,000 rows in {results['seconds_for_10_000_rows']} s")


if __name__ == "__main__":
    main()
