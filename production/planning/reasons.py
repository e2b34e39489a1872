"""Why each date of a part is what it is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from . import wording
from .allowed import Allowed
from .backward import Dates
from .terms import Reason, SowingPlan


def reasons_for(allowed: Allowed, dates: Dates, sowings: Sequence[SowingPlan], parts: int) -> Iterator[Reason]:
    """A reason for every sowing, for the grafting, each stage, ready, pickup and the last collection day."""
    course, days = allowed.course, allowed.load.days
    for sowing, sown in zip(sowings, dates.sown, strict=True):
        yield _why_sown(sowing, days[dates.start], sown.off)
        if sown.raised < dates.start:
            why = wording.why_held_cold(dates.start - sown.raised, days[dates.start])
            yield Reason(f"hold {sowing.subject}", days[sown.raised], why)
    stages = _stages(allowed, dates)
    if course.wish.kind == "grafted":
        yield Reason("graft", days[dates.start], _why_grafted(allowed, dates, stages, parts))
    for leg, first, (_, nights) in zip(course.legs, dates.borders, stages, strict=False):
        yield Reason(leg.stage.key, days[first], wording.why_stage(nights, leg.nights.usual))
    yield from _why_pickup(allowed, dates)


def _stages(allowed: Allowed, dates: Dates) -> list[tuple[str, int]]:
    pairs = zip(dates.borders, dates.borders[1:], strict=False)
    return [
        (leg.stage.name, leaves - first) for leg, (first, leaves) in zip(allowed.course.legs, pairs, strict=False)
    ]


def _why_sown(sowing: SowingPlan, start: date, off: int) -> Reason:
    plain = sowing.subject == "plain"
    goal = f"{'raised until' if plain else 'grafted on'} {wording.day_words(start)}"
    why = wording.why_sown(sowing.emerges, goal, sowing.graftable_from, sowing.graftable_to, off)
    return Reason("sow" if plain else f"sow {sowing.subject}", sowing.day, why)


def _why_grafted(allowed: Allowed, dates: Dates, stages: Sequence[tuple[str, int]], parts: int) -> str:
    usual = dates.pickup - sum(leg.nights.usual for leg in allowed.course.legs)
    clash = _closed_work_day(allowed, usual) if dates.start != usual or dates.departure else None
    waits = dates.pickup - dates.ready
    closed = allowed.load.days[clash] if clash is not None else None
    return wording.why_start(stages, waits, dates.start - usual, closed, parts)


def _closed_work_day(allowed: Allowed, start: int) -> int | None:
    """The first closed day on which the usual nights from this start would let work fall that may not."""
    load, entry = allowed.load, start
    due = [start]
    for leg in allowed.course.legs:
        leaves = entry + leg.nights.usual
        due += [leaves if rule.at_end else entry + rule.after for rule in leg.stage.works if not rule.care]
        entry = leaves
    return next((day for day in sorted(due) if 0 <= day < load.size and not load.open[day]), None)


def _why_pickup(allowed: Allowed, dates: Dates) -> Iterator[Reason]:
    days, wish = allowed.load.days, allowed.course.wish
    pickup, last = days[dates.pickup], days[dates.last]
    if allowed.course.waiting:
        yield Reason("ready", days[dates.ready], wording.why_ready(pickup, dates.pickup - dates.ready))
    asked_is_open = allowed.load.season.calendar.is_open(wish.pickup)
    yield Reason("pickup", pickup, wording.why_pickup(pickup, wish.pickup, asked_is_open))
    if last > pickup:
        yield Reason("collection", last, wording.why_held(last, dates.last - dates.pickup))
