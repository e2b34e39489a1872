"""The verdict on plans: every rule, asked of every line and every part."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

from production.planning.check import clock, stands, work
from production.planning.check.case import EASE, Case, Fault, said
from production.planning.terms import COLD_HOLD, LinePlan, PartFacts, PartPlan, Season, Stage

Rule = Callable[[Case], Iterator[Fault]]

OF_PLANTS: tuple[Rule, ...] = (
    clock.sown,
    clock.in_succession,
    clock.named_by_number,
    clock.thermal_sums,
    clock.graft_day,
    stands.stands,
    stands.sides_run_on,
    stands.stages_run_on,
    stands.ready_until_collected,
    work.falls_right,
    work.is_all_there,
)
OF_ROOM: tuple[Rule, ...] = (stands.stands, stands.room_as_wished, work.falls_right)


def faults(
    season: Season,
    plans: Sequence[LinePlan],
    begun: frozenset[str] = frozenset(),
    recorded: Mapping[str, PartFacts] | None = None,
) -> list[Fault]:
    """Everything in these plans that nights, biology, order or the calendar forbid, whatever the load.

    `begun` holds the keys of wishes that are under way: what began before today is history there, and not judged;
    what is `recorded` of them, by the same keys, neither, not even if it happened today.
    """
    known = recorded or {}
    return [
        fault
        for plan in plans
        for fault in _of_line(season, plan, plan.wish.key in begun, known.get(plan.wish.key, PartFacts()))
    ]


def _of_line(season: Season, plan: LinePlan, begun: bool, facts: PartFacts) -> Iterator[Fault]:
    missing = _missing(plan)
    if missing:
        yield Fault("incomplete", plan.wish.label, f"The line has no {' and no '.join(missing)}.")
        return
    yield from _pickup(season, plan, begun)
    yield from _parts(plan)
    for part in plan.parts:
        case = Case(season, plan, part, begun, facts)
        yield from _size(case)
        for rule in OF_ROOM if plan.wish.kind == "room" else OF_PLANTS:
            yield from rule(case)


def _missing(plan: LinePlan) -> list[str]:
    wish = plan.wish
    if wish.kind == "room":
        return [] if wish.room else ["room wished"]
    missing = [word for word, what in (("protocol", wish.recipe), ("scion", wish.scion)) if what is None]
    if wish.recipe and wish.kind == "plain" and len(wish.recipe.plain) != 2:
        missing.append("germinating and raising in its protocol")
    if wish.kind == "grafted":
        missing += [] if wish.rootstock else ["rootstock"]
        if wish.recipe and not (
            _raises(wish.recipe.rootstock) and _raises(wish.recipe.scion) and wish.recipe.union
        ):
            missing.append("germinating, raising and healing in its protocol")
    return missing


def _raises(side: Sequence[Stage]) -> bool:
    """Germinating and raising, and nothing after them but holding that is kept for need."""
    return len(side) in (2, 3) and all(stage.kind == COLD_HOLD and not stage.nights.usual for stage in side[2:])


def _pickup(season: Season, plan: LinePlan, begun: bool) -> Iterator[Fault]:
    wish, pickup = plan.wish, plan.pickup
    off = (pickup - wish.pickup).days
    if not -wish.earlier <= off <= wish.later:
        words = f"Pickup on {said(pickup)} lies outside what was asked: {said(wish.pickup)}."
        yield Fault("latitude", wish.label, words, day=pickup, amount=off)
    if not season.calendar.is_open(pickup) and not begun:  # it was open when it was promised
        yield Fault("closed day", wish.label, f"Pickup on {said(pickup)}, which is closed.", day=pickup)
    if pickup < season.today and not begun:
        yield Fault("past", wish.label, f"Pickup on {said(pickup)}, which is past.", day=pickup)


def _parts(plan: LinePlan) -> Iterator[Fault]:
    wish = plan.wish
    if not plan.parts:
        yield Fault("no part", wish.label, "The plan has no part.")
    if len({part.number for part in plan.parts}) < len(plan.parts):
        yield Fault("no part", wish.label, "Two parts have one number.")
    planned = sum(part.plants for part in plan.parts)
    if wish.kind != "room" and planned < wish.quantity:
        words = f"The parts give {planned} plants, and {wish.quantity} are wanted."
        yield Fault("quantity", wish.label, words, amount=wish.quantity - planned)


def _size(case: Case) -> Iterator[Fault]:
    """Not fewer grafts than plants, nor seeds than grafts, nor less chance than asked."""
    part, wish, sizing = case.part, case.plan.wish, case.part.sizing
    if wish.kind == "room":
        return
    if part.plants <= 0:
        yield case.fault("quantity", f"A part of {part.plants} plants.", amount=part.plants)
    if case.counted:
        return
    yield from _enough(case, part)
    if sizing.chance < wish.level - EASE:
        words = f"The chance of enough plants is {sizing.chance:.3f}, and {wish.level:.3f} is wanted."
        yield case.fault("size", words, amount=wish.level - sizing.chance)


def _enough(case: Case, part: PartPlan) -> Iterator[Fault]:
    sizing, plants = part.sizing, part.plants
    grown = sizing.grafts if case.plan.wish.kind == "grafted" else plants
    pairs = [("grafts", sizing.grafts, plants), ("rootstock seeds", sizing.rootstock_seeds, grown)]
    for what, there, least in (*(pairs if case.plan.wish.kind == "grafted" else ()),
                               ("scion seeds", sizing.scion_seeds, grown)):  # fmt: skip
        if there < least:
            yield case.fault("size", f"{there} {what}, which cannot give {least}.", amount=least - there)
