"""The course of a part that lives, with the numbers that were really sown and grafted."""

from __future__ import annotations

from dataclasses import replace

from .course import Course, Leg, SideCourse, containers_for, with_seeds
from .terms import PartFacts, PartPlan, SowingFacts, SowingPlan


def as_it_is(course: Course, plan: PartPlan, facts: PartFacts) -> Course:
    """The course with the numbers that were really sown and grafted, instead of those planned with now."""
    sides = tuple(_side_as_it_is(side, plan, facts) for side in course.sides)
    plants = _plants_after_start(course, plan, facts)
    legs = tuple(_leg_with(leg, plants) for leg in course.legs)
    waiting = _leg_with(course.waiting, plants) if course.waiting else None
    return replace(course, sides=sides, legs=legs, waiting=waiting, sizing=plan.sizing)


def _plants_after_start(course: Course, plan: PartPlan, facts: PartFacts) -> int:
    for counted in (facts.ready, facts.taken, facts.grafted):
        if counted is not None:
            return max(counted, 1)
    there = [f.usable if f.usable is not None else f.emerged for f in facts.sowings]
    known = [number for number in there if number is not None]
    if course.wish.kind == "plain":
        planned = course.legs[0].plants if course.legs else plan.plants
        return max(min([planned, *known]), 1)
    return max(min([plan.sizing.grafts or course.sizing.grafts, *known]), 1)


def _side_as_it_is(side: SideCourse, plan: PartPlan, facts: PartFacts) -> SideCourse:
    recorded, planned = facts_of(side, facts), planned_of(side, plan)
    seeds = recorded.seeds if recorded and recorded.seeds is not None else planned.seeds if planned else side.seeds
    return with_seeds(side, seeds, side.number, side.apart)


def facts_of(side: SideCourse, facts: PartFacts) -> SowingFacts | None:
    """Of several sowings of a side, the facts stand in the order of the sowings."""
    mine = [each for each in facts.sowings if each.subject == side.subject]
    return mine[side.number] if side.number < len(mine) else None


def planned_of(side: SideCourse, plan: PartPlan) -> SowingPlan | None:
    mine = [each for each in plan.sowings if each.subject == side.subject]
    return mine[side.number] if side.number < len(mine) else None


def _leg_with(leg: Leg, plants: int) -> Leg:
    return replace(leg, plants=plants, containers=containers_for(plants, leg.container))
