"""Series for the tests of the forecast, made by a small model of their own."""

import numpy as np

from benchwalk.science import forecast

PESTS = forecast.Pests(r30=np.array([0.2]), t_low=np.array([10.0]))


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
        pests=given.pop("pests", PESTS),
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
        pests=given.pop("pests", PESTS),
        pest=np.zeros(n, np.int64),
        **given,
    )


def sprayed(day, kind="contact", n=1, **more):
    """A treatment of each series on a day."""
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
