"""A plan to try, and the gambler's ruin to compare with."""

from benchwalk.science.stopping import NegativeBinomialCounts, wald_lines


def a_plan(low=1.0, ratio=2.0, k=0.8, alpha=0.1, beta=0.1):
    return wald_lines(NegativeBinomialCounts(k), low, low * ratio, alpha=alpha, beta=beta)


def ruin(p, down, up):
    """Chance of losing ``down`` before winning ``up``, and the expected number of games."""
    ratio, whole = (1 - p) / p, down + up
    if p == 0.5:
        return up / whole, down * up
    lost = (ratio**whole - ratio**down) / (ratio**whole - 1)
    return lost, (down - whole * (1 - lost)) / (1 - 2 * p)
