"""A line as variables: into how many parts it goes, on which day it is picked up."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

from ortools.sat.python import cp_model

from production.planning.backward import last_collection_day, may_hand_over
from production.planning.exact.limits import Limits, Literal, day_in
from production.planning.exact.part import PartVars, Reach, reach
from production.planning.load import Load
from production.planning.options import Ways, part_sizes
from production.planning.settle import Settled
from production.planning.terms import LinePlan

Pickups = Sequence[tuple[int, int]]  # each with its last day of collection


@dataclass(frozen=True, slots=True)
class Division:
    """The line in so many parts, each with what it could do if it were alone."""

    plants: tuple[int, ...]
    reaches: tuple[Reach, ...]
    pickups: Pickups

    @property
    def earliest(self) -> int:
        return min(each.earliest for each in self.reaches)

    @property
    def latest(self) -> int:
        return max(last for _pickup, last in self.pickups)


def divisions(ways: Ways, pickups: Iterable[date]) -> list[Division]:
    """The numbers of parts in which each part by itself finds a way to one of these pickups; none: a proven no."""
    days = [ways.load.index(day) for day in pickups]
    pairs = [(day, last_collection_day(ways.load, ways.wish, day)) for day in days if 0 <= day < ways.load.size]
    found = []
    for parts in ways.numbers_of_parts():
        plants = part_sizes(ways.wish.quantity, parts)
        may = [pair for pair in pairs if _may_be(ways, plants, pair)]
        reaches = {size: reach(ways.allowed(size), may) for size in set(plants)}
        alone = [reaches[size] for size in plants]
        if may and all(alone):
            found.append(Division(tuple(plants), tuple(each for each in alone if each), may))
    return found


def _may_be(ways: Ways, plants: Sequence[int], pair: tuple[int, int]) -> bool:
    """What all parts together need at least on the way to a pickup is there."""
    pickup, last = pair
    if len(plants) > 1 and not ways.may_stand(ways.load.days[pickup], plants):
        return False
    each = [ways.allowed(size) for size in set(plants)]
    keep = all(not allowed.course.waiting or last - pickup <= allowed.course.keeping for allowed in each)
    return keep and all(may_hand_over(allowed, pickup) for allowed in each)


class LineVars:
    """The variables of one line: exactly one of its divisions is real, or one of `elsewise` holds."""

    def __init__(
        self, limits: Limits, ways: Ways, found: Sequence[Division], elsewise: Sequence[Literal] = ()
    ) -> None:
        self.model, self.ways, self.found = limits.model, ways, found
        self.chosen = [self.model.new_bool_var("") for _ in found]
        self.model.add_exactly_one([*self.chosen, *elsewise])
        pairs = sorted({pair for division in found for pair in division.pickups})
        self.pickup = day_in(self.model, (day for day, _last in pairs))
        self.last = day_in(self.model, (last for _day, last in pairs))
        self.model.add_allowed_assignments([self.pickup, self.last], pairs)
        self.parts = [list(self._parts(limits, *each)) for each in zip(found, self.chosen, strict=True)]

    def _parts(self, limits: Limits, division: Division, chosen: Literal) -> Iterator[PartVars]:
        may = cp_model.Domain.from_values([day for day, _last in division.pickups])
        self.model.add_linear_expression_in_domain(self.pickup, may).only_enforce_if(chosen)
        parts = [
            PartVars(limits, self.ways.allowed(size), reach, self.pickup, self.last, chosen)
            for size, reach in zip(division.plants, division.reaches, strict=True)
        ]
        self._start_on_days_of_their_own(division, parts, chosen)
        yield from parts

    def _start_on_days_of_their_own(self, division: Division, parts: Sequence[PartVars], chosen: Literal) -> None:
        """Of parts of one size it does not matter which is first, so they start in their order."""
        for (size, part), (next_size, following) in pairwise(zip(division.plants, parts, strict=True)):
            if size == next_size:
                self.model.add(part.start < following.start).only_enforce_if(chosen)
        larger = [part for size, part in zip(division.plants, parts, strict=True) if size == division.plants[0]]
        for part in larger:
            for other in parts[len(larger) :]:
                self.model.add(part.start != other.start).only_enforce_if(chosen)

    # --- what is preferred ---

    def off(self) -> cp_model.IntVar:
        """Days between the pickup and the one asked for."""
        asked = (self.ways.wish.pickup - self.ways.load.first).days
        off = self.model.new_int_var(0, 2 * self.ways.load.size, "")
        self.model.add_abs_equality(off, self.pickup - asked)
        return off

    def departure(self) -> cp_model.IntVar:
        """Nights away from the usual ones and of waiting, in total over the parts that are real."""
        nights = self.model.new_int_var(0, 100 * self.ways.load.size, "")
        for chosen, parts in zip(self.chosen, self.parts, strict=True):
            for_parts = sum(part.departure() for part in parts)
            self.model.add(nights >= for_parts).only_enforce_if(chosen)
        return nights

    # --- what was found ---

    def settle(self, solver: cp_model.CpSolver, load: Load) -> LinePlan | None:
        """The plan that was found, taken on this load; None if no division is real."""
        number = next((at for at, chosen in enumerate(self.chosen) if solver.boolean_value(chosen)), None)
        if number is None:
            return None
        settled = []
        for part in self.parts[number]:
            found = Settled(load, part.allowed, part.dates(solver), True, part.places(solver))
            if not found.fits:
                raise AssertionError(f"{self.ways.wish.label}: the model and the load do not agree")
            settled.append(found)
        return self.ways.plan(load.days[solver.value(self.pickup)], settled)
