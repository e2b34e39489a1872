"""The work that a part asks for, once its dates are known: what the protocol lists, and what goes by itself.

By itself goes what must be done or recorded whatever the protocol says: sowing, counting what emerged, grafting,
carrying plants to their next place, counting them ready and handing them over. It takes hours only if listed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, timedelta

from .legs import Leg
from .terms import (
    GRAFT,
    HAND_OVER,
    HEAL,
    MOVE,
    POT,
    SOW,
    TAKE_OUT,
    Calendar,
    PartOfDay,
    Stage,
    WorkPlan,
    WorkRule,
)

PARTS_OF_DAY: tuple[PartOfDay, ...] = ("morning", "day", "evening")
CARRYING = {MOVE, TAKE_OUT, POT, GRAFT, SOW}  # work in which plants get to their next place


def hours_of(rule: WorkRule, plants: int) -> tuple[tuple[str, float], ...]:
    """Hours by skill; work for two lists both."""
    return tuple((skill, plants / rate) for skill, rate in rule.hands)


def ruled(leg: Leg, first: date, leaves: date) -> Iterator[WorkPlan]:
    """What the protocol lists for a stage that lasts from `first` until the plants leave."""
    for rule in leg.stage.works:
        if rule.kind != HAND_OVER:
            day = leaves if rule.at_end else first + timedelta(days=rule.after)
            yield _planned(rule, leg, day)


def _planned(rule: WorkRule, leg: Leg, day: date) -> WorkPlan:
    return WorkPlan(
        kind=rule.kind,
        subject=leg.subject,
        stage=leg.stage.key,
        day=day,
        part=rule.part,
        plants=leg.plants,
        hours=hours_of(rule, leg.plants),
        care=rule.care,
        note=rule.note,
        sowing=leg.sowing,
    )


def by_itself(kind: str, leg: Leg, day: date, care: bool = True) -> WorkPlan:
    """Work that nobody listed: it must be recorded and takes no hours."""
    return WorkPlan(kind, leg.subject, leg.stage.key, day, "day", leg.plants, (), care, sowing=leg.sowing)


def handed_over(rules: Sequence[WorkRule], leg: Leg, day: date) -> Iterator[WorkPlan]:
    if not rules:
        yield by_itself(HAND_OVER, leg, day, care=False)
    for rule in rules:
        yield _planned(rule, leg, day)


def kinds_listed(stages: Sequence[Stage]) -> set[str]:
    return {rule.kind for stage in stages for rule in stage.works}


def carried(before: Stage, after: Stage) -> str | None:
    """The work of carrying plants over a border of stages, unless the protocol lists it already."""
    at_border = {rule.kind for rule in before.works if rule.at_end}
    at_border |= {rule.kind for rule in after.works if not rule.at_end and not rule.after}
    if at_border & CARRYING:
        return None
    return TAKE_OUT if before.kind == HEAL else MOVE


def on_open_day(work: WorkPlan, calendar: Calendar, first: date, leaves: date) -> WorkPlan:
    """The same work on the nearest day of its stage on which it may be done; where it is if there is none."""
    if work.care or calendar.is_open(work.day):
        return work
    days = [first + timedelta(days=i) for i in range((leaves - first).days + 1)]
    may = [day for day in days if calendar.is_open(day)]
    nearest = min(may, key=lambda day: (abs((day - work.day).days), day), default=work.day)
    return replace(work, day=nearest)


def in_order(works: Sequence[WorkPlan]) -> tuple[WorkPlan, ...]:
    return tuple(sorted(works, key=lambda work: (work.day, PARTS_OF_DAY.index(work.part))))
