"""The season while it is levelled: which line has which plan, and what all of them take."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta

import numpy as np

from production.planning.asked import check_wish
from production.planning.claims import asks_of, place_claims
from production.planning.hands import Ask
from production.planning.ledger import Spots
from production.planning.level.cost import Cost, Told, Usual, cost_of, pickups_for, total, usual_nights
from production.planning.level.draft import Draft
from production.planning.level.needs import Kind, Known
from production.planning.level.opening import THOROUGHLY, Look, Opening
from production.planning.load import Floats, Load
from production.planning.options import Ways
from production.planning.terms import Impossible, LinePlan, Season

Held = LinePlan | Draft | None

HORIZON = timedelta(days=460)  # beyond the last pickup: how far a load must reach for what follows from it


class Board:
    """Lines on a load. `held[i]` is the plan of `lines[i]`, maybe as a draft, or None while it has no room.

    A line that is left over goes on standing where it stands. It then takes its room of `load`, so that nothing is
    moved to where it is; of `sound` it takes none, for the others must fit only if it is looked away from.
    """

    def __init__(self, season: Season, lines: Sequence[Told]) -> None:
        self.season, self.lines = season, tuple(lines)
        last = max((line.last for line in lines), default=season.today)
        asks = {ask for line in lines for ask in _asks(line)}
        self.load = Load(season, last + HORIZON, asks)
        self.sound = self.load.copy()  # without those that are left over
        self.moved = self.load.without_limits()  # of those alone that do not stand as they stood
        self._used, self._asked = self._in_one((self.load, self.sound, self.moved))
        self.held: list[Held] = [None] * len(lines)
        self._known = Known(self.load)
        self._kinds: dict[int, Kind | None] = {}
        self._ways: dict[int, Ways | None] = {}
        self._pickups: dict[int, list[date]] = {}
        self._usual: dict[tuple[int, int], Usual] = {}
        self._stand: list[Spots | None] = [None] * len(lines)  # where they are as they stand, once asked for
        self._spots: list[Spots] = [Spots()] * len(lines)
        self.costs: list[Cost] = [self._reckoned(number, None) for number in range(len(lines))]
        self.cost = total(self.costs)
        self.days = np.array([self._day(number) for number in range(len(lines))], np.int64)  # pickups, as ordinals
        self.dear = np.ones((4, len(lines)), bool)  # lines that are left over, late, told anew, moved
        stands = (self._reckoned(number, line.plan) if line.plan else None for number, line in enumerate(lines))
        self.as_it_stands = list(stands)

    def as_it_is(self) -> Cost:
        """What the season costs with every line as it stands: who stands over what there is, is left over."""
        for number, line in enumerate(self.lines):
            self.put(number, line.plan)
        crowded = [plan is None or self.is_crowded(number) for number, plan in enumerate(self.held)]
        costs = [self._reckoned(n, None) if over else self.costs[n] for n, over in enumerate(crowded)]
        for number in range(len(self.lines)):
            self.put(number, None)
        return total(costs)

    @property
    def plans(self) -> list[LinePlan | None]:
        return [self.plan(number) for number in range(len(self.lines))]

    def plan(self, number: int) -> LinePlan | None:
        """The plan of a line; a draft is written out."""
        held = self.held[number]
        if isinstance(held, Draft):
            held = self.held[number] = held.written_out(self.lines[number].wish, self._known.unlimited)
        return held

    def put(self, number: int, plan: Held) -> None:
        """Give a line a plan, whether it fits or not; None takes it off."""
        self._count(number, sign=-1)
        self.held[number], self._spots[number] = plan, self._where(number, plan)
        self._count(number)
        self.days[number] = self._day(number)
        cost = self.cost_of(number, plan)
        self.dear[:, number] = [amount > 0 for amount in cost[:4]]
        self.cost = self.cost.less(self.costs[number]).plus(cost)
        self.costs[number] = cost

    def leave(self, number: int) -> None:
        """Find no room for a line: it counts as left over and goes on standing as it stands, whatever there is."""
        self.put(number, None)
        self._spots[number] = self.spots_as_it_stands(number)
        self._count(number)

    @staticmethod
    def _in_one(loads: Sequence[Load]) -> tuple[Floats, Floats]:
        """Room and hours taken of these loads as one array each: a line is counted on all of them at once."""
        used, asked = np.stack([load.used for load in loads]), np.stack([load.asked for load in loads])
        for number, load in enumerate(loads):
            load.used, load.asked = used[number], asked[number]
        return used, asked

    def _count(self, number: int, sign: int = 1) -> None:
        plan, spots = self.held[number], self._spots[number]
        loads = 1 if plan is None else 2 if plan is self.lines[number].plan else 3
        used, asked = self._used[:loads], self._asked[:loads]
        for row, first, leaves, load in spots.stays:
            used[:, row, first:leaves] += sign * load
        for index, day, hours in spots.work:
            asked[:, index, day] += sign * hours

    def spots_as_it_stands(self, number: int) -> Spots:
        """What a line takes where it stands."""
        return self._where(number, self.lines[number].plan)

    def _where(self, number: int, plan: Held) -> Spots:
        if plan is None:
            return Spots()
        if isinstance(plan, Draft):
            return plan.spots
        line = self.lines[number]
        if plan is not line.plan:
            return self.load.spots(*place_claims(plan, line.wish.key))
        known = self._stand[number] = self._stand[number] or self.load.spots(*place_claims(plan, line.wish.key))
        return known

    def _day(self, number: int) -> int:
        plan = self.held[number]
        return (plan.pickup if plan else self.lines[number].wish.pickup).toordinal()

    def cost_of(self, number: int, plan: Held) -> Cost:
        """What it costs, or would cost, to give a line this plan."""
        if isinstance(plan, Draft):
            line = self.lines[number]
            return Cost(0, line.lateness(plan.pickup), int(line.told not in (None, plan.pickup)), 1, plan.nights)
        known = self.as_it_stands[number]
        return known if known and plan is self.lines[number].plan else self._reckoned(number, plan)

    def _reckoned(self, number: int, plan: LinePlan | None) -> Cost:
        return cost_of(self.lines[number], plan, lambda plants: self._usual_nights(number, plants))

    def _usual_nights(self, number: int, plants: int) -> Usual:
        key = (number, plants)
        if key not in self._usual:
            self._usual[key] = usual_nights(self.lines[number].wish, plants, self.season.places)
        return self._usual[key]

    def keeps(self, number: int) -> bool:
        """Let a line stand as it stands, if it fits beside those that have room, and crowds none that moved."""
        plan = self.lines[number].plan
        if plan is None:
            return False
        self.put(number, plan)
        if self.sound.over(self._spots[number]) or self.crowds(number):
            self.put(number, None)
            return False
        return True

    def returns(self, number: int, plan: LinePlan | Draft) -> bool:
        """Give a line back a plan that it had, if it fits beside the others as they stand now."""
        if plan is self.lines[number].plan:
            return self.keeps(number)
        self.put(number, plan)
        if self.is_crowded(number):
            self.put(number, None)
            return False
        return True

    def is_crowded(self, number: int) -> bool:
        """Whether room or hands lack where a line stands."""
        return self.load.over(self._spots[number])

    def crowds(self, number: int) -> bool:
        """Whether room or hands lack where a line stands, for one that moved there."""
        return self.load.over(self._spots[number], where=self.moved)

    def place(self, number: int, look: Look = THOROUGHLY) -> bool:
        """Look for the best place of a line beside the others; it stands there if one was found."""
        line, kind = self.lines[number], self._kind(number)
        may = (day for day in self.pickups(number) if look.tries(line.lateness(day)))
        days = [self.load.index(day) for day in may] if kind else []
        draft = Opening(self.load, kind, days, look).first() if kind and days else None
        self.put(number, draft)
        return draft is not None

    def _kind(self, number: int) -> Kind | None:
        """What a line needs; None if its wish makes no sense."""
        if number not in self._kinds:
            wish = self.lines[number].wish
            try:
                check_wish(self.season, wish)
                self._kinds[number] = self._known.kind(wish)
            except Impossible:
                self._kinds[number] = None
        return self._kinds[number]

    def ways(self, number: int) -> Ways | None:
        """The ways of a line beside the others as they stand now; None if its wish makes no sense."""
        if number not in self._ways:
            try:
                self._ways[number] = Ways(self.load, self.lines[number].wish)
            except Impossible:
                self._ways[number] = None
        known = self._ways[number]
        return known and known.afresh()

    def pickups(self, number: int) -> list[date]:
        """The pickups that a line may have, as `pickups_for` ranks them."""
        if number not in self._pickups:
            self._pickups[number] = pickups_for(self.season, self.lines[number])
        return self._pickups[number]

    def snapshot(self) -> list[Held]:
        return list(self.held)

    def restore(self, plans: Iterable[Held]) -> None:
        """All lines as they were; those without a plan are left over."""
        for number, plan in enumerate(plans):
            if plan is None:
                self.leave(number)
            elif plan is not self.held[number]:
                self.put(number, plan)


def _asks(line: Told) -> Iterable[Ask]:
    planned = line.plan.works if line.plan else ()
    yield from asks_of(line.wish)
    yield from ((skill, work.part) for work in planned for skill, _ in work.hours)
