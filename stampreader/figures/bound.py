"""Exact bounds on how often something goes wrong, from how often it did."""

from __future__ import annotations

import math

PROMISE = 0.005
"""Most of the connectors with a sure figure on which it may be wrong: 0.5 %."""
DELTA = 0.05
"""Chance that a bound does not hold: one minus 95 % confidence."""


def binomial_cdf(errors: int, trials: int, share: float) -> float:
    """P(Bin(trials, share) ≤ errors), summed term by term.

    Example: at most 0 of 598 at 0.5 % has a chance of 0.0499.
    """
    if errors >= trials or share <= 0.0:
        return 1.0
    if share >= 1.0:
        return 0.0
    yes, no = math.log(share), math.log1p(-share)
    whole = math.lgamma(trials + 1)
    terms = (
        whole - math.lgamma(k + 1) - math.lgamma(trials - k + 1) + k * yes + (trials - k) * no
        for k in range(errors + 1)
    )
    return min(1.0, math.fsum(math.exp(term) for term in terms))


def upper_bound(errors: int, trials: int, delta: float = DELTA) -> float:
    """The share that is not exceeded, at a confidence of 1 - delta, one-sided and exact.

    Source: Clopper and Pearson, The use of confidence or fiducial limits illustrated in the case
    of the binomial, 1934: the share at which so few errors have a chance of just delta. Rounded
    up. With no trials nothing is known and the bound is 1.

    Example: no error in 299 gives 0.00997, no error in 598 gives 0.0050.
    """
    if errors >= trials:
        return 1.0
    low, high = errors / trials, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        if binomial_cdf(errors, trials, middle) > delta:
            low = middle
        else:
            high = middle
    return high


def trials_needed(errors: int, share: float = PROMISE, delta: float = DELTA) -> int:
    """How many trials with so many errors are the fewest that keep a share below a bound.

    Example: 598 without an error for 0.5 % at 95 %.
    """
    low, high = errors, errors + 1
    while binomial_cdf(errors, high, share) > delta:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        if binomial_cdf(errors, middle, share) > delta:
            low = middle
        else:
            high = middle
    return high
