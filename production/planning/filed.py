"""Seasons from files: planned line after line, and their plans judged by the referee."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from . import check
from .check import Fault
from .claims import place_claims, season_with
from .hands import ANY_TIME, EVENING, MORNING, SkillSet
from .level import Effort, Levelled, Told, Watch, level
from .load import Load
from .promise import load_for, promise
from .season_file import (
    DayHours,
    Goodness,
    HandsLoad,
    Loads,
    PlaceLoad,
    PlanFile,
    PlannedLine,
    Run,
    Said,
    SeasonFile,
)
from .terms import Answer, Conflict, LinePlan, PartFacts, Place, Season
from .why_not import WhyNot, why_not

MOST_EXPLAINED = 20  # lines left over of which it is said why, at up to half a second each
ONE_BY_ONE = "Answered one by one, in the order of the file: a line takes its room before the next is looked at."


def plan_of(file: SeasonFile) -> PlanFile:
    """The lines that are asked, promised in their order; a line that does not fit gets an answer and no plan."""
    return plan_from_answers(file, promise(file.season, file.lines))


def plan_from_answers(file: SeasonFile, answers: Sequence[Answer]) -> PlanFile:
    """The same from the answers to the lines of the file."""
    lines = tuple(
        PlannedLine(answer.wish, Said.of(answer), answer.plan if answer.fits else None) for answer in answers
    )
    plans = [line.plan for line in lines if line.plan]
    return PlanFile(
        today=file.season.today,
        lines=lines,
        goodness=Goodness(ONE_BY_ONE),
        cost=sum(plan.cost for plan in plans),
        load=_loads(file, plans),
        conflicts=tuple(check.conflicts(file.season, plans)),
    )


# --- levelled ------------------------------------------------------------------------------------------------


def level_file(
    file: SeasonFile, effort: Effort, late: int = 0, watch: Watch = lambda _progress: True
) -> tuple[PlanFile, Levelled]:
    """All lines levelled together: those asked placed, those promised and not begun moved inside their latitude.

    Lines under way, and all that is taken by others, stay where they are. A line that is only asked may come as
    many days after its latitude as `late` says. The plan names the lines asked and the promised ones that move.
    """
    season, free = _set_free(file)
    lines = [Told(plan.wish, plan, plan.pickup) for plan in free]
    lines += [Told(wish, may_be_late=late) for wish in file.lines]
    found = level(season, lines, effort, watch)
    return _levelled_plan(file, lines, found), found


def _set_free(file: SeasonFile) -> tuple[Season, list[LinePlan]]:
    """The plans of the promised lines that may still move, and the season without what they take."""
    free = [each.plan for each in file.promised if not each.begun]
    return file.season.without(frozenset(plan.wish.key for plan in free)), free


def why_left_over(file: SeasonFile, found: Levelled) -> dict[str, WhyNot]:
    """For each line for which no room was found: what stands in its way in the levelled season.

    Everybody else stands where the levelling leaves them; its own claims, if it has any, are set aside. Of many
    lines only the first are looked at.
    """
    ground, free = _set_free(file)
    stand = {plan.wish.key: plan for plan in free} | found.plans
    wishes = file.wishes
    answers: dict[str, WhyNot] = {}
    for key in found.left_over[MOST_EXPLAINED:]:
        answers[key] = WhyNot(())
    for key in found.left_over[:MOST_EXPLAINED]:
        season = season_with(ground, (plan for other, plan in stand.items() if other != key))
        answers[key] = why_not(load_for(season, [wishes[key]]), wishes[key])
    return answers


def _levelled_plan(file: SeasonFile, lines: Sequence[Told], found: Levelled) -> PlanFile:
    moved = {move.key for move in found.moves}
    planned = [
        PlannedLine(line.wish, None, found.plans.get(line.wish.key))
        for line in lines
        if line.wish.key in moved or line.plan is None
    ]
    plans = [line.plan for line in planned if line.plan]
    beside = replace(file, season=file.season.without(frozenset(plan.wish.key for plan in plans)))
    return PlanFile(
        today=file.season.today,
        lines=tuple(planned),
        goodness=_goodness(found),
        cost=sum(plan.cost for plan in plans),
        load=_loads(beside, plans),
        conflicts=tuple(check.conflicts(beside.season, plans)),
    )


def _goodness(found: Levelled) -> Goodness:
    """Days late are compared with their bound once no more lines are left over than must be."""
    how = "Levelled: all lines together, those promised moved only inside their latitude."
    if found.proved:
        how += " Nothing better is possible."
    if found.cost.left_over != found.bound.left_over:
        return Goodness(how, "weight of lines left over", found.cost.left_over / 100, found.bound.left_over / 100)
    return Goodness(how, "days late, times the weight of the line", found.cost.late / 100, found.bound.late / 100)


# --- load --------------------------------------------------------------------------------------------------


def _loads(file: SeasonFile, plans: list[LinePlan]) -> Loads:
    load = load_for(file.season, file.lines)
    for plan in plans:
        load.take(*place_claims(plan, plan.wish.key))
    places = ((place, tuple(_runs(load, row))) for row, place in enumerate(load.season.places))
    hands = (_hands_load(each, tuple(_days(load, row))) for row, each in enumerate(load.sets))
    return Loads(
        tuple(PlaceLoad(place.key, _unit(place), runs) for place, runs in places if runs),
        tuple(each for each in hands if each.days),
    )


def _hands_load(asked: SkillSet, days: tuple[DayHours, ...]) -> HandsLoad:
    skills, mornings, evenings = (
        frozenset(skill for skill, when in asked.asks if when == part) for part in (ANY_TIME, MORNING, EVENING)
    )
    return HandsLoad(skills, days, mornings - skills, evenings - skills)


def _unit(place: Place) -> str:
    return "positions" if place.measure == "positions" else "m²"


def _runs(load: Load, row: int) -> Iterator[Run]:
    """Nights on which the place is used, those alike together."""
    used, capacity = np.round(load.used[row], 6), load.capacity[row]
    borders = np.flatnonzero((np.diff(used) != 0) | (np.diff(capacity) != 0)) + 1
    edges = [0, *borders.tolist(), load.size]
    for first, end in pairwise(edges):
        if used[first] > 0:
            yield Run(load.days[first], end - first, float(used[first]), float(capacity[first]))


def _days(load: Load, row: int) -> Iterator[DayHours]:
    asked, there = np.round(load.asked[row], 6), load.hours[row]
    for day in np.flatnonzero(asked > 0):
        yield DayHours(load.days[day], float(asked[day]), float(there[day]))


# --- judging -----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the referee says of a plan: what is impossible in it, and where it asks for more than there is."""

    faults: tuple[Fault, ...]
    conflicts: tuple[Conflict, ...]


