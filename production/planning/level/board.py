"""The season while it is levelled: which line has which plan, and what all of them take."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import timedelta

import numpy as np

from production.planning.claims import Claims, place_claims, skills_of
from production.planning.level.cost import Cost, Told, cost_of, pickups_for, total
from production.planning.load import EASE, Load
from production.planning.options import Ways
from production.planning.terms import Impossible, LinePlan, Season

HORIZON = timedelta(days=460)  # beyond the last pickup: how far a load must reach for what follows from it


class Board:
    """Lines on a load. `plans[i]` is the plan of `lines[i]`, or None while it stands nowhere."""

    def __init__(self, season: Season, lines: Sequence[Told]) -> None:
        self.season, self.lines = season, tuple(lines)
        last = max((line.last for line in lines), default=season.today)
        skills = {skill for line in lines for skill in _skills(line)}
        self.load = Load(season, last + HORIZON, skills)
        self.plans: list[LinePlan | None] = [None] * len(lines)
        self.costs: list[Cost] = [cost_of(line, None, season.places) for line in lines]
        self._claims: list[Claims] = [((), ())] * len(lines)
        self.as_it_stands = [cost_of(line, line.plan, season.places) if line.plan else None for line in lines]

    def as_it_is(self) -> Cost:
        """What the season costs with every line as it stands: who stands over what there is, is left over."""
        for number, line in enumerate(self.lines):
            self.put(number, line.plan)
        crowded = [self.plans[n] is None or self.over(self._claims[n]) for n in range(len(self.lines))]
        costs = [
            cost_of(line, None, self.season.places) if over else self.costs[number]
            for number, (line, over) in enumerate(zip(self.lines, crowded, strict=True))
        ]
        for number in range(len(self.lines)):
            self.put(number, None)
        return total(costs)

    @property
    def cost(self) -> Cost:
        return total(self.costs)

    def put(self, number: int, plan: LinePlan | None) -> None:
        """Give a line a plan, whether it fits or not; None takes it off."""
        self.load.add(*self._claims[number], sign=-1)
        self.plans[number] = plan
        self._claims[number] = place_claims(plan, self.lines[number].wish.key) if plan else ((), ())
        self.load.add(*self._claims[number])
        self.costs[number] = self._cost(number, plan)

    def _cost(self, number: int, plan: LinePlan | None) -> Cost:
        line = self.lines[number]
        known = self.as_it_stands[number]
        return known if known and plan is line.plan else cost_of(line, plan, self.season.places)

    def keeps(self, number: int) -> bool:
        """Let a line stand as it stands, if there is room for it there now."""
        plan = self.lines[number].plan
        if plan is None or not self.fits(place_claims(plan, self.lines[number].wish.key)):
            return False
        self.put(number, plan)
        return True

    def fits(self, claims: Claims) -> bool:
        """Whether all of these claims find room and hands beside what is there."""
        room, hands = claims
        self.load.add(room, hands)
        fits = not self.over(claims)
        self.load.add(room, hands, sign=-1)
        return fits

    def over(self, claims: Claims) -> bool:
        """Whether a place or people are asked for too much where these claims, already counted, are."""
        load, (room, hands) = self.load, claims
        for claim in room:
            row = load.row.get(claim.place)
            first, leaves = max(load.index(claim.first), 0), max(load.index(claim.leaves), 0)
            if row is not None and np.any(load.used[row, first:leaves] > load.capacity[row, first:leaves] + EASE):
                return True
        for work in hands:
            day = load.index(work.day)
            sets = {index for skill, _hours in work.hours for index in load.sets_of[skill]}
            if 0 <= day < load.size and any(load.asked[at, day] > load.hours[at, day] + EASE for at in sets):
                return True
        return False

    def place(self, number: int) -> bool:
        """Look for the best place of a line beside the others; it stands there if one was found."""
        line = self.lines[number]
        try:
            plan = Ways(self.load, line.wish).first(pickups_for(self.season, line))
        except Impossible:
            plan = None
        self.put(number, plan)
        return plan is not None

    def snapshot(self) -> list[LinePlan | None]:
        return list(self.plans)

    def restore(self, plans: Iterable[LinePlan | None]) -> None:
        for number, plan in enumerate(plans):
            if plan is not self.plans[number]:
                self.put(number, plan)


def _skills(line: Told) -> Iterable[str]:
    planned = line.plan.parts if line.plan else ()
    yield from skills_of(line.wish)
    yield from (skill for part in planned for work in part.works for skill, _ in work.hours)
