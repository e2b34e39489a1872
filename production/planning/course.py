"""The course of a part: its stages as these plants will go through them, with trays and work, without dates."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import lru_cache

from .costs import costs_for
from .legs import Course, Leg, SideCourse
from .sizing import OutOfReach, size_grafted, size_plain
from .terms import (
    BENCH,
    COLD_HOLD,
    GROW_ON,
    HAND_OVER,
    ROOM,
    STAGING,
    TOP,
    WAITING,
    Container,
    Impossible,
    Material,
    Nights,
    Place,
    Prices,
    Recipe,
    Sizing,
    Stage,
    Subject,
    Wish,
    WorkRule,
)
from .wording import PLANT_WORDS

size_grafted = lru_cache(maxsize=4096)(size_grafted)
size_plain = lru_cache(maxsize=4096)(size_plain)


def containers_for(plants: int, container: Container) -> int:
    return math.ceil(plants / container.plants)


def course_of(wish: Wish, plants: int, places: Sequence[Place], prices: Prices | None = None) -> Course:
    """The course of so many plants of a wish. `Impossible` when the wish is not complete or makes no sense.

    The two sides are sized at least cost by these prices where what a seed costs is known.
    """
    if wish.kind == "room":
        return _room_course(wish)
    recipe = _recipe(wish)
    if wish.kind == "plain":
        return _plain_course(wish, recipe, _material(wish, "scion"), plants, places)
    rootstock, scion = _material(wish, "rootstock"), _material(wish, "scion")
    costs = costs_for(wish, prices or Prices(), places)
    sizing = _sized(size_grafted, plants, rootstock, scion, recipe.take, recipe.kept, wish.level, costs)
    rootstocks = _side(wish, "rootstock", rootstock, sizing.rootstock_seeds, recipe.rootstock, places)
    scions = _side(wish, "scion", scion, sizing.scion_seeds, recipe.scion, places)
    sides = (
        *in_succession(rootstocks, recipe.rootstock_sowings, recipe.sown_apart),
        *in_succession(scions, recipe.scion_sowings, recipe.sown_apart),
    )
    legs = _union_legs(wish, recipe, sizing.grafts, "union")
    if all(leg.stage.is_left_out(places) for leg in legs):
        raise Impossible(
            "method",
            "The protocol names no stage after grafting.",
            "Complete the protocol, or choose another method.",
        )
    return _finished(wish, plants, sizing, sides, legs, places)


def _sized(size: Callable[..., Sizing], plants: int, *details: object) -> Sizing:
    try:
        return size(plants, *details)
    except OutOfReach:
        raise Impossible(
            "quantity",
            f"At these shares no amount that could be sown gives {plants} plants.",
            "Ask for fewer, or look at the shares of the varieties and of the protocol.",
        ) from None


def _plain_course(wish: Wish, recipe: Recipe, material: Material, plants: int, places: Sequence[Place]) -> Course:
    sizing = _sized(size_plain, plants, material, recipe.kept, wish.level)
    side = _side(wish, "plain", material, sizing.scion_seeds, recipe.plain, places)
    seedlings = math.ceil(sizing.scion_seeds * material.emerged.mean * material.usable.mean)
    return _finished(wish, plants, sizing, (side,), _union_legs(wish, recipe, seedlings, "plain"), places)


def _finished(
    wish: Wish,
    plants: int,
    sizing: Sizing,
    sides: tuple[SideCourse, ...],
    legs: list[Leg],
    places: Sequence[Place],
) -> Course:
    recipe = _recipe(wish)
    last = legs[-1] if legs else sides[0].raising
    handing_over = tuple(rule for rule in last.stage.works if rule.kind == HAND_OVER)
    taken = tuple(leg for leg in legs if not leg.stage.is_left_out(places))
    return Course(wish, plants, sizing, sides, taken, _waiting(last, recipe, places), handing_over)


def _waiting(last: Leg, recipe: Recipe, places: Sequence[Place]) -> Leg:
    staging = any(STAGING in place.kinds for place in places)
    stage = Stage(
        key=WAITING,
        kind=WAITING,
        name="waiting for pickup",
        place_kinds=(STAGING,) if staging else (BENCH,),
        container=last.container,
        nights=Nights(0, 0, recipe.keeping),
    )
    return replace(last, stage=stage, nights=stage.nights, room=1.0)


def _room_course(wish: Wish) -> Course:
    room = wish.room
    if room is None or room.containers <= 0 or room.nights <= 0:
        raise Impossible(
            "room", "No trays or no nights were asked for.", "Ask for at least one tray and one night."
        )
    nights = Nights(room.nights, room.nights, room.nights)
    stage = Stage(ROOM, ROOM, "room", (room.place_kind,), room.container, nights)
    leg = Leg(stage, "room", nights, room.container, 0, room.containers)
    return Course(wish, 0, Sizing(0, 0, 0, 1.0, 0.0), (), (leg,), None)


def _side(
    wish: Wish, subject: Subject, material: Material, seeds: int, stages: Sequence[Stage], places: Sequence[Place]
) -> SideCourse:
    held = stages[2:] if subject != "plain" else ()
    if len(stages) != 2 + len(held) or len(held) > 1:
        raise Impossible(
            "method",
            f"The protocol does not say how to germinate and raise the {PLANT_WORDS[subject]}.",
            "Complete the protocol, or choose another method.",
        )
    if any(stage.kind != COLD_HOLD or stage.nights.usual for stage in held):
        raise Impossible(
            "method",
            f"The {PLANT_WORDS[subject]} is raised and then {held[0].name.lower()}, which no stem waits for.",
            "After raising, let only cold holding follow, of usually 0 nights.",
        )
    taken = [stage for stage in stages if stage not in held or not stage.is_left_out(places)]
    germinating, raising, *holding = (_leg(wish, stage, subject, stage.nights, seeds) for stage in taken)
    return SideCourse(subject, material, seeds, germinating, raising, holding[0] if holding else None)


def in_succession(side: SideCourse, times: int, apart: int) -> Iterator[SideCourse]:
    """The seeds of a side divided over so many sowings, as evenly as whole seeds allow."""
    if times > 1 and apart < 1:
        raise Impossible(
            "method",
            f"The {PLANT_WORDS[side.subject]} is sown {times} times, but with no day between.",
            "Say how many days the sowings lie apart.",
        )
    number_of = max(min(times, side.seeds), 1)
    for number in range(1, number_of + 1):
        seeds = side.seeds // number_of + (number <= side.seeds % number_of)
        yield with_seeds(side, seeds, number, apart if number > 1 else 0)


def with_seeds(side: SideCourse, seeds: int, number: int = 1, apart: int = 0) -> SideCourse:
    """The same for another number of seeds, as one of several sowings."""
    legs = (
        replace(leg, plants=seeds, containers=containers_for(seeds, leg.container), sowing=number)
        for leg in side.legs
    )
    germinating, raising, *holding = legs
    return SideCourse(
        side.subject, side.material, seeds, germinating, raising, holding[0] if holding else None, apart
    )


def _union_legs(wish: Wish, recipe: Recipe, plants: int, subject: Subject) -> list[Leg]:
    legs = [_leg(wish, stage, subject, stage.nights, plants) for stage in recipe.union]
    if wish.topped and wish.leaders == 2 and legs:
        growing = [index for index, leg in enumerate(legs) if leg.stage.kind == GROW_ON] or [len(legs) - 1]
        legs[growing[-1]] = _topped(legs[growing[-1]], recipe)
    return legs


def _topped(leg: Leg, recipe: Recipe) -> Leg:
    more = recipe.topping
    nights = Nights(
        leg.nights.shortest + more.shortest, leg.nights.usual + more.usual, leg.nights.longest + more.longest
    )
    return replace(leg, nights=nights, room=recipe.topped_room)


def _leg(wish: Wish, stage: Stage, subject: Subject, nights: Nights, plants: int) -> Leg:
    container = stage.container or wish.container
    if container is None:
        raise Impossible(
            "container", f"{stage.name} needs a pot or tray, and none is named.", "Choose the pot or tray."
        )
    two_by_topping = wish.topped and wish.leaders == 2
    works = tuple(rule for rule in stage.works if rule.kind != TOP or two_by_topping)
    return Leg(
        stage=replace(stage, works=works),
        subject=subject,
        nights=_nights_for(stage, nights, works),
        container=container,
        plants=plants,
        containers=containers_for(plants, container),
    )


def _nights_for(stage: Stage, nights: Nights, works: Sequence[WorkRule]) -> Nights:
    """No stage ends before its own work is done."""
    needed = max((rule.after for rule in works if not rule.at_end), default=0)
    if nights.longest and needed > nights.longest:
        raise Impossible(
            "method",
            f"{stage.name} lasts {nights.longest} nights at the longest, but has work after {needed}.",
            "Mend the protocol.",
        )
    return (
        nights if needed <= nights.shortest else replace(nights, shortest=needed, usual=max(needed, nights.usual))
    )


def _recipe(wish: Wish) -> Recipe:
    if wish.recipe is None:
        raise Impossible(
            "method",
            "There is no protocol for this crop and method.",
            "Choose another method, or write the protocol first.",
        )
    return wish.recipe


def _material(wish: Wish, side: str) -> Material:
    material = wish.rootstock if side == "rootstock" else wish.scion
    if material is None:
        what = "variety" if wish.kind == "plain" else side
        raise Impossible(side, f"The {what} is missing.", f"Choose the {what}.")
    return material
