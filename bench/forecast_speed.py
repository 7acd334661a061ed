"""How fast the forecast is: 1e5 series and 1.7e6 counts, filtered again with all forecasts.

Plants and cards, one treatment in every second series, in one thread; the peak memory is that of
this process. Seconds are those of the processor, for other programs share the machine; those of the
clock stand beside. Rivals are timed on a few of the same series and scaled, as said beside:
exponential smoothing (Holt's, damped, statsmodels) and a state-space fit of each series (local
linear trend by maximum likelihood, statsmodels). The dynamic GLM of bench/forecast_rivals.py takes
all series at once, as the filter does, and knows no treatment and no temperature. A figure of the
machine it was run on; it fails no test.
"""

from __future__ import annotations

import resource
import time
import warnings
from types import SimpleNamespace
from typing import Any

import numpy as np

from benchwalk.science import forecast
from benchwalk.science.forecast import Kind, Pests, Series, Temperature, Treatments
from forecast_rivals import dynamic_glm
from kept import head, keep, options

SEED = 20
SERIES, WALKS = 100_000, 17
GOALS = {"seconds": 20.0, "gigabytes": 2.0, "seconds_of_a_new_walk": 1.0}


def made(rng: np.random.Generator, series: int, walks: int) -> Series:
    """Invented series: weekly walks a day early or late, a quarter of them cards."""
    jitter = rng.integers(-1, 2, (series, walks))
    day = np.arange(walks) * 7.0 + jitter
    density = 0.5 * np.exp(np.cumsum(rng.normal(0.1, 0.4, (series, walks)), axis=1))
    card = np.arange(series) % 4 == 3
    effort = np.where(card, 7.0, 20.0)
    mean = effort[:, None] * density
    count = rng.negative_binomial(4.0, 4.0 / (4.0 + mean)).astype(float)
    flat = np.repeat(card, walks)
    sprayed = np.arange(0, series, 2)
    return Series(
        series=np.repeat(np.arange(series), walks),
        day=day.ravel(),
        count=count.ravel(),
        effort=np.repeat(effort, walks),
        plants=np.where(flat, 1.0, 20.0),
        kind=np.where(flat, Kind.CARD, Kind.COUNT),
        exposure=np.where(flat, 7.0, 0.0),
        reference=np.full(series, 0.5),
        threshold=np.full(series, 1.0),
        pests=Pests(np.array([0.2, 0.25]), np.array([10.0, 8.0])),
        pest=np.arange(series) % 2,
        method=card.astype(np.int64),
        house=np.arange(series) % 20,
        temperature=Temperature(0, rng.normal(21, 3, (20, walks * 7))),
        treatments=Treatments(
            sprayed, rng.integers(20, 90, len(sprayed)) + 0.6, ("contact",) * len(sprayed)
        ),
    )


def timed(what: Any, *args: Any, **named: Any) -> tuple[float, Any]:
    begun = time.process_time()
    found = what(*args, **named)
    return time.process_time() - begun, found


def peak_gigabytes() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2


def smoothed(counts: np.ndarray[Any, Any]) -> None:
    from statsmodels.tsa.holtwinters import ExponentialSmoothing  # noqa: PLC0415 - a rival's

    ExponentialSmoothing(counts, trend="add", damped_trend=True).fit().forecast(14)


def state_space(counts: np.ndarray[Any, Any]) -> None:
    from statsmodels.tsa.statespace.structural import (  # noqa: PLC0415 - a rival's
        UnobservedComponents,
    )

    UnobservedComponents(counts, "lltrend").fit(disp=False).forecast(14)


def rival(fit: Any, series: Series, walks: int, few: int) -> float:
    """Seconds of one series."""
    logs = np.log(series.count[: few * walks].reshape(few, walks) + 0.5)
    fit(logs[0])  # imports are not timed
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # fits of short series that do not settle
        return sum(timed(fit, row)[0] for row in logs) / few


def dynamic_glm_of_all(series: Series) -> float:
    """Seconds of the dynamic GLM on the same counts, all series at once."""
    assert series.method is not None
    seen = SimpleNamespace(
        walk_series=series.series,
        walk_day=series.day,
        count=series.count,
        effort=series.effort,
        units=series.plants,
        card=series.method == 1,
        reference=series.reference,
        series=series.number,
    )
    return timed(dynamic_glm, seen, (7, 14))[0]


def measured(number: int, walks: int, few: int) -> dict[str, Any]:
    series = made(np.random.default_rng(SEED), number, walks)
    begun = time.perf_counter()
    seconds, result = timed(forecast.run, series)
    by_the_clock = time.perf_counter() - begun
    memory = peak_gigabytes()
    last = (walks - 1) * 7.0 - 3.5
    before = forecast.run(forecast.until(series, last))
    new, _ = timed(forecast.step, before.state, forecast.since(series, last))
    each = {"exponential_smoothing": smoothed, "state_space_fit": state_space}
    a_series = {name: rival(fit, series, walks, few) for name, fit in each.items()}
    glm = dynamic_glm_of_all(series)
    return {
        "series": number,
        "counts": number * walks,
        "walks_forecast": len(result.series),
        "seconds": round(seconds, 2),
        "seconds_by_the_clock": round(by_the_clock, 2),
        "gigabytes": round(memory, 2),
        "seconds_of_a_new_walk": round(new, 2),
        "dynamic_glm": {"seconds": round(glm, 2), "ratio": round(glm / seconds, 2)},
        "rivals": {
            name: {
                "timed_series": few,
                "seconds_a_series": round(one, 5),
                "seconds_scaled": round(one * number, 0),
                "ratio": round(one * number / seconds, 0),
            }
            for name, one in a_series.items()
        },
    }


def main() -> None:
    given = options(__doc__)
    given.add_argument("--series", type=int, default=SERIES)
    given.add_argument("--few", type=int, default=50)
    asked = given.parse_args()
    found = measured(asked.series, WALKS, asked.few)
    keep("forecast_speed", {**head(SEED), "goals": GOALS, **found}, write=asked.write)


if __name__ == "__main__":
    main()
