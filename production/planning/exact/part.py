"""One part of a line as variables: its dates, its sowings, the places of its stands, and the work that follows."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from ortools.sat.python import cp_model

from production.planning.allowed import Allowed, Rows, Sown
from production.planning.backward import NEVER, Dates, departures_of
from production.planning.exact.limits import Amount, Limits, Literal, day_in
from production.planning.legs import Leg, SideCourse
from production.planning.settle import Chosen, Spread
from production.planning.terms import HAND_OVER, Subject, WorkPlan, WorkRule
from production.planning.works import hours_of


@dataclass(frozen=True, slots=True)
class Reach:
    """The days on which a part may enter each leg (and, last, be ready) on its way to one of the pickups."""

    borders: tuple[frozenset[int], ...]
    sown: tuple[dict[int, tuple[Sown, ...]], ...]  # by side: for each start, the sowings that lead to it

    @property
    def starts(self) -> frozenset[int]:
        return self.borders[0]

    @property
    def earliest(self) -> int:
        """The first day on which anything is done or stands anywhere."""
        sown = (each.day for side in self.sown for ways in side.values() for each in ways)
        return min([min(self.starts), *sown])


def reach(allowed: Allowed, days: Sequence[tuple[int, int]]) -> Reach | None:
    """What one part could do if it were alone on the load, for pickups with their last days; None: nothing."""
    borders = [set[int]() for _ in range(len(allowed.course.legs) + 1)]
    for pickup, last in days:
        if allowed.course.waiting is None:
            _room_reach(allowed, borders, pickup, last)
            continue
        costs = departures_of(allowed, pickup, last)
        for border, after in zip(borders, costs.after, strict=True):
            border.update((costs.low + np.flatnonzero(after < NEVER)).tolist())
    sown: list[dict[int, tuple[Sown, ...]]] = [{} for _ in allowed.course.sides]
    for start in sorted(borders[0]):
        ways = [tuple(_sowings(allowed, side, start)) for side in range(len(sown))]
        if all(ways) and _follow_each_other(allowed, ways):
            for found, each in zip(sown, ways, strict=True):
                found[start] = each
        else:
            borders[0].remove(start)
    return Reach(tuple(frozenset(each) for each in borders), tuple(sown)) if borders[0] else None


def _room_reach(allowed: Allowed, borders: list[set[int]], pickup: int, last: int) -> None:
    leg = allowed.course.legs[0]
    first = pickup - leg.nights.usual
    if first >= 0 and allowed.stands(leg, allowed.rows(leg), first, last):
        borders[0].add(first)
        borders[1].add(last)


def _sowings(allowed: Allowed, side: int, start: int) -> Iterator[Sown]:
    """Sowings whose work finds its hands, each piece by itself."""
    for sown in allowed.sowings(side, start):
        runs = _runs(allowed.course.sides[side], sown, start)
        if all(allowed.finds_hands(leg, first, leaves) for leg, first, leaves in runs if first < leaves):
            yield sown


def _runs(side: SideCourse, sown: Sown, start: int) -> Iterator[tuple[Leg, int, int]]:
    """Each leg of a side with the days on which it begins and ends."""
    days = (sown.day, sown.emerges, sown.raised, start)
    yield from zip(side.legs, days, days[1:], strict=False)


def _follow_each_other(allowed: Allowed, ways: list[tuple[Sown, ...]]) -> bool:
    """Leaves of several sowings of a side those that can follow each other; false if none are left."""
    later = [number for number, side in enumerate(allowed.course.sides) if side.apart]
    for number in later:
        may = (
            one for one in ways[number] if any(allowed.follows(number, other, one) for other in ways[number - 1])
        )
        ways[number] = tuple(may)
    for number in reversed(later):
        may = (
            one for one in ways[number - 1] if any(allowed.follows(number, one, other) for other in ways[number])
        )
        ways[number - 1] = tuple(may)
    return all(ways)


def side_works(allowed: Allowed, side: SideCourse, sown: Sown, start: int) -> list[WorkPlan | None]:
    """The listed work of one side from its sowing to the start; None for work of a stage without a night."""
    works: list[WorkPlan | None] = []
    for leg, first, leaves in _runs(side, sown, start):
        if first < leaves:
            works += allowed.works(leg, first, leaves)
        else:
            works += [None for rule in leg.stage.works if rule.kind != HAND_OVER]
    return works


class PartVars:
    """The variables of one part: real where `present` holds, else free to be anything possible."""

    def __init__(
        self, limits: Limits, allowed: Allowed, reach: Reach, pickup: Amount, last: Amount, present: Literal
    ) -> None:
        self.limits, self.model, self.load = limits, limits.model, limits.load
        self.allowed, self.course, self.reach, self.present = allowed, allowed.course, reach, present
        self.pickup, self.last = pickup, last
        self.borders = [day_in(self.model, days) for days in reach.borders]
        self.departures: list[Amount] = []
        self.stands: dict[tuple[Subject, str, int], tuple[Sequence[int], Sequence[Amount]]] = {}
        self.sown = [self._side(number) for number in range(len(self.course.sides))]
        self._in_succession()
        for leg, first, leaves in zip(self.course.legs, self.borders, self.borders[1:], strict=False):
            self._leg(leg, first, leaves)
        self._end()

    @property
    def start(self) -> cp_model.IntVar:
        return self.borders[0]

    # --- from the start on ---

    def _leg(self, leg: Leg, first: Amount, leaves: Amount) -> None:
        held = 0 if self.course.waiting else self.load.size  # room stays taken until the last day of collection
        nights = self.model.new_int_var(leg.nights.shortest, leg.nights.longest + held, "")
        self.model.add(leaves == first + nights)
        self._stand(leg, self.allowed.rows(leg), first, nights, leaves)
        there = self.present if leg.nights.shortest else self._where_positive(nights)
        for rule in leg.stage.works:
            day = leaves if rule.at_end else first + rule.after
            if rule.kind != HAND_OVER:
                self._work(day, rule, leg.plants, there)
        if not held:
            away = self.model.new_int_var(0, leg.nights.longest - leg.nights.shortest, "")
            self.model.add_abs_equality(away, nights - leg.nights.usual)
            self.departures.append(away)

    def _where_positive(self, nights: cp_model.IntVar) -> Literal:
        spent, there = self.model.new_bool_var(""), self.model.new_bool_var("")
        self.model.add(nights >= 1).only_enforce_if(spent)
        self.model.add(nights == 0).only_enforce_if(spent.negated())
        self.model.add_bool_and(spent, self.present).only_enforce_if(there)
        self.model.add_bool_or(spent.negated(), self.present.negated(), there)
        return there

    def _work(self, day: Amount, rule: WorkRule, plants: int, there: Literal) -> None:
        if not rule.care:
            self.model.add_linear_expression_in_domain(day, self._open).only_enforce_if(there)
        self.limits.work(day, hours_of(rule, plants), rule.part, there)

    @property
    def _open(self) -> cp_model.Domain:
        return cp_model.Domain.from_values([int(day) for day in np.flatnonzero(self.load.open)])

    def _end(self) -> None:
        waiting = self.course.waiting
        if waiting is None:
            first = self.pickup - self.course.legs[0].nights.usual
            self.model.add(self.borders[0] == first).only_enforce_if(self.present)
            self.model.add(self.borders[-1] == self.last).only_enforce_if(self.present)
            return
        ready, most = self.borders[-1], self.course.keeping
        nights, left = self.model.new_int_var(0, most, ""), self.model.new_int_var(0, self.load.size, "")
        self.model.add(left == ready + nights)
        self.model.add(left == self.last).only_enforce_if(self.present)
        self.model.add(ready <= self.pickup).only_enforce_if(self.present)
        self._stand(waiting, self.allowed.rows(waiting), ready, nights, left)
        for rule in self.course.handing_over:
            self.limits.work(self.pickup, hours_of(rule, self.course.plants), rule.part, self.present)

    # --- stands ---

    def _stand(self, leg: Leg, rows: Rows, first: Amount, nights: Amount, leaves: Amount) -> Sequence[Amount]:
        """Whole containers over the places; how many in each."""
        stay = self.model.new_optional_interval_var(first, nights, leaves, self.present, "")
        counts: list[Amount] = [leg.containers]
        if len(rows) > 1:
            counts = [self.model.new_int_var(0, leg.containers, "") for _ in rows]
            self.model.add(sum(counts) == leg.containers)
        for row, count in zip(rows, counts, strict=True):
            self.limits.stand(row, stay, count, leg.unit_in(self.load.season.places[row]))
        self.stands[leg.key] = (rows, counts)
        return counts

    # --- sides ---

    def _side(self, number: int) -> SideVars:
        side, found = self.course.sides[number], self.reach.sown[number]
        choices = sorted({_where(sown) for each in found.values() for sown in each})
        ways = [(choices.index(_where(s)), s, at) for at, each in found.items() for s in each]
        works = [side_works(self.allowed, side, sown, start) for _, sown, start in ways]
        rows = [
            (choice, sown.day, sown.emerges, sown.raised, start, *self._days_of(each))
            for (choice, sown, start), each in zip(ways, works, strict=True)
        ]
        columns = [day_in(self.model, {row[at] for row in rows}) for at in range(len(rows[0]))]
        columns[4] = self.start
        self.model.add_allowed_assignments(columns, rows)
        choice, sown, emerges, raised, start, *days = columns
        self._stand_side(side, choices, choice, (sown, emerges, raised, start))
        if side.holding:
            self.departures.append(start - raised)
        for at, day in enumerate(days):
            work = next((work for each in works if (work := each[at])), None)
            if work:
                self.limits.work(day, work.hours, work.part, self.present)
        return SideVars(choice, sown, emerges, raised, {(c, s.day, s.raised, at): s for c, s, at in ways})

    def _in_succession(self) -> None:
        """Sowings of one side follow each other; `reach` left only those that can."""
        for number, side in enumerate(self.course.sides):
            if side.apart:
                before, sown = self.sown[number - 1], self.sown[number]
                days = {each.day for ways in self.reach.sown[number - 1].values() for each in ways}
                after = {day: self.allowed.day_after(number, day) for day in sorted(days)}
                pairs = [(day, later) for day, later in after.items() if later is not None]
                self.model.add_allowed_assignments([before.day, sown.day], pairs)
                self.model.add(sown.emerges > before.emerges).only_enforce_if(self.present)

    def _days_of(self, works: Sequence[WorkPlan | None]) -> list[int]:
        """Work that falls away is put on a day before all others, one for each piece of it."""
        return [self.load.index(work.day) if work else -1 - at for at, work in enumerate(works)]

    def _stand_side(
        self, side: SideCourse, choices: list[tuple[Rows, ...]], choice: cp_model.IntVar, days: Sequence[Amount]
    ) -> None:
        """Germinating and raising, each in places of the warmth that was chosen; cold holding in any."""
        for number, (leg, first, leaves) in enumerate(zip(side.legs, days, days[1:], strict=False)):
            rows = tuple(
                sorted({row for each in choices for row in each[number]}, key=self.allowed.rows(leg).index)
            )
            if not rows:
                continue  # never held cold
            nights = self.model.new_int_var(0, self.load.size, "")
            self.model.add(leaves == first + nights)
            counts = self._stand(leg, rows, first, nights, leaves)
            for row, count in zip(rows, counts, strict=True):
                warm = [at for at, each in enumerate(choices) if row in each[number]]
                if len(warm) < len(choices) and leg is not side.holding:
                    self._only_where(choice, warm, count)

    def _only_where(self, choice: cp_model.IntVar, warm: Sequence[int], count: Amount) -> None:
        used = self.model.new_bool_var("")
        self.model.add_linear_expression_in_domain(choice, cp_model.Domain.from_values(warm)).only_enforce_if(used)
        self.model.add(count == 0).only_enforce_if(used.negated())

    # --- what was found ---

    def departure(self) -> Amount:
        """Nights away from the usual ones, and of waiting for the pickup."""
        waited = self.pickup - self.borders[-1] if self.course.waiting else 0
        return sum(self.departures) + waited

    def dates(self, solver: cp_model.CpSolver) -> Dates:
        sown = tuple(side.value(solver, solver.value(self.start)) for side in self.sown)
        borders = tuple(solver.value(border) for border in self.borders)
        pickup, last = solver.value(self.pickup), solver.value(self.last)
        return Dates(sown, borders, pickup, last, solver.value(self.departure()))

    def places(self, solver: cp_model.CpSolver) -> Chosen:
        """Containers by place, for each stage of each sowing and of the grafts."""
        return {key: _spread(solver, rows, counts) for key, (rows, counts) in self.stands.items()}


@dataclass(frozen=True, slots=True)
class SideVars:
    """The choice of warmth and the days of one side; `ways` leads back to the sowing that they mean."""

    choice: cp_model.IntVar
    day: cp_model.IntVar
    emerges: cp_model.IntVar
    raised: cp_model.IntVar
    ways: Mapping[tuple[int, int, int, int], Sown]

    def value(self, solver: cp_model.CpSolver, start: int) -> Sown:
        days = (solver.value(self.day), solver.value(self.raised))
        return self.ways[solver.value(self.choice), *days, start]


def _where(sown: Sown) -> tuple[Rows, ...]:
    return sown.germinating, sown.raising, sown.holding


def _spread(solver: cp_model.CpSolver, rows: Sequence[int], counts: Sequence[Amount]) -> Spread:
    there = ((row, solver.value(count)) for row, count in zip(rows, counts, strict=True))
    return tuple((row, count) for row, count in there if count)
