"""The ways of one wish, and their order of preference."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from production.planning.claims import place_claims
from production.planning.options import Ways
from production.planning.promise import load_for
from production.planning.terms import LinePlan, RoomClaim, Season, Wish
from tests.planning import nursery
from tests.planning.nursery import MONDAY

DAY = timedelta(days=1)


def ways(wish: Wish, season: Season | None = None) -> Ways:
    return Ways(load_for(season or nursery.season(), [wish]), wish)


def departure(plan: LinePlan) -> int:
    """Nights off the usual ones of the protocol (4, 2 and 15), and nights ready before the pickup."""
    usual = {"healing": 4, "cover": 2, "growing": 15}
    nights = sum(
        abs(stay.nights - usual[stay.stage])
        for part in plan.parts
        for stay in {s.stage: s for s in part.stays if s.stage in usual}.values()
    )
    return nights + sum((plan.pickup - part.ready).days for part in plan.parts)


def test_pickups_are_the_open_days_of_the_latitude_nearest_first() -> None:
    saturday = MONDAY + timedelta(days=75)
    found = ways(nursery.wish(pickup=saturday, earlier=2, later=3)).pickups()
    assert found == [saturday + by * DAY for by in (0, -1, -2, 2, 3)]  # the Sunday between is closed


def test_days_before_today_are_no_pickups() -> None:
    assert ways(nursery.room_wish(nights=1, pickup=MONDAY + DAY, earlier=9)).pickups() == [MONDAY + DAY, MONDAY]


def test_ways_come_by_pickup_then_by_least_departure_then_in_one_part() -> None:
    wish = nursery.wish(later=1)
    found = list(ways(wish).every())
    rank = [((plan.pickup - wish.pickup).days, departure(plan), len(plan.parts)) for plan in found]
    assert rank == sorted(rank)
    assert len({(p.pickup, tuple(part.graft_day for part in p.parts)) for p in found}) == len(found)
    assert {len(plan.parts) for plan in found} == {1, 2, 3}


def test_the_first_way_is_the_one_that_is_promised() -> None:
    wish = nursery.wish(later=1)
    assert next(ways(wish).every()) == ways(wish).best(wish.pickup)


def test_every_way_fits_beside_what_is_taken() -> None:
    taken = RoomClaim("other", "Order 9", "healing", MONDAY + timedelta(days=40), 14, 7)
    season = nursery.season(room=(taken,))
    for plan in ways(nursery.wish(), season).every():
        room, _ = place_claims(plan, "new")
        chamber = [claim for claim in (*season.room, *room) if claim.place == "healing"]
        nights = {claim.first + by * DAY for claim in chamber for by in range(claim.nights)}
        assert all(in_chamber(chamber, night) <= 8 for night in nights)


def in_chamber(claims: list[RoomClaim], night: date) -> float:
    return sum(claim.load for claim in claims if claim.first <= night < claim.leaves)


def test_parts_are_as_even_as_whole_plants_allow() -> None:
    load = load_for(nursery.season(), [nursery.wish(100)])
    plan = Ways(load, nursery.wish(100), parts=3).best(nursery.wish().pickup)
    assert plan
    assert sorted(part.plants for part in plan.parts) == [33, 33, 34]
    assert [part.number for part in plan.parts] == [1, 2, 3]
    days = [part.graft_day for part in plan.parts]
    assert days == sorted(set(days), key=str)


def test_looking_for_ways_leaves_the_load_alone() -> None:
    wish = nursery.wish()
    load = load_for(nursery.season(), [wish])
    list(Ways(load, wish).every())
    assert not load.used.any()
    assert not load.asked.any()


def test_bigger_chamber_needs_fewer_parts() -> None:
    wish = nursery.wish(1200)
    small, big = (
        Ways(load_for(season, [wish]), wish).fewest
        for season in (nursery.season(), nursery.season(places=nursery.places(healing=40), people=crowd()))
    )
    assert small > big


def crowd() -> tuple[nursery.Person, ...]:
    return tuple(replace(nursery.grafter(f"hand {n}"), hours=(9.0,) * 7) for n in range(4))
