"""Counting back from the day of pickup: when each stage begins, when to graft, when to sow.

Of all runs of nights inside shortest … longest that lead from a start to the pickup, the one that departs least in
total from the usual nights is taken. Among equals the earlier start; the nights that give way are then the last
ones, growing on, rather than those in the chamber.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from .allowed import Allowed, Sown
from .course import Leg
from .load import Bools, Load
from .terms import Wish

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
    """Every start from which the pickup can be kept, with its best dates; the least departure first."""
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
    for start in costs.starts():
        sown = [allowed.sown(side, start) for side in range(len(course.sides))]
        found = tuple(each for each in sown if each)
        if len(found) == len(sown):
            yield Dates(found, costs.borders(start), pickup, last, costs.departure(start))


def may_hand_over(allowed: Allowed, pickup: int) -> bool:
    hours = [
        (skill, allowed.course.plants / rate) for rule in allowed.course.handing_over for skill, rate in rule.hands
    ]
    return allowed.load.hours_fit(pickup, hours, care=False)


def _room_dates(allowed: Allowed, leg: Leg, pickup: int, last: int) -> Iterator[Dates]:
    first = pickup - leg.nights.usual
    if first >= 0 and allowed.stands(leg, allowed.rows(leg), first, last):
        yield Dates((), (first, last), pickup, last, 0)


def departures_of(allowed: Allowed, pickup: int, last: int) -> Departures:
    """Reckoned once for a course, a pickup and its last day of collection."""
    key = (pickup, last)
    if key not in allowed.departures:
        allowed.departures[key] = Departures(allowed, pickup, last)
    return allowed.departures[key]


class Departures:
    """For each leg and day of entry: how far the best way from there to the pickup departs from the usual."""

    def __init__(self, allowed: Allowed, pickup: int, last: int) -> None:
        course = allowed.course
        self.allowed = allowed
        self.low = max(0, last - course.keeping - sum(leg.nights.longest for leg in course.legs))
        self.last = last
        self.after: list[Costs] = [self._waiting(pickup)]
        for index in reversed(range(len(course.legs))):
            self.after.insert(0, self._leg(index, self.after[0]))

    def _waiting(self, pickup: int) -> Costs:
        costs = np.full(self.last - self.low + 1, NEVER)
        for ready in range(max(self.low, self.last - self.allowed.course.keeping), pickup + 1):
            if self.allowed.waiting[self.last - ready, ready]:
                costs[ready - self.low] = (pickup - ready) * (NIGHT + 1)
        return costs

    def _leg(self, index: int, later: Costs) -> Costs:
        best = np.full_like(later, NEVER)
        for nights, fits in self._stays(index):
            ways = len(later) - nights
            if ways > 0:
                cost = np.where(fits[:ways], later[nights:] + self._away(index, nights), NEVER)
                np.minimum(best[:ways], cost, out=best[:ways])
        return best

    def _stays(self, index: int) -> Iterator[tuple[int, Bools]]:
        shortest = self.allowed.course.legs[index].nights.shortest
        for row, fits in enumerate(self.allowed.legs[index]):
            yield shortest + row, fits[self.low : self.last + 1]

    def _away(self, index: int, nights: int) -> int:
        legs = self.allowed.course.legs
        rank = 0 if index == len(legs) - 1 else len(legs) - index + 1
        return abs(nights - legs[index].nights.usual) * (NIGHT + rank)

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
        for index in range(len(self.allowed.course.legs)):
            goal, later = self.after[index][day], self.after[index + 1]
            day = next(
                day + nights
                for nights, fits in self._stays(index)
                if day + nights < len(later)
                and fits[day]
                and later[day + nights] + self._away(index, nights) == goal
            )
            borders.append(self.low + day)
        return tuple(borders)
