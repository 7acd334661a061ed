"""How fast the families of science answer, beside a loop over a reference library in the same run.

    python bench/science_speed.py [--seed 20] [--write]

Each entry solves 100,000 problems (few entries say fewer) in one call. The reference solves its
first 1,000 (or fewer, as printed) one after the other, and its time is scaled to the same number;
the answers of those are compared, and a difference stops the run. Ratios are of the machine they
were run on; they fail no test. With --write they are kept in bench/results/science_speed.json and
in the table of docs/science/speed.md.
"""

from __future__ import annotations

import time
import warnings
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import scipy
import statsmodels
import statsmodels.api as sm
from scipy import integrate, optimize, stats
from statsmodels.stats.proportion import samplesize_confint_proportion

from benchwalk.science import degree_days, density, detection, efficacy, precision, stopping
from kept import ROOT, head, keep, options, with_tables

PAGE = ROOT / "docs" / "science" / "speed.md"
PROBLEMS, TIMED = 100_000, 1_000
Columns = tuple[np.ndarray, ...]


@dataclass(frozen=True)
class Entry:
    """One family: random problems, our answer to all of them, the reference's to one."""

    name: str
    asked: str
    library: str
    problems: Callable[[np.random.Generator, int], Columns]
    ours: Callable[..., np.ndarray]
    reference: Callable[..., float]
    rtol: float
    number: int = PROBLEMS
    timed: int = TIMED


def detection_problems(rng: np.random.Generator, number: int) -> Columns:
    size = rng.integers(50, 2000, number).astype(float)
    return rng.uniform(0.02, 0.2, number), size, rng.uniform(0.7, 1, number)


def plants(prevalence, population, sensitivity):
    return detection.plants_to_inspect(
        prevalence, population, 0.95, sensitivity, infested="ceil"
    ).plants


def plants_by_bisection(prevalence, population, sensitivity):
    size, infested = int(population), int(np.ceil(prevalence * population))
    met = np.arange(infested + 1)
    overlooked = (1 - sensitivity) ** met

    def missed(inspected):
        return stats.hypergeom.pmf(met, size, infested, inspected) @ overlooked

    low, high = 0, size
    if missed(size) > 0.05:
        return np.nan
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if missed(middle) <= 0.05 else (middle, high)
    return high


def precision_problems(rng: np.random.Generator, number: int) -> Columns:
    return rng.uniform(0.01, 0.9, number), rng.uniform(0.05, 0.5, number)


def units(share, relative):
    return precision.units_binomial(share, precision.half_width(relative, 0.95)).exact


def units_by_library(share, relative):
    return samplesize_confint_proportion(share, relative * share, alpha=0.05)


def stopping_problems(rng: np.random.Generator, number: int) -> Columns:
    low = rng.uniform(0.2, 3, number)
    high, k = low * rng.uniform(1.5, 4, number), rng.uniform(0.3, 5, number)
    return low, high, k, rng.uniform(0.1, 6, number)


def under_by_formula(low, high, k, mean):
    counts = stopping.NegativeBinomialCounts(k)
    lines = stopping.wald_lines(counts, low, high, alpha=0.1, beta=0.1)
    return stopping.wald_characteristic(lines, mean).under


def under_by_brentq(low, high, k, mean):
    d = np.log(high * (low + k) / (low * (high + k)))
    slope = k * np.log((high + k) / (low + k)) / d

    def log_expectation(u):
        return -k * np.log1p(-mean / k * np.expm1(u)) - u * slope

    # the root lies beyond the lowest point, where the slope of the cumulant is that of the line
    lowest = np.log(slope * (k + mean) / (mean * (k + slope)))
    end = np.log1p(k / mean) * (1 - 1e-13) if lowest > 0 else -1.0
    while log_expectation(end) <= 0:
        end *= 2
    h = optimize.brentq(log_expectation, lowest, end, xtol=1e-14) / d
    return (9.0**h - 1) / (9.0**h - 9.0**-h)


def exact_problems(rng: np.random.Generator, number: int) -> Columns:
    return (rng.uniform(0.1, 6, number),)


def _plan():
    lines = stopping.wald_lines(
        stopping.NegativeBinomialCounts(0.8), 1, 2, alpha=0.1, beta=0.1
    )  # fmt: skip
    return stopping.wald_table(lines, 40, fewest=5, cut="middle")


def under_exactly(mean):
    counts = stopping.NegativeBinomialCounts(0.8)
    return stopping.exact_characteristic(_plan(), counts, mean).under


