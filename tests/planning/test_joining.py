"""A line let into a batch that is not sown: kept promises, fewer trays, and the referee's word."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from random import Random

import pytest

from production.planning import check
from production.planning.claims import season_with
from production.planning.joining import Unsown, collection_over, joined, last_day, may_join
from production.planning.promise import load_for, promise
from production.planning.terms import Season, Wish
from production.planning.ways_out import KINDS, WayOut, by_joining, ways_out
from tests.planning import nursery, seasons
from tests.planning.test_ways_out import PICKUP, promised, refused, rigid, strict


def unsown(season: Season, wish: Wish) -> tuple[Season, Unsown]:
    """The season with a line promised, and its batch as one to be joined."""
    season, (told,) = promised(season, wish)
    assert told.plan
    assert len(told.plan.parts) == 1
    there = replace(wish, pickup=told.plan.pickup, earlier=0, later=0)
    return season, Unsown("B1", wish.key, replace(there, key="part:1"), told.plan)


def joining(season: Season, asked: Wish, *others: Unsown) -> list[WayOut]:
    ways = ways_out(season, refused(season, asked), unsown=others)
    return [way for way in ways if way.kind == "joining"]


def healing_trays(plan) -> int:
    return sum(stay.containers for stay in plan.stays if stay.stage_kind == "healing")


# --- by hand -------------------------------------------------------------------------------------------------


def test_two_lines_that_want_two_trays_each_share_three():
    """By hand: 65 plants want 2 trays of 72 cells for their grafts. Alone 2 + 2 in a chamber of 3 do not fit;
    130 plants want less than 3 × 72 grafts."""
    season = nursery.season(places=nursery.places(healing=3))
    season, there = unsown(season, strict(65, key="first", label="Order 1"))
    (way,) = joining(season, strict(65, label="Order 2"), there)
    assert (healing_trays(there.plan), healing_trays(way.plan)) == (2, 3)
    assert way.plan.parts[0].plants == 130
    assert way.plan.parts[0].sizing.chance >= 0.95


def test_joining_sows_less_than_both_alone():
    season = nursery.season(places=nursery.places(healing=3))
    season, there = unsown(season, strict(65, key="first"))
    asked = strict(65)
    (way,) = joining(season, asked, there)
    alone = there.plan.parts[0].sizing.scion_seeds + refused(season, asked).plan.parts[0].sizing.scion_seeds
    assert way.plan.parts[0].sizing.scion_seeds < alone


def test_it_costs_what_the_batch_takes_more_than_now_less_what_the_line_would_take():
    season = nursery.season(places=nursery.places(healing=3))
    season, there = unsown(season, strict(65, key="first"))
    asked = strict(65)
    answer = refused(season, asked)
    way = by_joining(season, answer, there)
    assert way
    assert way.cost == pytest.approx(way.plan.cost - there.plan.cost - answer.plan.cost)
    assert way.cost < 0  # less bench and less work than by itself


def test_the_cheapest_way_out_is_to_join_where_it_is_so():
    season = nursery.season(places=nursery.places(healing=3))
    season, there = unsown(season, strict(65, key="first"))
    ways = ways_out(season, refused(season, strict(65)), unsown=[there])
    assert ways[0].kind == "joining"
    assert [each.cost for each in ways] == sorted(each.cost for each in ways)


def test_a_batch_that_cannot_grow_is_not_offered():
    season = nursery.season(places=nursery.places(healing=2))
    season, there = unsown(season, strict(65, key="first"))
    assert not joining(season, strict(65), there)


# --- every promise is kept -----------------------------------------------------------------------------------


def test_plants_are_ready_by_the_first_pickup_and_stand_until_the_last_day_of_any():
    """The line asks two days later than the batch; with its two days to collect room is held one day longer."""
    season = nursery.season(places=nursery.places(healing=3))
    recipe = replace(rigid(nursery.splice()), keeping=3)
    first = nursery.wish(65, PICKUP, recipe=recipe, key="first", collection=1)
    season, there = unsown(season, first)
    asked = nursery.wish(65, PICKUP + timedelta(days=2), recipe=recipe, collection=2)
    (way,) = joining(season, asked, there)
    part = way.plan.parts[0]
    assert part.ready <= PICKUP
    assert way.plan.pickup == PICKUP
    assert way.pickup == PICKUP + timedelta(days=2)
    assert max(stay.leaves for stay in part.stays) == PICKUP + timedelta(days=3)


def test_plants_that_would_not_keep_so_long_are_not_joined():
    season = nursery.season(places=nursery.places(healing=3))
    first = nursery.wish(65, PICKUP, recipe=rigid(nursery.splice()), key="first")  # keeps for one night
    season, there = unsown(season, first)
    asked = nursery.wish(65, PICKUP + timedelta(days=5), recipe=rigid(nursery.splice()))
    assert joined(load_for(season, [asked]), there, asked) is None


def test_an_earlier_pickup_draws_the_batch_forward_and_the_first_line_keeps_its_days():
    season = nursery.season(places=nursery.places(healing=3))
    recipe = replace(rigid(nursery.splice()), keeping=7)
    season, there = unsown(season, nursery.wish(65, PICKUP, recipe=recipe, key="first", collection=2))
    asked = nursery.wish(65, PICKUP - timedelta(days=1), recipe=recipe, collection=1)
    found = joined(load_for(season, [asked]), there, asked)
    assert found
    assert found.plan.pickup == PICKUP - timedelta(days=1)
    assert max(stay.leaves for stay in found.plan.stays) == PICKUP + timedelta(days=1)


@pytest.mark.parametrize(
    "changes",
    [
        {"recipe": nursery.side_graft()},
        {"container": nursery.PLUG_72},
        {"leaders": 2, "topped": True},
        {"kind": "plain", "rootstock": None},
    ],
    ids=["method", "container", "leaders", "kind"],
)
def test_what_is_not_the_same_does_not_share_a_batch(changes):
    assert not may_join(replace(nursery.wish(), **changes), nursery.wish())
    assert may_join(nursery.wish(key="other"), nursery.wish())


def test_two_leaders_from_a_side_shoot_are_no_other_plants_here():
    assert may_join(replace(nursery.wish(), leaders=2), nursery.wish())


def test_days_to_collect_are_counted_on_open_days():
    """Thursday 5 March 2026 with three open days runs to Saturday; Friday with three to Monday, past Sunday."""
    calendar = replace(nursery.season().calendar, open_weekdays=frozenset(range(6)))
    thursday = date(2026, 3, 5)
    assert last_day(calendar, thursday, 3) == date(2026, 3, 7)
    assert last_day(calendar, date(2026, 3, 6), 3) == date(2026, 3, 9)
    assert collection_over(calendar, [(thursday, 3), (date(2026, 3, 6), 3)]) == (thursday, 4)


def test_of_two_that_cost_the_same_joining_comes_before_moving_others():
    assert KINDS.index("joining") < KINDS.index("moving")


# --- whatever the season -------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(30))
def test_whatever_the_season_a_joined_batch_holds_and_is_no_cause_of_a_conflict(seed):
    """Judged here without the trick of claims for less than nothing: on the season before the batch was there."""
    chance = Random(seed)
    season, wish = seasons.season(chance), seasons.wish(chance, "first")
    (answer,) = promise(season, [wish])
    if not answer.fits or answer.plan is None or len(answer.plan.parts) != 1 or wish.kind == "room":
        return
    before, after = season, season_with(season, [answer.plan])
    there = Unsown("B1", "first", replace(wish, pickup=answer.plan.pickup, earlier=0, later=0), answer.plan)
    asked = replace(wish, key="asked", quantity=chance.randint(1, 60), later=3)
    found = joined(load_for(after, [asked]), there, asked)
    if found is None:
        return
    assert not check.faults(before, [found.plan.as_if_asked])
    causes = {cause.owner for each in check.conflicts(before, [found.plan]) for cause in each.causes}
    assert found.plan.wish.key not in causes
    assert found.plan.parts[0].plants == wish.quantity + asked.quantity
    assert found.plan.parts[0].ready <= min(found.pickup, there.wish.pickup)
