"""How many of so many come through: exact chances of numbers, when the share itself is uncertain.

Every share (emergence, usable stems, take, kept) is a Beta distribution, so the number that come through is
beta-binomial: plants of one lot do well or badly together. A Rate of infinite weight is a known share, and its
numbers binomial. Here every number is counted one by one; `mesh` gives the same chances where they are too many.
"""

from __future__ import annotations

from math import inf, isinf

import numpy as np
import numpy.typing as npt

from production.planning.terms import Rate

Array = npt.NDArray[np.float64]

# More trials than this are not searched: a rate that needs them is no rate to plan with.
MOST = 2_000_000


class OutOfReach(ValueError):
    """No amount that could be sown gives the plants wanted at this level."""


def combine(*rates: Rate) -> Rate:
    """The share that is left after all of these, as one Rate: the product of the means, and its spread."""
    mean, square = 1.0, 1.0
    for rate in rates:
        mean *= rate.mean
        square *= rate.mean * _mean_of_next(rate)
    spread = square - mean * mean
    if spread <= 1e-15:
        return Rate(mean, inf)
    return Rate(mean, (mean - square) / spread)


def _mean_of_next(rate: Rate) -> float:
    """The share to be expected of a second plant once a first has come through."""
    return rate.mean if isinf(rate.weight) else (rate.mean * rate.weight + 1) / (rate.weight + 1)


def chance_of_at_least(wanted: int, trials: int, rate: Rate) -> float:
    """P(X ≥ wanted) of `trials` plants that each come through with an uncertain share `rate`."""
    if wanted <= 0:
        return 1.0
    if trials < wanted:
        return 0.0
    return float(at_least(trials, rate)[wanted])


def at_least(trials: int, rate: Rate) -> Array:
    """P(X ≥ m) for m = 0 … trials."""
    return from_above(distribution(trials, rate))


def from_above(chances: Array) -> Array:
    """P(X ≥ m) from P(X = m), summed from the far end so that small chances keep their figures."""
    return np.minimum(np.cumsum(chances[::-1])[::-1], 1.0)


def distribution(trials: int, rate: Rate) -> Array:
    """P(X = k) for k = 0 … trials: beta-binomial, or binomial when the share is known."""
    sure = certain(rate)
    if sure is not None or trials == 0:
        chances = np.zeros(trials + 1)
        chances[trials if sure == 1 else 0] = 1.0
        return chances
    k = np.arange(trials, dtype=float)
    if isinf(rate.weight):
        odds = np.full(trials, rate.mean / (1 - rate.mean))
    else:
        odds = (k + rate.mean * rate.weight) / (trials - k - 1 + (1 - rate.mean) * rate.weight)
    logs = np.concatenate(([0.0], np.cumsum(np.log((trials - k) / (k + 1) * odds))))
    chances = np.exp(logs - logs.max())
    return np.asarray(chances / chances.sum())


def certain(rate: Rate) -> int | None:
    """1 if everything comes through, 0 if nothing does, None if it is a matter of chance."""
    if not 0 <= rate.mean <= 1 or not rate.weight > 0:
        raise ValueError(f"a share lies between 0 and 1 and has some weight, not {rate}")
    return int(rate.mean) if rate.mean in (0, 1) else None


def finishing(wanted: int, rate: Rate, most: int) -> Array:
    """P(plant number m is the one that makes up `wanted`) for m = wanted … most; their sum is P(X ≥ wanted)."""
    sure = certain(rate)
    if sure is not None:
        return np.array([float(sure)] + [0.0] * (most - wanted))
    got, tried = np.arange(wanted, dtype=float), np.arange(wanted, most, dtype=float)
    if isinf(rate.weight):
        start, failing = wanted * np.log(rate.mean), np.full(tried.size, 1 - rate.mean)
    else:
        good, weight = rate.mean * rate.weight, rate.weight
        start = np.log((good + got) / (weight + got)).sum()
        failing = (weight - good + tried - wanted) / (weight + tried)
    logs = start + np.concatenate(([0.0], np.cumsum(np.log(tried / (tried - wanted + 1) * failing))))
    return np.asarray(np.exp(logs))


def needed(wanted: int, rate: Rate, level: float) -> int:
    """The smallest number of trials of which at least `wanted` come through with chance `level`."""
    if wanted <= 0:
        return 0
    if not 0 < level < 1:
        raise ValueError(f"a service level lies between 0 and 1, not {level}")
    if certain(rate) == 0:
        raise OutOfReach("nothing comes through at a share of 0")
    most = int(1.25 * wanted / rate.mean) + 20
    while most < MOST:
        chances = np.cumsum(finishing(wanted, rate, most))
        if chances[-1] >= level:
            return wanted + int(np.searchsorted(chances, level))
        most *= 2
    raise OutOfReach(f"{wanted} at a share of {rate.mean:.3g} cannot be had with a chance of {level:g}")
