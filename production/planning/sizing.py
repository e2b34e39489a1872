"""How much to sow and graft: from the plants wanted back to grafts, seedlings and seeds, at a service level.

Every share (emergence, usable stems, take, kept) is uncertain, a Beta distribution, so the number that come
through is beta-binomial: plants of one lot do well or badly together, and a big order needs spare for that as well
as for the luck of each plant. A Rate of infinite weight is a known share, and its numbers binomial. The Beta of a
product of shares is matched on mean and variance.
"""

from __future__ import annotations

from functools import lru_cache
from math import inf, isinf

import numpy as np
import numpy.typing as npt

from production.planning.terms import Material, Rate, Sizing

Array = npt.NDArray[np.float64]

# Each side is sown so that it gives a stem for every planned graft with this chance; the planned grafts are then
# as few as meet the service level over the whole chain. Held constant, this makes every number grow, never shrink,
# with the plants wanted and with the level. Seeds and grafts together come within 2 % of the fewest possible for
# any value from 0.8 to 0.9; the upper end spends a little seed to save grafts, which also cost room and hours.
SIDE_CHANCE = 0.9

# More trials than this are not searched: a rate that needs them is no rate to plan with.
MOST = 2_000_000

# A grafted line beyond this is sized as equal blocks that do well or badly together. That counts the luck of
# single plants too heavily, by under 1 % of the grafts, and keeps the answer instant.
BLOCK = 4096


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


# --- chances -----------------------------------------------------------------------------------------------


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
    certain = _certain(rate)
    if certain is not None or trials == 0:
        chances = np.zeros(trials + 1)
        chances[trials if certain == 1 else 0] = 1.0
        return chances
    k = np.arange(trials, dtype=float)
    if isinf(rate.weight):
        odds = np.full(trials, rate.mean / (1 - rate.mean))
    else:
        odds = (k + rate.mean * rate.weight) / (trials - k - 1 + (1 - rate.mean) * rate.weight)
    logs = np.concatenate(([0.0], np.cumsum(np.log((trials - k) / (k + 1) * odds))))
    chances = np.exp(logs - logs.max())
    return np.asarray(chances / chances.sum())


def _certain(rate: Rate) -> int | None:
    """1 if everything comes through, 0 if nothing does, None if it is a matter of chance."""
    if not 0 <= rate.mean <= 1 or not rate.weight > 0:
        raise ValueError(f"a share lies between 0 and 1 and has some weight, not {rate}")
    return int(rate.mean) if rate.mean in (0, 1) else None


def finishing(wanted: int, rate: Rate, most: int) -> Array:
    """P(plant number m is the one that makes up `wanted`) for m = wanted … most; their sum is P(X ≥ wanted)."""
    certain = _certain(rate)
    if certain is not None:
        return np.array([float(certain)] + [0.0] * (most - wanted))
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
    if _certain(rate) == 0:
        raise OutOfReach("nothing comes through at a share of 0")
    most = int(1.25 * wanted / rate.mean) + 20
    while most < MOST:
        chances = np.cumsum(finishing(wanted, rate, most))
        if chances[-1] >= level:
            return wanted + int(np.searchsorted(chances, level))
        most *= 2
    raise OutOfReach(f"{wanted} at a share of {rate.mean:.3g} cannot be had with a chance of {level:g}")


# --- sizes -------------------------------------------------------------------------------------------------


def size_plain(wanted: int, material: Material, kept: Rate, level: float) -> Sizing:
    """The seeds of a plain line: through emergence, usable seedlings and losses until ready."""
    _some(wanted)
    share = combine(material.emerged, material.usable, kept)
    seeds = needed(wanted, share, level)
    return Sizing(0, 0, seeds, chance_of_at_least(wanted, seeds, share), seeds * share.mean)


def size_grafted(
    wanted: int, rootstock: Material, scion: Material, take: Rate, kept: Rate, level: float
) -> Sizing:
    """Grafts and the seeds of both sides, so that `wanted` plants are ready with chance `level`.

    A graft needs a usable stem of each side, and no more are made than are planned:
    ready = the share taken and kept of min(grafts, usable rootstocks, usable scions).
    """
    _some(wanted)
    return _size_pairs(wanted, stems(rootstock), stems(scion), combine(take, kept), level)


@lru_cache(maxsize=4096)
def _size_pairs(wanted: int, rootstock: Rate, scion: Rate, after: Rate, level: float) -> Sizing:
    blocks = 1
    while wanted > BLOCK * blocks:
        blocks *= 2
    chain = Chain(-(-wanted // blocks), rootstock, scion, after)
    low, high = chain.bracket(level)
    while low < high:
        middle = (low + high) // 2
        if chain.chance(middle) >= level:
            high = middle
        else:
            low = middle + 1
    return chain.sizing(high, blocks)


def _some(wanted: int) -> None:
    if wanted <= 0:
        raise ValueError(f"a line wants at least one plant, not {wanted}")


def stems(material: Material) -> Rate:
    """The share of the seeds of a variety that become usable stems."""
    return combine(material.emerged, material.usable)


class Chain:
    """Seeds → stems of two sides → grafts → ready plants, for one number of plants wanted."""

    def __init__(self, wanted: int, rootstock: Rate, scion: Rate, after: Rate) -> None:
        self.wanted, self.rootstock, self.scion, self.after = wanted, rootstock, scion, after

    def seeds(self, grafts: int) -> tuple[int, int]:
        """Seeds of rootstock and of scion for so many planned grafts."""
        return needed(grafts, self.rootstock, SIDE_CHANCE), needed(grafts, self.scion, SIDE_CHANCE)

    def pairs(self, grafts: int) -> Array:
        """P(at least m grafts can be made) for m = 0 … grafts."""
        rootstocks, scions = self.seeds(grafts)
        both = at_least(rootstocks, self.rootstock)[: grafts + 1] * at_least(scions, self.scion)[: grafts + 1]
        return np.asarray(both)

    def chance(self, grafts: int) -> float:
        """P(the plants wanted are ready): the graft that makes them up must be one of those that can be made."""
        if grafts < self.wanted:
            return 0.0
        return float(finishing(self.wanted, self.after, grafts) @ self.pairs(grafts)[self.wanted :])

    def bracket(self, level: float) -> tuple[int, int]:
        """Too few or just enough, and enough, grafts."""
        low = high = needed(self.wanted, self.after, level)
        while self.chance(high) < level:
            low, high = high + 1, high + max(1, high // 16)
            if high > MOST:
                raise OutOfReach(f"{self.wanted} plants cannot be had with a chance of {level:g}")
        return low, high

    def sizing(self, grafts: int, blocks: int) -> Sizing:
        rootstocks, scions = self.seeds(grafts)
        expected = self.after.mean * float(self.pairs(grafts)[1:].sum())
        return Sizing(
            blocks * grafts, blocks * rootstocks, blocks * scions, self.chance(grafts), blocks * expected
        )
