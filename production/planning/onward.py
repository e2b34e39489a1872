"""From the start of a part that lives to ready: recorded borders as they were, the rest counted on.

What was lost in time is taken from the last nights, growing on, down to the shortest; what was given up before is
given back when there is time again.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta
from itertools import chain

from .calendar import next_open
from .legs import Course, Leg
from .terms import PartFacts, PartPlan, Season, WorkRule

_Best = tuple[tuple[int, int], tuple[date, ...]]
_Known = dict[tuple[int, date], _Best | None]


class Onward:
    """The nights that are left to a part, on the way to the pickup that was promised.

    `last_collection` is the last day on which its plants will be collected if they are ready in time.
    """

    def __init__(
        self,
        season: Season,
        course: Course,
        plan: PartPlan,
        facts: PartFacts,
        pickup: date,
        last_collection: date,
    ) -> None:
        self.today, self.calendar = season.today, season.calendar
        self.course, self.plan, self.facts = course, plan, facts
        self.entered = {each.stage: each.day for each in facts.entered}
        self.pickup, self.last_collection = pickup, last_collection

    def borders(self, starts: Iterator[date]) -> list[date]:
        """The entry of each leg, then ready, from the first of these starts that leads there inside all bounds.

        If none does: from the first of them, whatever bound is broken.
        """
        legs, start = self.course.legs, next(starts)
        nights = [self._planned_nights(leg) for leg in legs]
        borders = self._counted_on(start, nights)
        late = (borders[-1] - self.pickup).days
        for number in reversed(range(len(legs))):
            if self._is_left(number) or not late:
                break
            nights[number] += self._change(legs[number], nights[number], late)
            borders = self._counted_on(start, nights)
            late = (borders[-1] - self.pickup).days
        if self._within_bounds(borders):
            return borders
        return self._nearest_within_bounds(chain([start], starts), nights) or borders

    def _within_bounds(self, borders: Sequence[date]) -> bool:
        """Whether no stage to come lasts too long because of closed days, nor the wait for pickup."""
        legs = self.course.legs
        return self._keeps(borders[-1]) and all(
            self._is_left(number) or leg.nights.shortest <= (leaves - first).days <= self._longest(leg, first)
            for number, (leg, first, leaves) in enumerate(zip(legs, borders, borders[1:], strict=False))
        )

    def _longest(self, leg: Leg, first: date) -> int:
        """Plants that stand there longer already cannot have left before today."""
        return max(leg.nights.longest, (self.today - first).days)

    def _keeps(self, ready: date) -> bool:
        if self.facts.ready_on is not None or not self.course.waiting:
            return True
        return (self.last_collection - ready).days <= self.course.keeping

    def _nearest_within_bounds(self, starts: Iterable[date], nights: Sequence[int]) -> list[date] | None:
        """From the first start that has any: borders that are least late, then least far from these nights."""
        for start in starts:
            found = self._best_from(0, start, nights, {})
            if found:
                return [start, *found[1]]
        return None

    def _best_from(self, number: int, first: date, nights: Sequence[int], known: _Known) -> _Best | None:
        """From the entry of a leg: days late and nights changed in total, and the borders that follow."""
        if number == len(self.course.legs):
            return ((max((first - self.pickup).days, 0), 0), ()) if self._keeps(first) else None
        if (number, first) not in known:
            ways = []
            for leaves in self._possible_ends(number, first):
                rest = self._best_from(number + 1, leaves, nights, known)
                if rest:
                    (late, changed), borders = rest
                    changed += abs((leaves - first).days - nights[number])
                    ways.append(((late, changed), (leaves, *borders)))
            known[number, first] = min(ways, default=None)
        return known[number, first]

    def _possible_ends(self, number: int, first: date) -> list[date]:
        leg = self.course.legs[number]
        if self._is_left(number):
            return [self._leaves(number, leg, first, leg.nights.usual)]
        ends = (first + timedelta(days=n) for n in range(leg.nights.shortest, self._longest(leg, first) + 1))
        is_open = self.calendar.is_open
        return [day for day in ends if day >= self.today and (is_open(day) or not self._needs_open(number))]

    def _change(self, leg: Leg, nights: int, late: int) -> int:
        """Nights to give up when late; or to give back, of those given up before, now that there is time again."""
        if late > 0:
            return -min(late, max(nights - leg.nights.shortest, 0))
        return min(-late, max(leg.nights.usual - nights, 0))

    def _planned_nights(self, leg: Leg) -> int:
        stays = [s for s in self.plan.stays if (s.subject, s.stage) == (leg.subject, leg.stage.key)]
        if not stays:
            return leg.nights.usual
        nights = (max(s.leaves for s in stays) - min(s.first for s in stays)).days
        return min(max(nights, leg.nights.shortest), max(leg.nights.longest, nights))

    def _is_left(self, number: int) -> bool:
        """Whether the plants are recorded as out of this leg."""
        legs = self.course.legs
        if number + 1 < len(legs):
            return legs[number + 1].stage.key in self.entered
        return self.facts.ready_on is not None

    def _counted_on(self, start: date, nights: Sequence[int]) -> list[date]:
        borders = [start]
        for number, leg in enumerate(self.course.legs):
            borders.append(self._leaves(number, leg, borders[-1], nights[number]))
        return borders

    def _leaves(self, number: int, leg: Leg, first: date, nights: int) -> date:
        legs = self.course.legs
        if number + 1 < len(legs) and legs[number + 1].stage.key in self.entered:
            return max(self.entered[legs[number + 1].stage.key], first)
        if number + 1 == len(legs) and self.facts.ready_on is not None:
            return max(self.facts.ready_on, first)
        leaves = max(first + timedelta(days=nights), self.today)
        if self._needs_open(number):
            leaves = next_open(self.calendar, leaves)
        return leaves

    def _needs_open(self, number: int) -> bool:
        """Whether work falls on the end of this leg that may not fall on a closed day."""
        legs = self.course.legs
        rules = [rule for rule in legs[number].stage.works if rule.at_end]
        if number + 1 < len(legs):
            rules += at_entry(legs[number + 1])
        return any(not rule.care for rule in rules)


def at_entry(leg: Leg) -> list[WorkRule]:
    """Work on the day on which the plants enter."""
    return [rule for rule in leg.stage.works if not rule.at_end and not rule.after]
