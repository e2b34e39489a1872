"""Work: on days on which it may fall, and all that the protocol asks for, with its hours."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import date, timedelta
from math import isfinite

from production.planning.check.case import EASE, Case, Fault, Step, said
from production.planning.terms import GRAFT, HAND_OVER, POT, SOW, SowingPlan, WorkPlan, WorkRule

# What may not fall on a closed day, whatever it is called.
NEVER_CARE = {SOW, GRAFT, POT, HAND_OVER}


def falls_right(case: Case) -> Iterator[Fault]:
    """Each piece of work by itself."""
    for work in case.part.works:
        if case.is_done(work):
            continue
        if work.day < case.season.today:
            yield case.fault("past", f"{work.kind} on {said(work.day)}, which is past.", day=work.day)
        closed = not case.season.calendar.is_open(work.day)
        if closed and (not work.care or work.kind in NEVER_CARE):
            yield case.fault("closed day", f"{work.kind} on {said(work.day)}, which is closed.", day=work.day)
        if work.plants < 0 or any(not isfinite(hours) or hours < 0 for _, hours in work.hours):
            words = f"{work.kind} of {work.plants} plants in {work.total_hours:g} hours."
            yield case.fault("hours", words, day=work.day, amount=work.total_hours)


def is_all_there(case: Case) -> Iterator[Fault]:
    """All that the protocol lists, and sowing, grafting and handing over even if it does not."""
    if case.counted:
        return
    yield from _milestones(case)
    grafts = case.part.sizing.grafts
    plants = grafts if case.plan.wish.kind == "grafted" else case.part.plants
    for subject, steps in case.sides.items():
        for sowing in case.sowings(subject):
            raised = case.raised(sowing)
            if case.start and raised:
                days = (sowing.day, sowing.emerges, raised, case.start)
                for step, first, leaves in zip(steps, days, days[1:], strict=False):
                    if first < leaves or step in steps[:2]:
                        yield from _of_stage(case, step, (first, leaves), sowing.seeds, sowing)
    for step in case.after:
        stays = case.stays(step)
        if stays:
            yield from _of_stage(case, step, (stays[0].first, stays[0].leaves), plants)


def _milestones(case: Case) -> Iterator[Fault]:
    wanted: list[tuple[str, date]] = [(SOW, sowing.day) for sowing in case.part.sowings]
    if case.part.graft_day:
        wanted.append((GRAFT, case.part.graft_day))
    wanted.append((HAND_OVER, case.hand_over_day()))
    for kind, day in wanted:
        if not case.is_history(day) and not any((work.kind, work.day) == (kind, day) for work in case.part.works):
            yield case.fault("work", f"There is no {kind} on {said(day)}.", day=day)


def _of_stage(
    case: Case, step: Step, days: tuple[date, date], plants: int, sowing: SowingPlan | None = None
) -> Iterator[Fault]:
    """What the rules of a stage, entered and left on these days, ask for; of a side, for one sowing.

    Where a clock, or what has happened, sets the nights, work may move to an open day in them.
    """
    (first, leaves), may_move = days, sowing is not None or case.begun
    if case.is_history(first):
        return
    for rule in step.works:
        if rule.kind == HAND_OVER:
            continue
        day = leaves if rule.at_end else first + timedelta(days=rule.after)
        moved = may_move and not rule.care and not case.season.calendar.is_open(day)
        yield from _of_rule(case, step, rule, (first, leaves) if moved else (day, day), plants, sowing)


def _of_rule(
    case: Case, step: Step, rule: WorkRule, days: tuple[date, date], plants: int, sowing: SowingPlan | None
) -> Iterator[Fault]:
    found = [
        work
        for work in case.part.works
        if (work.kind, work.subject, work.stage) == (rule.kind, step.subject, step.key)
        and days[0] <= work.day <= days[1]
        and (sowing is None or work.sowing == sowing.number)
        and rule.part in ("day", work.part)
    ]
    if not found:
        when = said(days[0]) if rule.part == "day" else f"{said(days[0])}, {rule.part}"
        words = f"{step.name} asks for {rule.kind} on {when}, and nobody is to do it."
        yield case.fault("work", words, day=days[0])
    elif not any(_enough(work, rule, plants) for work in found):
        words = f"{rule.kind} on {said(days[0])} has fewer hours than {plants} plants take."
        yield case.fault("hours", words, day=days[0], amount=max(work.total_hours for work in found))


def _enough(work: WorkPlan, rule: WorkRule, plants: int) -> bool:
    """By skill, all its hours together, since two of one skill may work side by side."""
    asked = _by_skill(work.hours)
    least = _by_skill((skill, plants / rate) for skill, rate in rule.hands)
    return all(asked.get(skill, 0.0) >= hours - EASE for skill, hours in least.items())


def _by_skill(each: Iterable[tuple[str, float]]) -> dict[str, float]:
    added: dict[str, float] = defaultdict(float)
    for skill, hours in each:
        added[skill] += hours
    return added
