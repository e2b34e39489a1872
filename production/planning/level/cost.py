"""What is levelled, and what makes one season better than another."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import NamedTuple

from production.planning.course import course_of
from production.planning.options import pickups_of
from production.planning.terms import COLD_HOLD, RAISING, LinePlan, PartPlan, Place, Season, Subject, Wish

HUNDREDTHS = 100  # weights are counted in hundredths, so that costs are whole numbers


@dataclass(frozen=True, slots=True)
class Told:
    """A line as it stands in the plan, and what its customer knows.

    `plan` None: no room was found for it so far. `told` is the pickup that the customer was told; None: nobody has
    been. `may_be_late` says by how many days a line may be put off beyond its latitude: not at all once confirmed,
    unless it is late already.
    """

    wish: Wish
    plan: LinePlan | None = None
    told: date | None = None
    may_be_late: int = 0

    @property
    def weight(self) -> int:
        return max(1, round(self.wish.weight * HUNDREDTHS))

    @property
    def last(self) -> date:
        """The last pickup that is not late."""
        return self.wish.pickup + timedelta(days=max(self.wish.later, 0))

    def lateness(self, pickup: date) -> int:
        """Days late, weighted."""
        return max((pickup - self.last).days, 0) * self.weight


class Cost(NamedTuple):
    """Compared in this order: what comes first weighs more than all that follows.

    `left_over` and `late` are weighted in hundredths: lines for which there is no room, and days of lateness.
    `told_anew` counts customers who must be told another day, `moved` lines of which anything moves, `nights` the
    nights away from the usual ones or waiting for pickup.
    """

    left_over: int = 0
    late: int = 0
    told_anew: int = 0
    moved: int = 0
    nights: int = 0

    def plus(self, other: Cost) -> Cost:
        return Cost(*(mine + more for mine, more in zip(self, other, strict=True)))

    def less(self, other: Cost) -> Cost:
        return Cost(*(mine - more for mine, more in zip(self, other, strict=True)))


def total(costs: Iterable[Cost]) -> Cost:
    return Cost(*map(sum, zip(Cost(), *costs, strict=True)))


Usual = tuple[tuple[tuple[Subject, str], int], ...]  # by subject and stage, the usual nights


def usual_nights(wish: Wish, plants: int, places: Sequence[Place]) -> Usual:
    """The usual nights of so many plants of a wish, from the graft (or the end of raising) to ready."""
    if wish.kind == "room":
        return ()
    legs = course_of(wish, plants, places).legs
    return tuple(((leg.subject, leg.stage.key), leg.nights.usual) for leg in legs)


def cost_of(line: Told, plan: LinePlan | None, usual: Callable[[int], Usual]) -> Cost:
    """What it costs to give a line this plan, or with None to find no room; `usual` is by plants of a part."""
    if plan is None:
        return Cost(left_over=line.weight)
    return Cost(
        late=line.lateness(plan.pickup),
        told_anew=int(line.told not in (None, plan.pickup)),
        moved=int(plan is not line.plan),
        nights=sum(_nights_away(plan, part, usual(part.plants)) for part in plan.parts),
    )


def _nights_away(plan: LinePlan, part: PartPlan, usual: Usual) -> int:
    """Nights by which the stages depart from the usual, and nights of waiting for the pickup."""
    if plan.wish.kind == "room":
        return 0
    spent = {(stay.subject, stay.stage): stay.nights for stay in part.stays}
    away = (abs(spent.get(stage, 0) - nights) for stage, nights in usual)
    return sum(away) + sum(_nights_held(part)) + max((plan.pickup - part.ready).days, 0)


def _nights_held(part: PartPlan) -> Iterator[int]:
    """Of each sowing, the nights between the end of raising and the graft."""
    held = {stay.subject for stay in part.stays if stay.stage_kind == COLD_HOLD}
    for sowing in part.sowings:
        if part.graft_day and sowing.subject in held:
            of_it = (sowing.subject, RAISING, sowing.number)
            raised = (stay.leaves for stay in part.stays if (stay.subject, stay.stage_kind, stay.sowing) == of_it)
            yield (part.graft_day - max(raised, default=sowing.emerges)).days


def pickups_for(season: Season, line: Told) -> list[date]:
    """The pickups that a line may have: inside its latitude, and after it if it may be late.

    The least late first, then the one that was told, then the nearest to what was asked.
    """
    days = pickups_of(season, line.wish)
    beyond = (line.last + timedelta(days=by) for by in range(1, line.may_be_late + 1))
    days += [day for day in beyond if day >= season.today and season.calendar.is_open(day)]
    asked = line.wish.pickup
    return sorted(days, key=lambda day: (line.lateness(day), day != line.told, abs((day - asked).days), day))