def under_by_convolve(mean):
    """Totals up to the largest limit, added plant by plant with numpy.convolve."""
    table, under = _plan(), 0.0
    one = stats.nbinom.pmf(np.arange(400), 0.8, 0.8 / (0.8 + mean))
    carried, place = np.array([1.0]), np.arange(400)
    for n in range(table.most_units):
        carried = np.convolve(carried, one)[:400]
        last = n == table.most_units - 1
        low = place <= (table.cut if last else table.under[n])
        under += carried[low].sum()
        carried = np.where(low | (place >= table.over[n]), 0.0, carried)
    return under


def density_problems(rng: np.random.Generator, number: int) -> Columns:
    n = rng.integers(5, 61, number).astype(float)
    return rng.integers(1, 400, number).astype(float), n, rng.uniform(0.2, 5, number)


def width_of_mean(total, n, k):
    found = density.mean_interval(total, n, k, rule="exact")
    return found.high - found.low


def width_by_brentq(total, n, k):
    """Both limits where a tail of scipy.stats.nbinom is 5 %."""

    def limit(tail):
        return optimize.brentq(
            lambda log_mean: tail(k / (k + np.exp(log_mean))) - 0.05, -20, 20, xtol=1e-13
        )

    low = limit(lambda share: stats.nbinom.sf(total - 1, n * k, share))
    high = limit(lambda share: stats.nbinom.cdf(total, n * k, share))
    return np.exp(high) - np.exp(low)


def efficacy_problems(rng: np.random.Generator, number: int) -> Columns:
    totals = (rng.integers(5, 200, number).astype(float) for _ in range(4))
    n = rng.integers(10, 61, number).astype(float)
    return *totals, n, rng.uniform(0.2, 5, number)


def _control(*columns, interval):
    *totals, n, k = columns
    cells = [efficacy.Counts(total, n) for total in totals]
    return efficacy.henderson_tilton_interval(*cells, k, interval=interval)


def lower_limit_by_log(*columns):
    return _control(*columns, interval="log").low


def lower_limit_by_glm(untreated_before, untreated_after, treated_before, treated_after, n, k):
    y = np.array([untreated_before, untreated_after, treated_before, treated_after])
    x = np.array([[1, 0, 0, 0], [1, 0, 1, 0], [1, 1, 0, 0], [1, 1, 1, 1]])
    family = sm.families.NegativeBinomial(alpha=1 / (n * k))
    with warnings.catch_warnings():
        # as many parameters as totals: there is nothing left over, and the library says so
        warnings.simplefilter("ignore")
        high = sm.GLM(y, x, family=family).fit(tol=1e-12).conf_int(0.1)[3, 1]
    return -100 * np.expm1(high)


def lower_limit_by_profile(*columns):
    return _control(*columns, interval="profile").low


def lower_limit_by_search(untreated_before, untreated_after, treated_before, treated_after, n, k):
    """Profile likelihood by an inner search over the three other means."""
    totals = np.array([treated_after, treated_before, untreated_after, untreated_before])
    sign = np.array([1, -1, -1, 1])

    def loss_and_slope(free, psi):
        log_mean = np.append(free, psi - sign[:3] @ free)
        share = n * np.exp(log_mean) / (n * k + n * np.exp(log_mean))
        loss = (totals + n * k) * np.log1p(np.exp(log_mean) / k) - totals * log_mean
        slope = (totals + n * k) * share - totals
        return loss.sum(), slope[:3] - sign[:3] * slope[3]

    def least(psi, start):
        return optimize.minimize(
            loss_and_slope, start, (psi,), jac=True, method="BFGS", options={"gtol": 1e-9}
        ).fun

    start = np.log(totals / n)
    psi, fall = sign @ start, stats.norm.ppf(0.95) ** 2 / 2
    best = least(psi, start[:3])
    high = optimize.brentq(lambda p: least(p, start[:3]) - best - fall, psi, psi + 20, xtol=1e-9)
    return -100 * np.expm1(high)


def days(rng: np.random.Generator, number: int) -> Columns:
    minimum = rng.uniform(2, 22, number)
    lower = rng.uniform(4, 13, number)
    return minimum, minimum + rng.uniform(1, 25, number), lower, lower + rng.uniform(12, 25, number)


def heat(minimum, maximum, lower, upper):
    return degree_days.single_sine(minimum, maximum, lower, upper).degree_days


