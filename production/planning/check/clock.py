"""Sowing and grafting days: seed in hand, thermal sums gathered where the plants really stand, order of days."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from itertools import pairwise

from production.planning.check.case import EASE, Case, Fault, said, whole
from production.planning.terms import Clock, SowingPlan, StayPlan, Subject, Warmth, WorkPlan

MARGIN = 2.0  # °C above the base within which nothing is believed


def sown(case: Case) -> Iterator[Fault]:
    """Enough of the right seed, in whole trays, on an open day, not before it is in hand."""
    sizing = case.part.sizing
    for subject, material in case.materials.items():
        seeds = sum(sowing.seeds for sowing in case.sowings(subject))
        least = sizing.rootstock_seeds if subject == "rootstock" else sizing.scion_seeds
        if seeds < least and not case.counted:
            words = f"{seeds} seeds of {material.name} are sown, and {least} are needed."
            yield case.fault("seeds", words, amount=least - seeds)
    for sowing in case.part.sowings:
        if not case.is_sown(sowing):
            yield from _sowing(case, sowing)


def _sowing(case: Case, sowing: SowingPlan) -> Iterator[Fault]:
    day, material = sowing.day, case.materials.get(sowing.subject)
    if material is None or sowing.material != material.key:
        yield case.fault(
            "material", f"{sowing.material} is sown as {sowing.subject}, which is not asked.", day=day
        )
        return
    if sowing.seeds <= 0 or sowing.trays <= 0:
        words = f"{sowing.seeds} seeds in {sowing.trays} trays."
        yield case.fault("seeds", words, day=day, amount=sowing.seeds)
    if material.seed_on_hand and day < material.seed_on_hand:
        words = f"{material.name} is sown on {said(day)}; its seed comes on {said(material.seed_on_hand)}."
        yield case.fault("seed in hand", words, day=day, amount=(material.seed_on_hand - day).days)
    if day < case.season.today:
        yield case.fault("past", f"{material.name} is sown on {said(day)}, which is past.", day=day)
    if not case.season.calendar.is_open(day):
        yield case.fault("closed day", f"{material.name} is sown on {said(day)}, which is closed.", day=day)
    tray = case.sides[sowing.subject][0].container
    if tray is None or sowing.container != tray.key:
        yield case.fault("container", f"Sown in {sowing.container}, which the protocol does not name.", day=day)
    elif sowing.trays < whole(sowing.seeds, tray.plants):
        words = f"{sowing.seeds} seeds do not go into {sowing.trays} of {tray.name}."
        yield case.fault("containers", words, day=day, amount=whole(sowing.seeds, tray.plants) - sowing.trays)


def in_succession(case: Case) -> Iterator[Fault]:
    """Each side is sown as often as the protocol says, the sowings so many days apart."""
    recipe = case.plan.wish.recipe
    if case.begun or recipe is None or case.plan.wish.kind != "grafted":
        return  # of living plants each sowing is late or early by itself
    for subject, times in (("rootstock", recipe.rootstock_sowings), ("scion", recipe.scion_sowings)):
        if times == 1:
            continue
        days = sorted(sowing.day for sowing in case.part.sowings if sowing.subject == subject)
        if (
            len(days) < times
            and sum(sowing.seeds for sowing in case.part.sowings if sowing.subject == subject) > times
        ):
            words = f"The {subject} is sown {len(days)} times, not {times}."
            yield case.fault("succession", words, amount=times - len(days))
        for before, day in pairwise(days):
            due = case.open_from(before + timedelta(days=recipe.sown_apart))
            if day != due:
                words = f"The {subject} is sown again on {said(day)}, not on {said(due)}."
                yield case.fault("succession", words, day=day, amount=(day - due).days)


def named_by_number(case: Case) -> Iterator[Fault]:
    """The sowings of a side have numbers of their own, by which stays and work say whose plants they concern."""
    numbers: dict[Subject, set[int]] = {subject: set() for subject in case.materials}
    for sowing in case.part.sowings:
        known = numbers.setdefault(sowing.subject, set())
        if sowing.number in known:
            words = f"Two sowings of the {sowing.subject} have the number {sowing.number}."
            yield case.fault("sowing", words, day=sowing.day, amount=sowing.number)
        known.add(sowing.number)
    for stay in case.part.stays:
        if _is_of_none(case, stay, numbers) and not case.is_entered(stay.stage, stay.first, stay.sowing):
            words = f"{stay.stage} is of sowing {stay.sowing} of the {stay.subject}, which there is not."
            yield case.fault("sowing", words, place=stay.place, day=stay.first, amount=stay.sowing)
    for work in case.part.works:
        if _is_of_none(case, work, numbers) and not case.is_done(work):
            words = f"{work.kind} is of sowing {work.sowing} of the {work.subject}, which there is not."
            yield case.fault("sowing", words, day=work.day, amount=work.sowing)


def _is_of_none(case: Case, what: StayPlan | WorkPlan, numbers: dict[Subject, set[int]]) -> bool:
    return case.is_of_a_side(what.subject, what.stage) and what.sowing not in numbers[what.subject]


def thermal_sums(case: Case) -> Iterator[Fault]:
    """Plants emerge when their clock says, and are grafted within their window, by the warmth where they stand.

    In the cold the clock stands still, so that what counts is the stem on the day on which raising ends.
    """
    for subject, material in case.materials.items():
        germinating, raising = case.sides[subject][:2]
        for sowing in case.sowings(subject):
            if case.is_sown(sowing):
                continue
            for stay in case.stays(germinating, sowing.day, sowing):
                place = case.place(stay.place)
                if place:
                    yield from _emergence(case, sowing, material.clock, place.warmth, stay.place)
            for stay in case.stays(raising, sowing.emerges, sowing):
                place = case.place(stay.place)
                if place and case.plan.wish.kind == "grafted":
                    yield from _growth(case, sowing, material.clock, place.warmth, stay.place)


def _emergence(case: Case, sowing: SowingPlan, clock: Clock, warmth: Warmth, place: str) -> Iterator[Fault]:
    nights = _nights(sowing.day, sowing.emerges)
    for night in nights:
        degrees = warmth.on(night)
        if not clock.emergence_base + MARGIN < degrees <= clock.emergence_ceiling:
            words = f"At {degrees:g} °C, on {said(night)}, the clock of {sowing.material} says nothing."
            yield case.fault("temperature", words, place=place, day=night, amount=degrees)
            return
    gained = sum(warmth.on(night) - clock.emergence_base for night in nights)
    ease = max(0.0, warmth.on(sowing.emerges) - clock.emergence_base) / 2
    last = (warmth.on(nights[-1]) - clock.emergence_base) / 2 if nights else 0.0
    if not -ease - EASE <= gained - clock.emergence_sum <= last + EASE:
        words = f"{sowing.material} is said to emerge on {said(sowing.emerges)}, at {gained:.0f} °C·d."
        yield case.fault("emergence", words, place=place, day=sowing.emerges, amount=gained - clock.emergence_sum)


def _growth(case: Case, sowing: SowingPlan, clock: Clock, warmth: Warmth, place: str) -> Iterator[Fault]:
    day = case.raised(sowing)
    if day is None or case.part.graft_day is None:
        return
    gained = 0.0
    for night in _nights(sowing.emerges, day):
        gained += max(0.0, min(warmth.on(night), clock.growth_ceiling) - clock.growth_base)
    first, last = clock.graftable_first, clock.graftable_last
    if not first - EASE <= gained <= last + EASE:
        words = (
            f"On {said(day)} the stems of {sowing.material} are at {gained:.0f}, not {first:.0f} to {last:.0f}."
        )
        yield case.fault("graftable", words, place=place, day=day, amount=gained)


def _nights(first: date, leaves: date) -> list[date]:
    return [first + timedelta(days=n) for n in range((leaves - first).days)]


def graft_day(case: Case) -> Iterator[Fault]:
    """A grafted part has one: on an open day, after both sides emerge, inside the windows that it states."""
    day = case.part.graft_day
    if case.plan.wish.kind != "grafted":
        if day is not None:
            yield case.fault("graft day", "A plain line is not grafted.", day=day)
        return
    if day is None:
        yield case.fault("graft day", "There is no day to graft.")
        return
    if case.is_grafted(day):
        return
    if day < case.season.today:
        yield case.fault("past", f"Grafting on {said(day)}, which is past.", day=day)
    if not case.season.calendar.is_open(day):
        yield case.fault("closed day", f"Grafting on {said(day)}, which is closed.", day=day)
    for subject in case.materials:
        yield from _side_ready(case, subject, day)


def _side_ready(case: Case, subject: Subject, day: date) -> Iterator[Fault]:
    sowings = list(case.sowings(subject))
    if not sowings:
        yield case.fault("seeds", f"No {subject} is sown.", day=day)
    for sowing in sowings:
        in_order = sowing.day < sowing.emerges or case.is_sown(sowing)
        if not in_order or sowing.emerges > day:
            words = f"The {subject} is sown on {said(sowing.day)}, emerges on {said(sowing.emerges)}: too late."
            yield case.fault("order", words, day=day, amount=(sowing.emerges - day).days)
        stated = (sowing.graftable_from or day, sowing.graftable_to or day)
        if not stated[0] <= day <= stated[1] and not case.is_sown(sowing):
            words = f"The {subject} is said to be fit from {said(stated[0])} to {said(stated[1])}."
            yield case.fault("graftable", words, day=day)
