"""Thermal time: when seedlings emerge, and from when to when a stem is fit to graft.

Emergence follows days = sum / (T − base), the thermal-time form of Harrington (1962); growth counts degrees above
a base as long as the plants stand. Every parameter is the grower's own. A model that does not hold at a
temperature says so (`OutsideModel`) instead of giving a number.

Work is done in the middle of a day, and the night of day d runs to the middle of d+1 at the warmth of d. So a sum
reached 8.27 nights after sowing falls on the eighth day after it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

import numpy as np

from production.planning.terms import Clock, Warmth

# Close above the base temperature the form gives wild numbers: nothing within these degrees of it is believed.
MARGIN = 2.0
# How far back or on a search goes, in days, before it says that there is no such day.
FARTHEST = 200

ONE_DAY = timedelta(days=1)


@dataclass
class OutsideModel(ValueError):
    """A temperature (or a length of time) for which a thermal clock gives no honest number."""

    field: str
    reason: str

    def __str__(self) -> str:
        return self.reason


@dataclass(frozen=True, slots=True)
class Graftable:
    """When plants emerge, and the first, best and last day on which their stems can be grafted."""

    emerges: date
    first: date
    aim: date
    last: date

    def __contains__(self, day: date) -> bool:
        return self.first <= day <= self.last


@dataclass(frozen=True, slots=True)
class SowingWindow:
    """The sowing days that make stems graftable on one given day, and the best of them."""

    earliest: date
    aim: date
    latest: date

    def __contains__(self, day: date) -> bool:
        return self.earliest <= day <= self.latest


# --- emergence --------------------------------------------------------------------------------------------


def emergence_days(clock: Clock, degrees: float) -> float:
    """Days from sowing to emergence at a steady mean of `degrees` °C; OutsideModel where no number is honest."""
    return clock.emergence_sum / _emergence_gain(clock, degrees)


def _emergence_gain(clock: Clock, degrees: float) -> float:
    """°C·d that one day at `degrees` adds towards emergence."""
    if degrees <= clock.emergence_base + MARGIN:
        raise OutsideModel(
            "temperature",
            f"At {degrees:g} °C nothing certain can be said: emergence needs more than "
            f"{clock.emergence_base + MARGIN:g} °C.",
        )
    if degrees > clock.emergence_ceiling:
        raise OutsideModel(
            "temperature",
            f"At {degrees:g} °C nothing certain can be said: the days to emergence are known up to "
            f"{clock.emergence_ceiling:g} °C.",
        )
    return degrees - clock.emergence_base


def emergence_date(clock: Clock, sown: date, warmth: Warmth) -> date:
    """The day on which plants sown on `sown` emerge, in a place of this warmth; OutsideModel as above."""
    lacking, night = clock.emergence_sum, sown
    for _ in range(FARTHEST):
        gain = _emergence_gain(clock, warmth.on(night))
        if lacking < gain:
            return night + ONE_DAY if lacking / gain >= 0.5 else night
        lacking -= gain
        night += ONE_DAY
    raise OutsideModel("temperature", f"Seed sown on {sown.isoformat()} would not emerge in {FARTHEST} days.")


def sum_from_days(days: float, degrees: float, base: float) -> float:
    """The thermal sum, °C·d, of a number of days known at a stated temperature."""
    if days <= 0:
        raise OutsideModel("days", f"{days:g} days make no thermal sum.")
    if degrees <= base:
        raise OutsideModel("temperature", f"At {degrees:g} °C nothing grows: the base temperature is {base:g} °C.")
    return days * (degrees - base)


def fit_emergence(points: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """(sum, base) of days = sum / (T − base), by least squares on the days, from (°C, days) pairs.

    For a given base the best sum is a division; the base is found by narrowing a grid. ValueError for fewer than
    two different temperatures, or when the days do not fall as it gets warmer.
    """
    degrees, days = np.array(points, dtype=float).reshape(-1, 2).T
    if len(set(degrees.tolist())) < 2:
        raise ValueError("a fit needs days at two different temperatures at least")
    low, high = degrees.min() - 60.0, degrees.min() - 1e-6
    for _ in range(12):
        bases = np.linspace(low, high, 101)
        rates = 1.0 / (degrees[None, :] - bases[:, None])
        sums = (rates @ days) / (rates**2).sum(axis=1)
        misses = ((sums[:, None] * rates - days) ** 2).sum(axis=1)
        best = int(misses.argmin())
        low, high = bases[max(best - 1, 0)], bases[min(best + 1, 100)]
    if bases[best] < degrees.min() - 59.0:
        raise ValueError("these days do not fall as it gets warmer")
    return float(sums[best]), float(bases[best])


# --- growth to a graftable stem ----------------------------------------------------------------------------


def growth_gain(clock: Clock, degrees: float) -> float:
    """°C·d that one day at `degrees` adds to the growth of the stem: none below the base, a ceiling above."""
    return max(0.0, min(degrees, clock.growth_ceiling) - clock.growth_base)


def growth_sum(clock: Clock, emerged: date, until: date, warmth: Warmth) -> float:
    """°C·d gathered over the nights from `emerged` up to the day `until`."""
    nights = (emerged + timedelta(days=n) for n in range((until - emerged).days))
    return sum(growth_gain(clock, warmth.on(night)) for night in nights)


def graftable_window(
    clock: Clock, sown: date, germination_warmth: Warmth, raising_warmth: Warmth, emerged_on: date | None = None
) -> Graftable:
    """When plants sown on `sown` can be grafted; `emerged_on`, once seen, re-anchors the clock.

    OutsideModel if they never get there, or grow past it between one day and the next.
    """
    emerges = emerged_on or emergence_date(clock, sown, germination_warmth)
    sums = _sums_from(clock, emerges, raising_warmth)
    fit = [day for day, total in sums if clock.graftable_first <= total <= clock.graftable_last]
    if not fit:
        raise OutsideModel("temperature", f"Stems sown on {sown.isoformat()} would never be fit to graft.")
    aim = min(sums, key=lambda pair: (abs(pair[1] - clock.graftable_aim), pair[0]))[0]
    return Graftable(emerges, fit[0], min(max(aim, fit[0]), fit[-1]), fit[-1])


def _sums_from(clock: Clock, emerged: date, warmth: Warmth) -> list[tuple[date, float]]:
    """(day, growth sum on that day) from emergence until past the graftable stem, or as far as a search goes."""
    day, total = emerged, 0.0
    sums = [(day, total)]
    while total <= clock.graftable_last and len(sums) <= FARTHEST:
        total += growth_gain(clock, warmth.on(day))
        day += ONE_DAY
        sums.append((day, total))
    return sums


@lru_cache(maxsize=8192)
def sowing_day_for(
    clock: Clock, graft_day: date, germination_warmth: Warmth, raising_warmth: Warmth
) -> SowingWindow:
    """The sowing days for which `graft_day` lies in the graftable window, and the one that comes nearest the aim.

    Looks back up to FARTHEST days; OutsideModel if there is no such day.
    """
    found, refusal = _sums_by_sowing_day(clock, graft_day, germination_warmth, raising_warmth)
    if not found:
        raise refusal or OutsideModel(
            "temperature", f"No sowing day makes stems fit to graft on {graft_day.isoformat()}."
        )
    aim = min(found, key=lambda day: (abs(found[day] - clock.graftable_aim), day))
    earliest = latest = aim
    while earliest - ONE_DAY in found:
        earliest -= ONE_DAY
    while latest + ONE_DAY in found:
        latest += ONE_DAY
    return SowingWindow(earliest, aim, latest)


def _sums_by_sowing_day(
    clock: Clock, graft_day: date, germination_warmth: Warmth, raising_warmth: Warmth
) -> tuple[dict[date, float], OutsideModel | None]:
    """Growth sum on `graft_day` by sowing day, where it is graftable; and the first refusal of the model."""
    found: dict[date, float] = {}
    refusal: OutsideModel | None = None
    gathered, total, reached = {graft_day: 0.0}, 0.0, graft_day
    for back in range(1, FARTHEST + 1):
        sown = graft_day - timedelta(days=back)
        try:
            emerges = emergence_date(clock, sown, germination_warmth)
        except OutsideModel as outside:
            refusal = refusal or outside
            continue
        while reached > emerges:
            reached -= ONE_DAY
            total += growth_gain(clock, raising_warmth.on(reached))
            gathered[reached] = total
        if emerges > graft_day or gathered[emerges] < clock.graftable_first:
            continue
        if gathered[emerges] > clock.graftable_last:
            break
        found[sown] = gathered[emerges]
    return found, refusal
