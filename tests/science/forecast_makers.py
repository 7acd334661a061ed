"""Small invented series for the tests of forecasts; the seasons that judge them are elsewhere."""

from dataclasses import replace

import numpy as np

from benchwalk.science import forecast
from benchwalk.science.forecast import DEFAULTS, Group, Pests, Series

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
    """The series with one treatment of each of the first so many."""
    number = series.number if number is None else number
    return replace(series, treatments=spray_on(day, kind, number))


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


def one(day, count, effort=20.0, *, threshold=1.0, reference=0.3, **more):
    """One series of plant counts; ``effort`` one number or one for each count."""
    day = np.asarray(day, float)
    efforts = np.broadcast_to(np.asarray(effort, float), day.shape)
    given = {"plants": efforts} | more
    return forecast.Series(
        series=np.zeros(len(day), np.int64),
        day=day,
        count=np.asarray(count, float),
        effort=efforts,
        reference=np.array([reference]),
        threshold=np.array([threshold]),
        pests=given.pop("pests", STEADY),
        **given,
    )


def many(days, counts, effort=20.0, *, threshold=1.0, reference=0.3, **more):
    """Series side by side, all walked on the same days; counts are (series, walk)."""
    n, walks = np.shape(counts)
    efforts = np.full(n * walks, float(effort))
    given = {"plants": efforts} | more
    return forecast.Series(
        series=np.repeat(np.arange(n), walks),
        day=np.tile(np.asarray(days, float), n),
        count=np.asarray(counts, float).ravel(),
        effort=efforts,
        reference=np.full(n, reference),
        threshold=np.full(n, threshold),
        pests=given.pop("pests", STEADY),
        pest=np.zeros(n, np.int64),
        **given,
    )


def spray_on(day, kind="contact", n=1, **more):
    """A treatment of each of n series on a day."""
    return forecast.Treatments(np.arange(n), np.full(n, float(day)), (kind,) * n, **more)


def counted(rng, log_density, effort=20.0, k=0.6, so2=0.10):
    """Counts of a walk, with the spread between plants and the round error of the model."""
    size = 1 / (1 / (effort * k) + so2)
    mean = effort * np.exp(log_density)
    return rng.negative_binomial(size, size / (size + mean))


def grown(rng, n, days, *, start=-1.0, kill=None, killed_on=None):
    """Log densities (series, day) that grow as the start values say; a kill falls at once."""
    g = forecast.DEFAULTS.common
    rate = g.a * 0.2 / 20 * 10
    d = rng.normal(0, g.sg, n)
    x = np.full(n, float(start)) if np.ndim(start) == 0 else np.array(start, float)
    out, before = [], days[0]
    for day in days:
        gap = day - before
        d = np.exp(-g.rho * gap) * d + rng.normal(
            0, g.sg * np.sqrt(1 - np.exp(-2 * g.rho * gap)), n
        )
        x = x + rate * gap + d * gap + rng.normal(0, np.sqrt(g.q * gap), n) if gap else x
        if killed_on is not None and before < killed_on <= day:
            x = x - kill
        out.append(x)
        before = day
    return np.array(out).T


def same(one, other, atol=0.0, rtol=0.0):
    """Every array of two results agrees."""
    names = ("now_mean", "now_sd", "mean", "sd", "over", "residual", "log_evidence", "ahead_sd")
    for name in names:
        np.testing.assert_allclose(
            getattr(one, name), getattr(other, name), atol=atol, rtol=rtol, err_msg=name
        )
