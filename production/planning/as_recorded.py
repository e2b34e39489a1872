"""The course of a part that lives, with the numbers that were really sown and grafted."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from .course import containers_for, with_seeds
from .legs import Course, Leg, SideCourse
from .terms import PartFacts, PartPlan, SowingFacts, SowingPlan, StayPlan, Subject


def as_it_is(course: Course, plan: PartPlan, facts: PartFacts) -> Course:
    """The course with the numbers that were really sown and grafted, instead of those planned with now."""
    sides = tuple(_side_as_it_is(side, plan, facts) for side in _sides_sown(course, plan))
    plants = _plants_after_start(course, sides, plan, facts)
    legs = tuple(_leg_with(leg, plants) for leg in course.legs)
    waiting = _leg_with(course.waiting, plants) if course.waiting else None
    return replace(course, sides=sides, legs=legs, waiting=waiting, sizing=plan.sizing)


def _sides_sown(course: Course, plan: PartPlan) -> Iterator[SideCourse]:
    """Each sowing of the plan, whatever the protocol would divide a side into now; a side without any, once."""
    for first in (side for side in course.sides if side.number == 1):
        sown = sorted({each.number for each in plan.sowings if each.subject == first.subject})
        for number in sown or [first.number]:
            yield with_seeds(first, first.seeds, number)


def _plants_after_start(course: Course, sides: Sequence[SideCourse], plan: PartPlan, facts: PartFacts) -> int:
    for counted in (facts.ready, facts.taken, facts.grafted):
        if counted is not None:
            return max(counted, 1)
    known = [*_stems_counted(sides, facts)]
    if course.wish.kind == "plain":
        planned = course.legs[0].plants if course.legs else plan.plants
        return max(min([planned, *known]), 1)
    return max(min([plan.sizing.grafts or course.sizing.grafts, *known]), 1)


def _stems_counted(sides: Sequence[SideCourse], facts: PartFacts) -> Iterator[int]:
    """Of each variety of which anything is counted, its stems at most: of a sowing not counted yet, its seeds."""
    for subject in dict.fromkeys(side.subject for side in sides):
        own = [side for side in sides if side.subject == subject]
        counted = [_counted(facts_of(side, facts)) for side in own]
        if any(number is not None for number in counted):
            both = zip(own, counted, strict=True)
            yield sum(side.seeds if number is None else number for side, number in both)


def _counted(known: SowingFacts | None) -> int | None:
    if known is None:
        return None
    return known.emerged if known.usable is None else known.usable


def _side_as_it_is(side: SideCourse, plan: PartPlan, facts: PartFacts) -> SideCourse:
    recorded, planned = facts_of(side, facts), planned_of(side, plan)
    seeds = recorded.seeds if recorded and recorded.seeds is not None else planned.seeds if planned else side.seeds
    return with_seeds(side, seeds, side.number, side.apart)


def facts_of(side: SideCourse, facts: PartFacts) -> SowingFacts | None:
    mine = (each for each in facts.sowings if (each.subject, each.number) == (side.subject, side.number))
    return next(mine, None)


def planned_of(side: SideCourse, plan: PartPlan) -> SowingPlan | None:
    mine = (each for each in plan.sowings if (each.subject, each.number) == (side.subject, side.number))
    return next(mine, None)


def leg_of(stay: StayPlan) -> tuple[Subject, str, int]:
    """The key of the leg that a stay is of."""
    return stay.subject, stay.stage, stay.sowing


def _leg_with(leg: Leg, plants: int) -> Leg:
    return replace(leg, plants=plants, containers=containers_for(plants, leg.container))
