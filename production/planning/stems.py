"""How many pairs two sides of unequal stems will give, on the whole and on a bad day.

A stem is one number: its diameter in mm, or how far it has come through its graftable window (0 at the first sum,
1 at the last), which is known from the sowing date long before there is anything to measure. A pair fits when the
rootstock is not thicker and not thinner than the scion by more than the grower allows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

from production.planning.chances import Array
from production.planning.clocks import emergence_date, growth_gain, growth_sum
from production.planning.terms import Clock, Side, Warmth

Numbers = npt.NDArray[np.int64]

# Seasons drawn to see how pairs vary, and the stems that may be drawn in all.
SEASONS = 2000
STEMS = 4_000_000


@dataclass(frozen=True, slots=True)
class Tolerance:
    """By how much the rootstock may be thicker and thinner than its scion, in the measure of the stems."""

    thicker: float
    thinner: float

    def __post_init__(self) -> None:
        if not (self.thicker >= 0 and self.thinner >= 0):
            raise ValueError("tolerance: what a rootstock may be thicker or thinner by is nought or more")


# --- stems that have been measured -------------------------------------------------------------------------


def match(rootstocks: Sequence[float], scions: Sequence[float], tolerance: Tolerance) -> list[tuple[int, int]]:
    """The most pairs that fit, as places in the two samples.

    The thinnest stems left are looked at: if they fit they are a pair, else the one that is too thin for its
    partner is too thin for all that are left. No matching has more pairs, since taking the thinnest that fits
    never hinders another pair.
    """
    roots, tops = (sorted(range(len(side)), key=side.__getitem__) for side in (rootstocks, scions))
    pairs: list[tuple[int, int]] = []
    i = j = 0
    while i < len(roots) and j < len(tops):
        over = rootstocks[roots[i]] - scions[tops[j]]
        if over > tolerance.thicker:
            j += 1
        elif over < -tolerance.thinner:
            i += 1
        else:
            pairs.append((roots[i], tops[j]))
            i, j = i + 1, j + 1
    return pairs


def count_pairs(rootstocks: Array, scions: Array, tolerance: Tolerance) -> Numbers:
    """The most pairs in each of many samples: rows of stems, of equal length, infinite where there is none."""
    roots, tops = np.sort(rootstocks, axis=1), np.sort(scions, axis=1)
    samples = np.arange(len(roots))
    roots, tops = (np.hstack((side, np.full((len(side), 1), np.inf))) for side in (roots, tops))
    i, j, pairs = (np.zeros(len(samples), dtype=np.int64) for _ in range(3))
    for _ in range(roots.shape[1] + tops.shape[1] - 2):
        root, top = roots[samples, i], tops[samples, j]
        going = np.isfinite(root) & np.isfinite(top)
        if not going.any():
            break
        over = np.where(going, root, 0.0) - np.where(going, top, 0.0)
        fits = going & (over <= tolerance.thicker) & (over >= -tolerance.thinner)
        pairs += fits
        i += fits | (going & (over < -tolerance.thinner))
        j += fits | (going & (over > tolerance.thicker))
    return pairs


# --- stems to be expected ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Stand:
    """Stems of one sowing on the day of grafting: how many, their mean, and how far single stems spread."""

    stems: int
    mean: float
    spread: float

    def __post_init__(self) -> None:
        if self.stems < 0 or not self.spread >= 0:
            raise ValueError(f"stems and their spread are nought or more, not {self.stems} and {self.spread}")


@dataclass(frozen=True, slots=True)
class StemSide:
    """One side: its sowings, and the spread of what makes all of them early or late together (weather, a guess).

    Stems outside `window` are not grafted.
    """

    stands: tuple[Stand, ...]
    together: float = 0.0
    window: tuple[float, float] = (-np.inf, np.inf)


@dataclass(frozen=True, slots=True)
class Pairs:
    """Pairs to be expected: the mean, a bad day (tenth percentile) and a good one (ninetieth)."""

    mean: float
    bad_day: int
    good_day: int


def expected_pairs(
    rootstock: StemSide, scion: StemSide, tolerance: Tolerance, seed: int = 1, most_seasons: int = SEASONS
) -> Pairs:
    """How many pairs two sides of normally spread stems give, from seasons drawn with a seed.

    The same sides give the same answer. The mean of 2,000 seasons is sure to about a fortieth of the spread
    between a bad and a good day, that of 500 to a twentieth.
    """
    largest = max(_stems(rootstock), _stems(scion), 1)
    seasons = int(np.clip(STEMS // (2 * largest), 200, most_seasons))
    rng = np.random.default_rng(seed)
    pairs = count_pairs(_drawn(rootstock, seasons, rng), _drawn(scion, seasons, rng), tolerance)
    bad, good = np.percentile(pairs, [10, 90], method="inverted_cdf")
    return Pairs(float(pairs.mean()), int(bad), int(good))


def _stems(side: StemSide) -> int:
    return sum(stand.stems for stand in side.stands)


def _drawn(side: StemSide, seasons: int, rng: np.random.Generator) -> Array:
    """The stems of a side in each season; infinite where a stem lies outside its window."""
    means = np.repeat([stand.mean for stand in side.stands], [stand.stems for stand in side.stands])
    spreads = np.repeat([stand.spread for stand in side.stands], [stand.stems for stand in side.stands])
    shift = side.together * rng.standard_normal((seasons, 1))
    drawn = means + shift + spreads * rng.standard_normal((seasons, means.size))
    low, high = side.window
    return np.where((drawn >= low) & (drawn <= high), drawn, np.inf)


# --- from sowing dates -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Raised:
    """How one side is raised: its clock, the warmth it stands in, and how its thermal sums spread, in °C·d.

    `spread` is that of single plants, which emerge and grow unevenly; `together` that of the whole side, for what
    the forecast of its clock is not sure of.
    """

    clock: Clock
    germination_warmth: Warmth
    raising_warmth: Warmth
    spread: float
    together: float = 0.0


def side_sown(raised: Raised, sowings: Sequence[tuple[date, int]], graft_day: date) -> StemSide:
    """A side as it will stand on the day of grafting, from (day sown, usable stems) of each sowing.

    Stems are measured in the window: 0 at the first graftable sum, 1 at the last; outside it none is grafted.
    OutsideModel where the clock gives no honest number; ValueError for a window without width.
    """
    clock = raised.clock
    width = clock.graftable_last - clock.graftable_first
    if not width > 0:
        raise ValueError("graftable_last: the window ends after it begins; give a last sum above the first")
    sums = [(_sum_on(raised, day, graft_day), stems) for day, stems in sowings]
    stands = tuple(Stand(n, (total - clock.graftable_first) / width, raised.spread / width) for total, n in sums)
    return StemSide(stands, raised.together / width, window=(0.0, 1.0))


def _sum_on(raised: Raised, sown: date, graft_day: date) -> float:
    """The growth sum on a day, °C·d; below nought for plants that have not emerged, as if they grew already."""
    emerges = emergence_date(raised.clock, sown, raised.germination_warmth)
    if emerges <= graft_day:
        return growth_sum(raised.clock, emerges, graft_day, raised.raising_warmth)
    nights = ((graft_day + timedelta(days=n)) for n in range((emerges - graft_day).days))
    return -sum(growth_gain(raised.clock, raised.raising_warmth.on(night)) for night in nights)


@dataclass(frozen=True, slots=True)
class Succession:
    """What it buys to sow the stems of one side on so many days, `apart` days apart, about the one best day."""

    sowings: int
    apart: int
    pairs: Pairs


def successions(
    rootstock: tuple[Raised, date],
    scion: tuple[Raised, date],
    stems: tuple[int, int],
    graft_day: date,
    tolerance: Tolerance,
    divide: Side = "rootstock",
    most: int = 2,
    farthest: int = 6,
    most_seasons: int = SEASONS,
) -> tuple[Succession, ...]:
    """Pairs with one side sown on one day, first, and then on 2 … `most` days, 1 … `farthest` days apart.

    Each side is how it is raised and its best sowing day; `stems` are those of rootstock and scion. Several
    sowings stand in for a clock that is unsure by a good part of its window: they lift the bad day, not the mean.
    """
    plans = [(1, 0)] + [(n, apart) for n in range(2, most + 1) for apart in range(1, farthest + 1)]
    found = []
    for sowings, apart in plans:
        days = [(sowings, apart), (1, 0)] if divide == "rootstock" else [(1, 0), (sowings, apart)]
        mine, other = (
            side_sown(raised, _spread_over(day, number, *plan), graft_day)
            for (raised, day), number, plan in zip((rootstock, scion), stems, days, strict=True)
        )
        found.append(Succession(sowings, apart, expected_pairs(mine, other, tolerance, most_seasons=most_seasons)))
    return tuple(found)


def _spread_over(day: date, stems: int, sowings: int, apart: int) -> list[tuple[date, int]]:
    first = day - timedelta(days=(sowings - 1) * apart // 2)
    each, odd = divmod(stems, sowings)
    return [(first + timedelta(days=n * apart), each + (n < odd)) for n in range(sowings)]