def judge_plan(file: SeasonFile, plan: PlanFile) -> Verdict:
    """The plan beside the season it is for. A line that was promised and is planned again gives its room back."""
    season = file.season.without(frozenset(each.wish.key for each in plan.plans))
    begun = {each.plan.wish.key: dict(each.begun) for each in file.promised}
    faults: list[Fault] = []
    for each in plan.plans:
        known = begun.get(each.wish.key, {})
        for piece, facts in _judged_alone(each, known):
            key = piece.wish.key
            recorded = {} if facts is None else {key: facts}
            faults += check.faults(season, [piece], frozenset(recorded), recorded)
    return Verdict(tuple(faults), tuple(check.conflicts(season, plan.plans)))


def _judged_alone(plan: LinePlan, begun: dict[int, PartFacts]) -> Iterator[tuple[LinePlan, PartFacts | None]]:
    """The parts under way each by itself, for their own plants; all others together, for what is left.

    Parts of one number stay together, so that it is told.
    """
    under_way = [part for part in plan.parts if part.number in begun]
    for number in dict.fromkeys(part.number for part in under_way):
        alike = tuple(part for part in under_way if part.number == number)
        plants = sum(part.plants for part in alike)
        yield replace(plan, wish=replace(plan.wish, quantity=plants), parts=alike), begun[number]
    others = tuple(part for part in plan.parts if part.number not in begun)
    if others or not under_way:
        left = max(plan.wish.quantity - sum(part.plants for part in under_way), 0)
        yield replace(plan, wish=replace(plan.wish, quantity=left), parts=others), None
