"""Small invented series for the tests of forecasts; the seasons that judge them are elsewhere."""

from dataclasses import replace

import numpy as np

from benchwalk.science import forecast
from benchwalk.science.forecast import DEFAULTS, Group, Pests, Series, Treatments

STEADY = Pests(np.array([0.2]), np.array([10.0]))  # invented
#: no trend of its own: growth of the pest taken as 0
FLAT = replace(DEFAULTS, common=Group(a=0.0))


def weekly(counts, plants=20, *, threshold=1.0, days=None, reference=0.5, pests=STEADY, **more):
    """Series of weekly walks, (series, walks); NaN is a walk that was not counted."""
    counts = np.atleast_2d(np.asarray(counts, float))
    series, walks = counts.shape
    days = np.arange(walks) * 7.0 if days is None else np.asarray(days, float)
    full = np.full(series * walks, float(plants))
    return Series(
        series=np.repeat(np.arange(series), walks),
        day=np.tile(days, series),
        count=counts.ravel(),
        effort=full,
        plants=full,
        reference=np.full(series, float(reference)),
        threshold=np.full(series, float(threshold)),
        pests=pests,
        **more,
    )


def sprayed(series, day, kind="contact", number=None):
    """One treatment of each of the first so many series."""
    number = series.number if number is None else number
    return replace(
        series,
        treatments=Treatments(np.arange(number), np.full(number, float(day)), (kind,) * number),
    )


def counted(rng, density, plants=20, k=0.6, so2=0.10):
    """Counts on so many plants: clumped between plants, with an error of the whole round."""
    density = np.asarray(density, float)
    mean = density * plants
    if so2 > 0:
        mean = mean * rng.gamma(1 / so2, so2, density.shape)
    size = plants * k
    return rng.negative_binomial(size, size / (size + mean)).astype(float)


def lived(rng, series, walks, group=DEFAULTS.common, growth=0.2 * 0.5, start=0.5, day_step=7.0):
    """Log densities at weekly walks of the filter's own motion, without a treatment."""
    x = np.log(start) + rng.normal(0, 1.0, series)
    d = rng.normal(0, group.sg, series)
    every = [x]
    for _ in range(walks - 1):
        for _ in range(int(day_step)):
            x = x + group.a * growth + d + rng.normal(0, np.sqrt(group.q), series)
            d = d * np.exp(-group.rho) + rng.normal(
                0, group.sg * np.sqrt(1 - np.exp(-2 * group.rho)), series
            )
        every.append(x)
    return np.stack(every, axis=1)


def same(one, other, atol=0.0, rtol=0.0):
    """Every array of two results agrees."""
    names = ("now_mean", "now_sd", "mean", "sd", "over", "residual", "log_evidence", "ahead_sd")
    for name in names:
        np.testing.assert_allclose(
            getattr(one, name), getattr(other, name), atol=atol, rtol=rtol, err_msg=name
        )


__all__ = ["FLAT", "STEADY", "counted", "forecast", "lived", "same", "sprayed", "weekly"]
