"""Counting back from the day of pickup: when each stage begins, when to graft, when to sow.

Of all runs of nights inside shortest … longest that lead from a start to the pickup, the one that departs least in
total from the usual nights is taken. Among equals the earlier start; the nights that give way are then the last
ones, growing on, rather than those in the chamber.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from heapq import heappop, heappush

import numpy as np
import numpy.typing as npt

from .allowed import Allowed, Sown, later
from .legs import Leg
from .load import Bools, Load
from .terms import Nights, Wish
from .works import hours_of

Costs = npt.NDArray[np.int64]

NEVER = np.int64(2**40)
NIGHT = 1000  # one night away from the usual; the rank of its stage is added, to decide among equals
MOST_WAYS = 64  # starts looked at for one pickup


@dataclass(frozen=True, slots=True)
class Dates:
    """The dates of one part, as indexes of the load: `borders` are the entries of the legs and then ready."""

    sown: tuple[Sown, ...]
    borders: tuple[int, ...]
    pickup: int
    last: int  # last collection day
    departure: int  # nights away from the usual ones, in total

    @property
    def start(self) -> int:
        return self.borders[0]

    @property
    def ready(self) -> int:
        return self.borders[-1]


def last_collection_day(load: Load, wish: Wish, pickup: int) -> int:
    """The last of so many open days on which the customer may come, the pickup being the first."""
    day, left = pickup, wish.collection - 1
    while left and day < load.size - 1:
        day += 1
        left -= bool(load.open[day])
    return day


def dates_for(allowed: Allowed, pickup: int) -> Iterator[Dates]:
    """Every start from which the pickup can be kept, with its best dates; the least departure first.

    Nights for which a side is held cold depart from the usual too.
    """
    load, course = allowed.load, allowed.course
    last = last_collection_day(load, course.wish, pickup)
    if not may_hand_over(allowed, pickup):
        return
    if course.waiting is None:
        yield from _room_dates(allowed, course.legs[0], pickup, last)
        return
    if last - pickup > course.keeping:
        return
    costs = departures_of(allowed, pickup, last)
    waiting = list[tuple[int, int, Dates]]()  # dates that hold a side cold, until no better ones can come
    for number, start in enumerate(costs.starts()):
        while waiting and waiting[0][0] <= costs.departure(start):
            yield heappop(waiting)[2]
        found = allowed.sown(start)
        if found is not None:
            away = costs.departure(start) + sum(start - each.raised for each in found)
            heappush(waiting, (away, number, Dates(found, costs.borders(start), pickup, last, away)))
            if away == costs.departure(start):
                yield heappop(waiting)[2]
    yield from (heappop(waiting)[2] for _ in range(len(waiting)))


def may_hand_over(allowed: Allowed, pickup: int) -> bool:
    works = ((hours_of(rule, allowed.course.plants), rule.part) for rule in allowed.course.handing_over)
    return allowed.load.all_fit(pickup, works, care=False)


def _room_dates(allowed: Allowed, leg: Leg, pickup: int, last: int) -> Iterator[Dates]:
    first = pickup - leg.nights.usual
    if first >= 0 and allowed.stands(leg, allowed.rows(leg), first, last):
        yield Dates((), (first, last), pickup, last, 0)


def departures_of(allowed: Allowed, pickup: int, last: int) -> Departures:
    """Reckoned once for a course, a pickup and its last day of collection."""
    key = (pickup, last)
    if key not in allowed.departures:
        allowed.departures[key] = Departures(allowed, pickup, last)
    known: Departures = allowed.departures[key]
    return known


class Departures:
    """For each leg and day of entry: how far the best way from there to the pickup departs from the usual."""

    def __init__(self, allowed: Allowed, pickup: int, last: int) -> None:
        course = allowed.course
        self.legs = course.legs
        self.low = max(0, last - course.keeping - sum(leg.nights.longest for leg in course.legs))
        window = allowed.window(self.low, last)
        there = slice(self.low - window.first, last + 1 - window.first)
        self.after: list[Costs] = [self._waiting(window.waiting[:, there], pickup, last)]
        self._costs: list[Costs] = []
        for index in reversed(range(len(course.legs))):
            self._costs.insert(0, self._leg(index, window.legs[index][:, there]))
            best = self._costs[0].min(axis=0, initial=NEVER)
            self.after.insert(0, best)

    def _waiting(self, fits: Bools, pickup: int, last: int) -> Costs:
        """By the day of being ready: the nights until pickup, where the plants may stand until the last day."""
        costs = np.full(fits.shape[1], NEVER)
        for ready in range(max(self.low, last - len(fits) + 1), pickup + 1):
            if fits[last - ready, ready - self.low]:
                costs[ready - self.low] = (pickup - ready) * (NIGHT + 1)
        return costs

    def _leg(self, index: int, fits: Bools) -> Costs:
        """[nights − shortest, day of entry]: what it costs to stay so long and go on in the best way."""
        nights, after = self.legs[index].nights, self.after[0]
        going_on = np.full(len(after) + nights.longest, NEVER)
        going_on[: len(after)] = after
        costs = later(going_on, nights.longest + 1, len(after))[nights.shortest :] + self._away(index)
        return np.where(fits, costs, NEVER)

    def _away(self, index: int) -> Costs:
        rank = 0 if index == len(self.legs) - 1 else len(self.legs) - index + 1
        return _departing(self.legs[index].nights, NIGHT + rank)

    def starts(self) -> list[int]:
        costs = self.after[0]
        found = [int(day) for day in np.flatnonzero(costs < NEVER)]
        ranked = sorted(found, key=lambda day: (costs[day] // NIGHT, day))[:MOST_WAYS]
        return [self.low + day for day in ranked]

    def departure(self, start: int) -> int:
        return int(self.after[0][start - self.low] // NIGHT)

    def borders(self, start: int) -> tuple[int, ...]:
        """Walk the cheapest way from the start, each stage ending as early as that way lets it."""
        borders, day = [start], start - self.low
        for leg, costs in zip(self.legs, self._costs, strict=True):
            day += leg.nights.shortest + int(costs[:, day].argmin())
            borders.append(self.low + day)
        return tuple(borders)


@lru_cache(maxsize=1024)
def _departing(nights: Nights, each: int) -> Costs:
    """By nights − shortest, as a column: what it costs to depart from the usual nights."""
    return np.abs(np.arange(nights.shortest, nights.longest + 1) - nights.usual)[:, None] * each
