"""Distributions over arrays, in numpy alone.

Normal: Hart1968 as given by West2005 (double precision). Gamma function: Stirling's series
(Abramowitz1964, 6.1.40). Incomplete beta: the continued fraction of Press2007, section 6.4.
Gauss-Hermite nodes from numpy.
"""

from __future__ import annotations

import numpy as np

from benchwalk.science.arguments import FloatArray

ROOT_2PI = float(np.sqrt(2 * np.pi))
NODES, _WEIGHTS = np.polynomial.hermite.hermgauss(15)
LOG_WEIGHTS = np.log(_WEIGHTS) + NODES**2
NORMAL_NODES = NODES * np.sqrt(2.0)
NORMAL_WEIGHTS = _WEIGHTS / np.sqrt(np.pi)
_ABOVE = (
    3.52624965998911e-02,
    0.700383064443688,
    6.37396220353165,
    33.912866078383,
    112.079291497871,
    221.213596169931,
    220.206867912376,
)
_BELOW = (
    8.83883476483184e-02,
    1.75566716318264,
    16.064177579207,
    86.7807322029461,
    296.564248779674,
    637.333633378831,
    793.826512519948,
    440.413735824752,
)
_FAR = 7.07106781186547
_TINY = 1e-300
_STEPS = 300


def _horner(coefficients: tuple[float, ...], x: FloatArray) -> FloatArray:
    total = np.full_like(x, coefficients[0])
    for c in coefficients[1:]:
        total *= x
        total += c
    return total


def normal_cdf(z: FloatArray) -> FloatArray:
    """Probability of a standard normal below z (West2005); NaN stays NaN."""
    z = np.asarray(z, dtype=np.float64)
    x = np.minimum(np.abs(z), 38.0)
    tail = _horner(_ABOVE, x)
    tail /= _horner(_BELOW, x)
    far = x > _FAR
    if far.any():
        y = x[far]
        tail[far] = 1 / ROOT_2PI / (y + 1 / (y + 2 / (y + 3 / (y + 4 / (y + 0.65)))))
    x *= x
    x *= -0.5
    tail *= np.exp(x, out=x)
    return np.where(z > 0, 1 - tail, tail)


def normal_quantile(level: float) -> float:
    """The z below which a standard normal lies with chance ``level``, by Newton steps.

    Raises
    ------
    ValueError : a level outside (0, 1).
    """
    if not 0 < level < 1:
        raise ValueError(f"got level {level:g}; expected a share in (0, 1); give e.g. 0.9")
    tail = min(level, 1 - level)
    z = -np.sqrt(max(-2 * np.log(2 * tail), 0.0))
    for _ in range(60):
        density = np.exp(-z * z / 2) / ROOT_2PI
        step = (float(normal_cdf(np.array([z]))[0]) - tail) / density
        z -= min(max(step, -0.5), 0.5)
    return float(z if level < 0.5 else -z)


def tail_quantile(chance: FloatArray) -> FloatArray:
    """The z that is exceeded with a chance of at most a half, by Newton steps on its log."""
    q = np.clip(chance, 1e-15, 0.5)
    z = np.sqrt(-2 * np.log(2 * q))
    for _ in range(8):
        tail = normal_cdf(-z)
        z += np.log(tail / q) * tail * ROOT_2PI * np.exp(z * z / 2)
    return np.asarray(z)


def log_gamma(x: FloatArray) -> FloatArray:
    """Natural log of the gamma function for x > 0 (Abramowitz1964, 6.1.40, shifted by 8)."""
    x = np.asarray(x, dtype=np.float64)
    # ln of the product of the 8 factors, in two halves that cannot overflow
    shift = np.log(x * (x + 1) * (x + 2) * (x + 3))
    shift += np.log((x + 4) * (x + 5) * (x + 6) * (x + 7))
    y = x + 8
    i2 = 1 / (y * y)
    series = (1 / 12 - i2 * (1 / 360 - i2 * (1 / 1260 - i2 * (1 / 1680 - i2 / 1188)))) / y
    return np.asarray((y - 0.5) * np.log(y) - y + 0.5 * np.log(2 * np.pi) + series - shift)


def log_beta(a: FloatArray, b: FloatArray) -> FloatArray:
    """Natural log of the beta function for a, b > 0 (Abramowitz1964, 6.2.2)."""
    return np.asarray(log_gamma(a) + log_gamma(b) - log_gamma(np.asarray(a) + b))


