"""Which work of plants that already live is still to be done, and on which day.

Work that was not recorded by the end of its day is planned for today, or for the next open day if it may not fall
on a closed one. Work that the facts show to have happened, or that nothing is left to be done to, goes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date

from .calendar import next_open
from .legs import Course
from .terms import (
    CHECK,
    COUNT_EMERGED,
    COUNT_READY,
    COUNT_TAKEN,
    COUNT_USABLE,
    GRAFT,
    MOVE,
    PROP,
    SOW,
    TAKE_OUT,
    Calendar,
    Done,
    PartFacts,
    SowingFacts,
    WorkPlan,
)


def still_to_do(
    works: Sequence[WorkPlan], course: Course, facts: PartFacts, calendar: Calendar, today: date
) -> Iterator[WorkPlan]:
    """The works with those recorded as they were, those overdue moved to today, and those past need left out."""
    recorded = Counter(facts.done)
    for work in works:
        key = Done(work.kind, work.subject, work.stage, work.sowing)
        if recorded[key]:
            recorded[key] -= 1
            yield work
        elif not _has_happened(work, course, facts):
            yield work if work.day >= today else replace(work, day=_soonest(work, calendar, today))


def _soonest(work: WorkPlan, calendar: Calendar, today: date) -> date:
    return today if work.care else next_open(calendar, today)


def _has_happened(work: WorkPlan, course: Course, facts: PartFacts) -> bool:
    of_sides = {(leg.subject, leg.stage.key) for side in course.sides for leg in side.legs}
    if (work.subject, work.stage) in of_sides:
        return _is_started(course, facts) or any(_is_recorded(work, sowing) for sowing in facts.sowings)
    counted = {GRAFT: facts.grafted_on, COUNT_TAKEN: facts.taken, COUNT_READY: facts.ready}
    return counted.get(work.kind) is not None or _is_behind(work, course, facts)


def _is_started(course: Course, facts: PartFacts) -> bool:
    """Whether the plants have left raising, so that nothing is left to do there."""
    if facts.ready is not None or course.wish.kind == "grafted":
        return facts.ready is not None or facts.grafted_on is not None
    return bool(course.legs) and course.legs[0].stage.key in {each.stage for each in facts.entered}


def _is_recorded(work: WorkPlan, sowing: SowingFacts) -> bool:
    if (sowing.subject, sowing.number) != (work.subject, work.sowing):
        return False
    counted = {SOW: sowing.sown, COUNT_EMERGED: sowing.emerged, COUNT_USABLE: sowing.usable}
    return counted.get(work.kind) is not None


def _is_behind(work: WorkPlan, course: Course, facts: PartFacts) -> bool:
    """Plants recorded in a stage were carried there, and the covers of those before are no matter any more."""
    legs = [*course.legs, course.waiting] if course.waiting else list(course.legs)
    keys = [leg.stage.key for leg in legs]
    if work.stage not in keys or work.kind not in (MOVE, TAKE_OUT, PROP, CHECK):
        return False
    mine, entered = keys.index(work.stage), {each.stage for each in facts.entered}
    at_end = any(rule.kind == work.kind and rule.at_end for rule in legs[mine].stage.works)
    into_it = work.kind in (MOVE, TAKE_OUT) and not at_end
    return any(key in entered for key in keys[mine if into_it else mine + 1 :])