def heat_by_quad(minimum, maximum, lower, upper):
    middle, half = (maximum + minimum) / 2, (maximum - minimum) / 2
    kinks = np.arcsin(np.clip((np.array([lower, upper]) - middle) / half, -1, 1))

    def above(phase):
        return min(max(middle + half * np.sin(phase) - lower, 0.0), upper - lower)

    # half a turn, from the coldest to the warmest
    area, _ = integrate.quad(above, -np.pi / 2, np.pi / 2, points=kinks, epsabs=1e-11)
    return area / np.pi


ENTRIES = [
    Entry(
        "detection",
        "plants to inspect, finite unit, imperfect scout",
        "bisection over scipy.stats.hypergeom",
        detection_problems,
        plants,
        plants_by_bisection,
        rtol=0,
    ),
    Entry(
        "precision",
        "units for a share infested",
        "statsmodels samplesize_confint_proportion",
        precision_problems,
        units,
        units_by_library,
        rtol=1e-9,
    ),
    Entry(
        "stopping, by formula",
        "lines and chance of under, negative binomial",
        "scipy.optimize.brentq",
        stopping_problems,
        under_by_formula,
        under_by_brentq,
        rtol=1e-5,
    ),
    Entry(
        "stopping, exactly",
        "one plan of 40 plants at many means",
        "numpy.convolve",
        exact_problems,
        under_exactly,
        under_by_convolve,
        rtol=1e-8,
        number=1_000,
        timed=200,
    ),
    Entry(
        "density",
        "mean with exact limits, negative binomial",
        "scipy.optimize.brentq over scipy.stats.nbinom",
        density_problems,
        width_of_mean,
        width_by_brentq,
        rtol=1e-7,
    ),
    Entry(
        "efficacy, log",
        "lower limit of control, four cells",
        "statsmodels GLM, negative binomial",
        efficacy_problems,
        lower_limit_by_log,
        lower_limit_by_glm,
        rtol=1e-5,
    ),
    Entry(
        "efficacy, profile",
        "lower limit of control, four cells",
        "scipy.optimize.minimize in brentq",
        efficacy_problems,
        lower_limit_by_profile,
        lower_limit_by_search,
        rtol=1e-4,
        timed=50,
    ),
    Entry(
        "degree-days",
        "single sine, horizontal cut-off",
        "scipy.integrate.quad",
        days,
        heat,
        heat_by_quad,
        rtol=1e-7,
    ),
]


def measured(entry: Entry, seed: int) -> dict:
    columns = entry.problems(np.random.default_rng(seed), entry.number)
    entry.ours(*(column[:10] for column in columns))  # what is loaded once is not timed
    begun = time.perf_counter()
    answers = entry.ours(*columns)
    ours = time.perf_counter() - begun
    begun = time.perf_counter()
    expected = [
        entry.reference(*row)
        for row in zip(*(column[: entry.timed] for column in columns), strict=True)
    ]
    loop = (time.perf_counter() - begun) * entry.number / entry.timed
    np.testing.assert_allclose(answers[: entry.timed], expected, rtol=entry.rtol, atol=1e-12)
    return {
        "name": entry.name,
        "asked": entry.asked,
        "library": entry.library,
        "problems": entry.number,
        "reference_problems": entry.timed,
        "seconds": round(ours, 3),
        "reference_seconds_scaled": round(loop, 1),
        "times_faster": round(loop / ours, 1),
    }


def table(results: dict) -> list[str]:
    lines = [
        "| family | asked | problems | seconds | loop over | timed on | seconds, scaled "
        "| times faster |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for row in results["entries"]:
        cells = [
            row["name"],
            row["asked"],
            f"{row['problems']:,}",
            f"{row['seconds']:g}",
            row["library"],
            f"{row['reference_problems']:,}",
            f"{row['reference_seconds_scaled']:g}",
            f"{row['times_faster']:g}",
        ]
        lines.append("| " + " | ".join(cells) + " |")
    return lines


def main() -> None:
    parser = options(__doc__)
    parser.add_argument("--seed", type=int, default=20)
    asked = parser.parse_args()
    results = {
        **head(asked.seed),
        "numpy": np.__version__,
        "scipy": scipy.__version__,
        "statsmodels": statsmodels.__version__,
        "entries": [measured(entry, asked.seed) for entry in ENTRIES],
    }
    lines = table(results)
    keep("science_speed", results, write=asked.write)
    if asked.write:
        PAGE.write_text(with_tables(PAGE.read_text("utf-8"), {"speed": lines}), encoding="utf-8")
    print("\n".join(lines))


if __name__ == "__main__":
    main()
