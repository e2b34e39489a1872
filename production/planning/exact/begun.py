"""A plan that is known, as values of the variables of its line, for a search to begin from."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import accumulate

from ortools.sat.python import cp_model

from production.planning.exact.limits import Amount
from production.planning.exact.line import LineVars
from production.planning.exact.part import PartVars, SideVars
from production.planning.load import Load
from production.planning.terms import LinePlan, PartPlan, StayPlan

Value = tuple[cp_model.IntVar, int]


def values_of(line: LineVars, plan: LinePlan, load: Load) -> Iterator[Value]:
    """The variables that say what becomes of a line, with their values in this plan; others follow from them."""
    parts = sorted(plan.parts, key=lambda part: (-part.plants, _start(part)))
    number = next(
        (at for at, division in enumerate(line.found) if division.plants == tuple(p.plants for p in parts)), None
    )
    if number is None:
        return
    for at, chosen in enumerate(line.chosen):
        yield chosen, int(at == number)
    yield line.pickup, load.index(plan.pickup)
    for variables, part in zip(line.parts[number], parts, strict=True):
        yield from _part(variables, part, load)


def _start(part: PartPlan) -> int:
    """The day of the graft, or on which what was sown leaves raising, as an ordinal."""
    if part.graft_day:
        return part.graft_day.toordinal()
    sown = {sowing.subject for sowing in part.sowings}
    stages = [stay for stay in part.stays if stay.subject in sown]
    return min((stay.leaves for stay in stages), default=part.ready).toordinal()


def _part(variables: PartVars, part: PartPlan, load: Load) -> Iterator[Value]:
    if part.graft_day is None:
        return  # where nothing is grafted the solver finds its own way in no time
    stays: dict[tuple[str, str, int], list[StayPlan]] = {}
    for stay in part.stays:
        stays.setdefault((stay.subject, stay.stage, stay.sowing), []).append(stay)
    start = load.index(part.graft_day)
    nights = [next((stay.nights for stay in stays.get(leg.key, ())), 0) for leg in variables.course.legs]
    yield from zip(variables.borders, accumulate(nights, initial=start), strict=True)
    for key, (rows, counts) in variables.stands.items():
        there = {load.row[stay.place]: stay.containers for stay in stays.get(key, ())}
        yield from _counts(counts, (there.get(row, 0) for row in rows))
    for side, course, sowing in zip(variables.sown, variables.course.sides, part.sowings, strict=True):
        held = course.holding and stays.get(course.holding.key)
        raised = start - (held[0].nights if held else 0)
        rows_of = [[load.row[stay.place] for stay in stays.get(leg.key, ())] for leg in course.legs[:2]]
        yield from _side(side, (load.index(sowing.day), raised, start), rows_of)


def _counts(counts: Iterable[Amount], containers: Iterable[int]) -> Iterator[Value]:
    for count, value in zip(counts, containers, strict=True):
        if isinstance(count, cp_model.IntVar):
            yield count, value


def _side(side: SideVars, days: tuple[int, int, int], rows_of: list[list[int]]) -> Iterator[Value]:
    for (choice, *when), sown in side.ways.items():
        where = zip(rows_of, (sown.germinating, sown.raising), strict=True)
        if tuple(when) == days and all(set(rows) <= set(places) for rows, places in where):
            yield side.choice, choice
            yield side.day, sown.day
            yield side.emerges, sown.emerges
            yield side.raised, sown.raised
            return