def _fraction(a: FloatArray, b: FloatArray, x: FloatArray) -> FloatArray:
    """Continued fraction of the incomplete beta (Press2007, eq. 6.4.5, Lentz's method).

    Arrays of one axis. As soon as half have come to their value only the others go on.
    """
    out, going = np.empty_like(x), np.arange(len(x))
    c = np.ones_like(x)
    d = 1 / _away(1 - (a + b) * x / (a + 1))
    h = d.copy()
    for m in range(1, _STEPS):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        d = 1 / _away(1 + even * d)
        c = _away(1 + even / c)
        h *= d * c
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        d = 1 / _away(1 + odd * d)
        c = _away(1 + odd / c)
        h *= d * c
        moving = np.abs(d * c - 1) >= 1e-12
        left = np.count_nonzero(moving)
        if 2 * left <= len(going):
            out[going] = h
            if left == 0:
                return out
            going = going[moving]
            a, b, x, c, d, h = (held[moving] for held in (a, b, x, c, d, h))
    out[going] = h
    return out


def _away(x: FloatArray) -> FloatArray:
    return np.where(np.abs(x) < _TINY, _TINY, x)


def incomplete_beta(
    a: FloatArray, b: FloatArray, x: FloatArray, log_b: FloatArray | None = None
) -> FloatArray:
    """Regularised incomplete beta function I_x(a, b), a and b > 0, x in [0, 1].

    ``log_b`` is log B(a, b), where it is known already: it is the same for every x.
    """
    log_b = log_beta(a, b) if log_b is None else log_b
    a, b, x, log_b = (np.array(v, dtype=np.float64) for v in np.broadcast_arrays(a, b, x, log_b))
    swapped = x > (a + 1) / (a + b + 2)
    a, b = np.where(swapped, b, a), np.where(swapped, a, b)
    x = np.where(swapped, 1 - x, x)
    inside = np.clip(x, _TINY, 1 - 1e-16)
    front = a * np.log(inside) + b * np.log1p(-inside) - log_b
    fraction = _fraction(*(v.ravel() for v in (a, b, inside))).reshape(x.shape)
    below = np.where(x <= 0, 0.0, np.exp(front) * fraction / a)
    return np.asarray(np.clip(np.where(swapped, 1 - below, below), 0, 1))


def counts_above(
    count: FloatArray, mean: FloatArray, size: FloatArray, log_b: FloatArray | None = None
) -> FloatArray:
    """P(Y >= count) of a negative binomial with this mean and size; 1 for a count of 0.

    ``log_b`` is log B(count, size), where it is known already: it is the same for every mean.
    """
    least = np.maximum(count, 1.0)
    some = incomplete_beta(least, size, mean / (size + mean), log_b)
    return np.where(np.asarray(count) <= 0, 1.0, some)


def next_count_cdf(
    count: FloatArray, effort: FloatArray, size: FloatArray, mean: FloatArray, sd: FloatArray
) -> FloatArray:
    """P(Y <= count) of a negative binomial mixed over a normal log density (15 nodes)."""
    total = np.zeros(np.broadcast_shapes(np.shape(count), np.shape(mean)))
    more = np.asarray(count) + 1.0
    log_b = log_beta(np.maximum(more, 1.0), size)
    for node, weight in zip(NORMAL_NODES, NORMAL_WEIGHTS, strict=True):
        total += weight * (1 - counts_above(more, effort * np.exp(mean + node * sd), size, log_b))
    return total


def next_count_chance(
    count: FloatArray, effort: FloatArray, size: FloatArray, mean: FloatArray, sd: FloatArray
) -> FloatArray:
    """P(Y = count) of the same, for counts of 0 and more.

    Ways to come to a count are 1 / ((size + count) B(count + 1, size)), whatever the mean.
    """
    total = np.zeros(np.broadcast_shapes(np.shape(count), np.shape(mean)))
    ways = -log_beta(np.asarray(count) + 1.0, size) - np.log(size + count)
    for node, weight in zip(NORMAL_NODES, NORMAL_WEIGHTS, strict=True):
        expected = effort * np.exp(mean + node * sd)
        log_chance = ways + size * np.log(size / (size + expected))
        log_chance += count * np.log(expected / (size + expected))
        total += weight * np.exp(log_chance)
    return total


def next_count_quantile(
    level: float, effort: FloatArray, size: FloatArray, mean: FloatArray, sd: FloatArray
) -> FloatArray:
    """Smallest whole count that is not exceeded with chance ``level``, by bisection."""
    high = np.ceil(effort * np.exp(mean + 6 * sd) * (1 + 12 / np.sqrt(size)) + 20)
    low = np.full_like(high, -1.0)
    while np.any(high - low > 1):
        middle = np.floor((low + high) / 2)
        enough = next_count_cdf(middle, effort, size, mean, sd) >= level
        high = np.where(enough, middle, high)
        low = np.where(enough, low, middle)
    return high
