"""Where plants stand: the right kind of place, whole containers, nights without overlap or gap."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from production.planning.check.case import EASE, Case, Fault, Step, said, whole
from production.planning.terms import Container, Place, SowingPlan, StayPlan

# --- each stand by itself ----------------------------------------------------------------------------------


def stands(case: Case) -> Iterator[Fault]:
    for stay in case.part.stays:
        if case.is_entered(stay.stage, stay.first, case.sowing_of(stay)):
            continue
        yield from _counts(case, stay)
        place = case.place(stay.place)
        if place is None:
            words = f"The nursery has no place {stay.place!r}."
            yield case.fault("place", words, place=stay.place, day=stay.first)
        else:
            yield from _open(case, stay, place)
            yield from _as_the_stage_says(case, stay, place)


def _counts(case: Case, stay: StayPlan) -> Iterator[Fault]:
    if stay.nights <= 0:
        words = f"{stay.stage} lasts {stay.nights} nights."
        yield case.fault("nights", words, place=stay.place, day=stay.first, amount=stay.nights)
    if stay.containers <= 0 or not stay.load > 0:
        words = f"{stay.containers} containers with a load of {stay.load:g}."
        yield case.fault("load", words, place=stay.place, day=stay.first, amount=stay.load)
    if stay.first < case.season.today:
        words = f"{stay.stage} begins on {said(stay.first)}, which is past."
        yield case.fault("past", words, place=stay.place, day=stay.first)


def _open(case: Case, stay: StayPlan, place: Place) -> Iterator[Fault]:
    nights = [stay.first + timedelta(days=n) for n in range(stay.nights)]
    if case.begun and _none_is_open(case, stay, nights):
        return  # plants that live stand somewhere: a conflict, and no longer impossible
    for night in nights:
        if place.capacity_on(night) <= 0:
            words = f"{place.name} is not open on the night of {said(night)}."
            yield case.fault("place closed", words, place=place.key, day=night)
            return


def _none_is_open(case: Case, stay: StayPlan, nights: list[date]) -> bool:
    """Whether no place of the kind that the stage needs is open on all these nights."""
    step = case.step_of(stay.subject, stay.stage) if case.plan.wish.kind != "room" else None
    places = [other for other in case.season.places if step and other.kinds & set(step.kinds)]
    return bool(step) and not any(all(other.capacity_on(night) > 0 for night in nights) for other in places)


def _as_the_stage_says(case: Case, stay: StayPlan, place: Place) -> Iterator[Fault]:
    room = case.plan.wish.room
    if case.plan.wish.kind == "room" and room:
        yield from _kind_and_load(case, stay, place, (room.place_kind,), room.container, 1.0)
        return
    step = case.step_of(stay.subject, stay.stage)
    if step is None:
        words = f"The protocol has no stage {stay.stage!r} of the {stay.subject}."
        yield case.fault("stage", words, place=place.key, day=stay.first)
        return
    yield from _kind_and_load(case, stay, place, step.kinds, step.container, step.room)


def _kind_and_load(
    case: Case, stay: StayPlan, place: Place, kinds: tuple[str, ...], container: Container | None, room: float
) -> Iterator[Fault]:
    if not place.kinds & set(kinds):
        words = f"{place.name} is no {' or '.join(kinds)}, which {stay.stage} needs."
        yield case.fault("kind of place", words, place=place.key, day=stay.first)
    if container is None or stay.container != container.key:
        words = f"{stay.stage} in {stay.container}, which is not the container of that stage."
        yield case.fault("container", words, place=place.key, day=stay.first)
        return
    each = (container.positions if place.measure == "positions" else container.area) * room
    if abs(stay.containers * each - stay.load) > EASE * max(1.0, stay.load):
        words = f"{stay.containers} of {container.name} take {stay.containers * each:g}, not {stay.load:g}."
        amount = stay.load - stay.containers * each
        yield case.fault("load", words, place=place.key, day=stay.first, amount=amount)


# --- one after the other -----------------------------------------------------------------------------------


def sides_run_on(case: Case) -> Iterator[Fault]:
    """Each sowing germinates until it emerges, and is raised, and held cold where it is, until the start."""
    for subject in case.materials:
        for sowing in case.sowings(subject):
            yield from _sowing_runs_on(case, sowing)


def _sowing_runs_on(case: Case, sowing: SowingPlan) -> Iterator[Fault]:
    raised = case.raised(sowing)
    borders = [(sowing.day, sowing.emerges), (sowing.emerges, raised), (raised, case.start)]
    for step, (first, leaves) in zip(case.sides[sowing.subject], borders, strict=False):
        if first is None:
            continue
        yield from _strays(case, step, first, sowing)
        if leaves is not None:
            yield from _step(case, step, first, leaves, sowing.seeds, sowing)


def _strays(case: Case, step: Step, entry: date, sowing: SowingPlan | None = None) -> Iterator[Fault]:
    for stay in case.stays(step, sowing=sowing):
        if stay.first != entry and not case.is_entered(stay.stage, stay.first, case.sowing_of(stay)):
            words = f"{step.name} of the {step.subject} begins on {said(stay.first)}, when nothing enters it."
            yield case.fault("contiguous", words, place=stay.place, day=stay.first)


def stages_run_on(case: Case) -> Iterator[Fault]:
    """From the start to ready, stage upon stage."""
    entry = case.start
    plants = case.part.sizing.grafts if case.plan.wish.kind == "grafted" else case.part.plants
    for step in case.after:
        if entry is None:
            return
        stays = case.stays(step)
        yield from _strays(case, step, entry)
        leaves = max((stay.leaves for stay in stays), default=entry)
        yield from _step(case, step, entry, leaves, plants)
        entry = leaves
    if case.facts.ready_on or case.is_history(case.part.ready):
        return
    if entry != case.part.ready:
        words = f"The last stage ends on {said(entry or case.plan.pickup)}, ready is {said(case.part.ready)}."
        yield case.fault("contiguous", words, day=entry)


def ready_until_collected(case: Case) -> Iterator[Fault]:
    """Ready by the pickup; kept until the last day of collection, and no longer than plants keep."""
    ready, last = case.part.ready, case.last_collection_day()
    if case.facts.ready_on or (case.begun and ready > case.plan.pickup):
        return  # late, which is a conflict and no longer impossible
    if ready > case.plan.pickup:
        late = (ready - case.plan.pickup).days
        yield case.fault("late", f"Ready on {said(ready)}, after the pickup.", day=ready, amount=late)
    yield from _strays(case, case.waiting, ready)
    yield from _step(case, case.waiting, ready, last, case.part.plants)


def _step(
    case: Case, step: Step, first: date, leaves: date, plants: int, sowing: SowingPlan | None = None
) -> Iterator[Fault]:
    """Stands of a step that some plants enter on one day: they fill its nights, and hold all the plants."""
    if case.is_entered(step.key, first, sowing.number if sowing else 1):
        return
    nights, stays = (leaves - first).days, case.stays(step, first, sowing)
    yield from _bounds(case, step, first, nights)
    if nights > 0 and not stays:
        words = f"{plants} plants stand nowhere in {step.name}, from {said(first)} on."
        yield case.fault("contiguous", words, day=first, amount=nights)
        return
    for stay in stays:
        if stay.leaves != leaves:
            words = f"{step.name} is left on {said(stay.leaves)} here, and on {said(leaves)} by the plan."
            amount = (stay.leaves - leaves).days
            yield case.fault("contiguous", words, place=stay.place, day=stay.leaves, amount=amount)
    there = sum(stay.containers for stay in stays)
    if nights > 0 and not case.counted and step.container and there < whole(plants, step.container.plants):
        words = f"{plants} plants do not go into {there} of {step.container.name}, in {step.name}."
        lacking = whole(plants, step.container.plants) - there
        yield case.fault("containers", words, place=stays[0].place, day=first, amount=lacking)


def _bounds(case: Case, step: Step, first: date, nights: int) -> Iterator[Fault]:
    """Germinating and raising have bounds only if the protocol gives a longest.

    Of a line that has begun a stage may last until the first open day after its longest nights.
    """
    by_clock = step in case.sides.get(step.subject, ())[:2]
    if by_clock and not step.nights.longest:
        return
    longest = step.nights.longest
    if step == case.waiting and case.is_in_last_stage:
        return  # plants that are ready too soon: there is nothing left to be drawn out
    if case.begun:
        longest = (case.open_from(first + timedelta(days=longest)) - first).days
    if not step.nights.shortest <= nights <= longest:
        words = f"{step.name} lasts {nights} nights, not {step.nights.shortest} to {step.nights.longest}."
        yield case.fault("stage length", words, day=first, amount=nights)


# --- room only ---------------------------------------------------------------------------------------------


def room_as_wished(case: Case) -> Iterator[Fault]:
    """All its containers, for all its nights up to the pickup, and on to the last day of collection."""
    room, last = case.plan.wish.room, case.last_collection_day()
    if room is None:
        return
    first = case.plan.pickup - timedelta(days=room.nights)
    there = sum(stay.containers for stay in case.part.stays)
    if there < room.containers and not case.is_history(first):
        words = f"Room for {there} of {room.container.name}, and {room.containers} are wanted."
        yield case.fault("containers", words, day=first, amount=room.containers - there)
    for stay in case.part.stays:
        if (stay.first, stay.leaves) != (first, last) and not case.is_history(stay.first):
            words = f"Room from {said(stay.first)} to {said(stay.leaves)}, not from {said(first)} to {said(last)}."
            yield case.fault("nights", words, place=stay.place, day=stay.first, amount=stay.nights)
