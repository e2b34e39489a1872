"""Why a wish does not fit: the fewest places and people that stand in its way, and what more of them would buy."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from .claims import conflicts_of, place_claims
from .load import EASE, Floats, Load
from .options import Ways, pickups_of
from .terms import Conflict, LinePlan, Wish

Limit = tuple[Literal["place", "hands"], int]  # a row of the load's places, or one of its sets of skills

FINEST = {"positions": 1.0, "m²": 0.1, "hours": 0.25}  # steps in which more of it is tried
MOST_STEPS = 4096


@dataclass(frozen=True, slots=True)
class Obstacle:
    """A place or people without more of which the wish cannot fit.

    `conflict` says on which nights and against which orders. `more` is how much more of it, on every night or day
    on which there is any, makes the wish fit together with what the other obstacles ask for; None: no amount does.
    """

    conflict: Conflict
    more: float | None


@dataclass(frozen=True, slots=True)
class WhyNot:
    """Obstacles of which every one stands in the way: all but one of them gone, the wish still would not fit.

    Empty when nothing that places or people could give more of would help.
    """

    obstacles: tuple[Obstacle, ...]
    plan: LinePlan | None = None  # what could be promised with so much more of each


def why_not(load: Load, wish: Wish) -> WhyNot:
    """The smallest set of obstacles found by giving limits back one by one, largest last."""
    trial = _Trial(load, wish)
    if trial.plan_without(()) or not (free := trial.plan_without(trial.limits)):
        return WhyNot(())
    crossed = _crossed(load, free)
    suspects = sorted(crossed)
    standing = list(suspects if trial.plan_without(suspects) else trial.limits)
    for limit in sorted(standing, key=lambda each: crossed.get(each, 0.0)):
        without = [other for other in standing if other != limit]
        if trial.plan_without(without):
            standing = without
    plan = trial.plan_without(standing)
    assert plan is not None
    found = {_limit_of(load, conflict): conflict for conflict in conflicts_of(load, plan)}
    more = trial.more_of_each(standing)
    obstacles = (Obstacle(found[limit], more.get(limit)) for limit in standing if limit in found)
    ordered = sorted(obstacles, key=lambda each: (each.conflict.first, each.conflict.name))
    return WhyNot(tuple(ordered), trial.plan_with(more) if more else None)


class _Trial:
    """One wish, asked again on loads on which some limits are lifted."""

    def __init__(self, load: Load, wish: Wish) -> None:
        self.load, self.ways = load, Ways(load, wish)
        self.pickups = pickups_of(load.season, wish)
        places: list[Limit] = [("place", row) for row in range(len(load.season.places))]
        self.limits: list[Limit] = places + [("hands", index) for index in range(len(load.sets))]
        self._asked: dict[tuple[Limit, ...], LinePlan | None] = {}

    def plan_without(self, lifted: Sequence[Limit]) -> LinePlan | None:
        key = tuple(sorted(lifted))
        if key not in self._asked:
            self._asked[key] = self.plan_with(dict.fromkeys(lifted, np.inf))
        return self._asked[key]

    def more_of_each(self, standing: Sequence[Limit]) -> dict[Limit, float]:
        """The least of each limit in turn, found by trying, with which all together suffice."""
        found: dict[Limit, float] = dict.fromkeys(standing, np.inf)
        for limit in standing:
            step = FINEST[unit_of(self.load, limit)]

            def crossed(steps: float, limit: Limit = limit, step: float = step) -> int | None:
                plan = self.plan_with({**found, limit: steps * step})
                return self._steps_crossed(plan, limit, step) if plan else None

            steps = _least(crossed)
            if steps is None:
                return {}
            found[limit] = steps * step
        return found

    def _steps_crossed(self, plan: LinePlan, limit: Limit, step: float) -> int:
        """By how many steps a plan crosses a limit: so many more are enough for it."""
        what, row = limit
        trial, spots = self.load.copy(), self.load.spots(*place_claims(plan, plan.wish.key))
        trial.count(spots)
        if what == "place":
            over = [
                (trial.used[row, first:leaves] - trial.capacity[row, first:leaves]).max()
                for at, first, leaves, _load in spots.stays
                if at == row
            ]
        else:
            helped = set(self._helped(row))
            over = [trial.asked[at, day] - trial.hours[at, day] for at, day, _hours in spots.work if at in helped]
        return max(1, math.ceil(max(over, default=0.0) / step - EASE))

    def plan_with(self, more: Mapping[Limit, float]) -> LinePlan | None:
        return self.ways.on(self._with(more)).first(self.pickups)

    def _with(self, more: Mapping[Limit, float]) -> Load:
        """The load with so much more on every night or day on which there is anything."""
        changed = self.load.copy()
        changed.capacity, changed.hours = changed.capacity.copy(), changed.hours.copy()
        for (what, index), amount in more.items():
            if what == "place":
                changed.capacity[index] = _raised(changed.capacity[index], amount)
            else:
                for other in self._helped(index):
                    changed.hours[other] = _raised(changed.hours[other], amount)
        return changed

    def _helped(self, index: int) -> Iterator[int]:
        """The sets of skills to which hours of somebody with these skills count."""
        asks = set(self.load.sets[index].asks)
        return (other for other, each in enumerate(self.load.sets) if asks & set(each.asks))


def _least(crossed: Callable[[float], int | None]) -> int | None:
    """The fewest steps that do; None if none of `MOST_STEPS` do.

    `crossed` says by how many steps a plan crosses what is lifted by so many, or None where there is no plan. A
    plan found with more than enough mostly needs the least, or not much more.
    """
    found = crossed(math.inf)
    high, low, by = found or 1, 0, 1
    while (found := crossed(high)) is None:
        low, high = high, 2 * high
        if high > MOST_STEPS:
            return None
    while high - low > 1:
        stepping = found >= high
        middle = max(high - by, (low + high) // 2) if stepping else max(found, low + 1)
        again = crossed(middle)
        if again is None:
            low, found, by = middle, high, high
        else:
            by = 1 if again < middle else 2 * by if stepping else by
            high, found = middle, again
    return high


def _raised(there: Floats, more: float) -> Floats:
    """More where there is anything: a closed place stays closed."""
    return np.where(there > 0, there + more, 0.0)


def unit_of(load: Load, limit: Limit) -> str:
    what, index = limit
    if what == "hands":
        return "hours"
    return "positions" if load.season.places[index].measure == "positions" else "m²"


def _limit_of(load: Load, conflict: Conflict) -> Limit:
    return ("place", load.row[conflict.key]) if conflict.resource == "place" else ("hands", load.set_of(conflict))


def _crossed(load: Load, plan: LinePlan) -> dict[Limit, float]:
    """The limits that a plan would cross on this load, and by how much at most, as a share of what there is."""
    most: dict[Limit, float] = {}
    for conflict in conflicts_of(load, plan):
        limit = _limit_of(load, conflict)
        over = (conflict.peak - conflict.there) / max(conflict.there, EASE)
        most[limit] = max(most.get(limit, 0.0), over)
    return most
