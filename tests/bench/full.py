"""Seasons of any size for the benchmarks: one nursery, as much larger as there are batches in it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from functools import lru_cache
from itertools import chain
from random import Random

from production.planning.claims import Claims, place_claims
from production.planning.level import Told
from production.planning.promise import plan_as_asked
from production.planning.terms import LinePlan, PartPlan, Person, Recipe, Season, Wish
from tests.planning import nursery, seasons

DAYS = 300  # in which batches are picked up, from the 60th day on
AT_ONCE = 80  # batches over all these days that fill two thirds of the healing chamber of the tests
QUANTITIES = (20, 40, 60, 80, 120)


def roomy(batches: int, room: float = 1.0) -> Season:
    """The nursery of the tests with places and hours for so many batches, and `room` times as much of them."""
    times = max(1.0, room * batches / AT_ONCE)
    season = nursery.season()
    places = tuple(replace(place, capacity=place.capacity * times) for place in season.places)
    return replace(season, places=places, people=tuple(_longer(person, times) for person in season.people))


def _longer(person: Person, times: float) -> Person:
    hours = tuple(each * times for each in person.hours)
    return replace(person, hours=hours, care_hours=person.care_hours * times)  # type: ignore[arg-type]


def full(batches: int, room: float = 1.0, seed: int = 4) -> Season:
    """Such a nursery with the claims of so many batches, each where it was asked for.

    They are copies of a few planned ones moved by whole weeks: planning 100,000 is what another table measures.
    """
    season, chance = roomy(batches, room), Random(seed)
    claims = [_moved(chance, number) for number in range(batches)]
    room_claims = tuple(chain.from_iterable(stays for stays, _work in claims))
    return replace(season, room=room_claims, hands=tuple(chain.from_iterable(work for _stays, work in claims)))


def _moved(chance: Random, number: int) -> Claims:
    plan = _planned(chance.choice(QUANTITIES), chance.random() < 0.3, chance.randrange(7))
    by = timedelta(days=7 * chance.randrange(DAYS // 7))
    room, hands = place_claims(plan, f"batch {number}")
    label = f"Order {number}, line 1"
    return (
        tuple(replace(claim, label=label, first=claim.first + by) for claim in room),
        tuple(replace(claim, label=label, day=claim.day + by) for claim in hands),
    )


@lru_cache(maxsize=256)
def _planned(quantity: int, side: bool, weekday: int) -> LinePlan:
    return plan_as_asked(roomy(10_000), wish(0, quantity, 63 + weekday, nursery.side_graft() if side else None))


def wish(number: int, quantity: int, day: int, recipe: Recipe | None = None) -> Wish:
    """One line, to be picked up so many days from today, two days earlier or three later at the most."""
    return nursery.wish(
        quantity,
        nursery.MONDAY + timedelta(days=day),
        key=f"line {number}",
        label=f"Order {number}, line 1",
        recipe=recipe or nursery.splice(),
        earlier=2,
        later=3,
    )


def wishes(count: int, chance: Random, first: int = 60, last: int = 60 + DAYS) -> Iterator[Wish]:
    """Random lines like those that a season is full of."""
    for number in range(count):
        recipe = nursery.side_graft() if chance.random() < 0.3 else nursery.splice()
        yield wish(number, chance.choice(QUANTITIES), chance.randrange(first, last), recipe)


# --- seasons to level ---------------------------------------------------------------------------------------


def crowded(lines: int, seed: int = 1) -> tuple[Season, list[Told]]:
    """So many lines as they were asked for, with a peak in the middle that asks for a fifth more than there is.

    Half are confirmed, within two days earlier to three later; the others may be late.
    """
    season, chance = roomy(2 * lines), Random(seed)
    return season, [_told(chance, number) for number in range(lines)]


def _told(chance: Random, number: int) -> Told:
    plan = _planned(chance.choice(QUANTITIES), chance.random() < 0.3, chance.choice((0, 1, 2, 3, 4, 5)))
    by = timedelta(days=7 * round(chance.triangular(0, 16)))
    pickup = plan.pickup + by
    asked = replace(plan.wish, key=f"line {number}", label=f"Order {number}, line 1", pickup=plan.wish.pickup + by)
    parts: tuple[PartPlan, ...] = seasons.moved(plan.parts, by.days)  # type: ignore[assignment]
    confirmed = chance.random() < 0.5
    moved = LinePlan(asked, pickup, parts, plan.cost)
    return Told(asked, moved, pickup if confirmed else None, may_be_late=0 if confirmed else 20)
