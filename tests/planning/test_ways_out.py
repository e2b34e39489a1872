"""Why a wish does not fit, and the ways out: each tried, and let pass by the referee."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from random import Random

import pytest

from production.planning import check
from production.planning.claims import season_with
from production.planning.level import Told
from production.planning.making_room import Lines
from production.planning.promise import judge, load_for, promise
from production.planning.terms import Answer, HandsClaim, Nights, Recipe, RoomClaim, Season, Wish
from production.planning.ways_out import WayOut, ways_out
from production.planning.why_not import why_not
from tests.planning import nursery, seasons
from tests.planning.nursery import MONDAY

PICKUP = MONDAY + timedelta(days=72)  # a Wednesday: potting then falls on no Sunday


def rigid(recipe: Recipe) -> Recipe:
    """Every stage as long as usual, never longer or shorter; ready plants go on their day."""
    stages = (replace(stage, nights=Nights(*[stage.nights.usual] * 3)) for stage in recipe.union)
    return replace(recipe, union=tuple(stages), keeping=1)


def strict(quantity: int, **changes: object) -> Wish:
    """Grafted on one day only, which its pickup names."""
    return nursery.wish(quantity, PICKUP, recipe=rigid(nursery.splice()), **changes)


def promised(season: Season, *wishes: Wish) -> tuple[Season, list[Told]]:
    """The season after these wishes were promised, and how they stand in it."""
    told = []
    for wish in wishes:
        (answer,) = promise(season, [wish])
        assert answer.plan
        assert answer.fits
        season = season_with(season, [answer.plan])
        told.append(Told(wish, answer.plan, answer.plan.pickup))
    return season, told


def refused(season: Season, wish: Wish) -> Answer:
    (answer,) = promise(season, [wish])
    assert not answer.fits
    assert answer.plan
    return answer


def full(season: Season, place: str, leave: float = 0.0) -> Season:
    """All of a place taken for half a year, but so much."""
    taken = RoomClaim("full", "Order 7", place, MONDAY, 180, season.place(place).capacity - leave)
    return replace(season, room=(*season.room, taken))


def way(ways: tuple[WayOut, ...], kind: str) -> WayOut:
    (found,) = [each for each in ways if each.kind == kind]
    return found


# --- why not ------------------------------------------------------------------------------------------------


def test_a_full_chamber_is_the_one_obstacle_and_says_how_many_trays_it_wants():
    """By hand: 65 plants want more than 72 grafts, so 2 trays of 72 cells; one is free."""
    season = full(nursery.season(), "healing", leave=1.0)
    wish = strict(65)
    (obstacle,) = why_not(load_for(season, [wish]), wish).obstacles
    assert (obstacle.conflict.key, obstacle.more) == ("healing", 1.0)
    assert [cause.label for cause in obstacle.conflict.causes][:2] == ["Order 7", "Order 1, line 1"]


def test_two_obstacles_are_both_named_and_both_amounts_together_suffice():
    season = full(full(nursery.season(), "healing"), "hardening")
    wish = nursery.wish(60, PICKUP)
    answer = why_not(load_for(season, [wish]), wish)
    more = {obstacle.conflict.key: obstacle.more for obstacle in answer.obstacles}
    assert set(more) == {"healing", "hardening"}
    assert answer.plan
    raised = tuple(
        replace(place, capacity=place.capacity + (more.get(place.key) or 0.0)) for place in season.places
    )
    (then,) = promise(replace(season, places=raised), [wish])
    assert then.fits


def test_missing_hands_are_told_in_hours():
    season = nursery.season()
    busy = tuple(
        HandsClaim("other", "Order 7", MONDAY + timedelta(days=day), (("graft", 7.5),), care=True)
        for day in range(100)
    )
    wish = nursery.wish(100, PICKUP)
    why = why_not(load_for(replace(season, hands=busy), [wish]), wish)
    assert {obstacle.conflict.resource for obstacle in why.obstacles} == {"hands"}
    assert all(obstacle.more and obstacle.more <= 2 for obstacle in why.obstacles)


def test_hours_that_are_lifted_count_though_the_load_kept_those_of_its_longest_day():
    """Half an hour a day grafts this line in four days, and it has one or two: with more hours in one part."""
    slow, tom = nursery.grafter(hours=0.5, skills=("graft",)), nursery.grafter("tom", skills=("crew",))
    slow = replace(slow, care_hours=0.0)
    season, wish = nursery.season(people=(slow, tom)), strict(120)
    load = load_for(season, [wish])
    assert not judge(load, wish).fits  # asked how many days it takes, it keeps the hours of the longest
    why = why_not(load, wish)
    (obstacle,) = why.obstacles
    assert obstacle.conflict.key == "graft"
    assert obstacle.more
    assert why.plan
    longer = replace(slow, hours=tuple(hours and hours + obstacle.more for hours in slow.hours))
    (then,) = promise(replace(season, people=(longer, tom)), [wish])
    assert then.fits


def test_what_fits_and_what_is_impossible_has_no_obstacle():
    season = nursery.season()
    assert not why_not(load_for(season, [nursery.wish()]), nursery.wish()).obstacles
    soon = nursery.wish(60, MONDAY + timedelta(days=5))
    assert not why_not(load_for(season, [soon]), soon).obstacles


@pytest.mark.parametrize("seed", range(20))
def test_of_the_obstacles_every_one_is_needed_and_all_amounts_suffice(seed):
    chance = Random(seed)
    season, wish = seasons.season(chance), seasons.wish(chance)
    load = load_for(season, [wish])
    answer = judge(load, wish)
    if answer.fits or answer.impossible:
        return
    why = why_not(load, wish)
    for obstacle in why.obstacles:
        assert obstacle.conflict.causes
    if why.plan:
        asked = replace(why.plan, wish=replace(why.plan.wish, pickup=why.plan.pickup))
        assert not check.faults(season, [asked])
        mine = {obstacle.conflict.key for obstacle in why.obstacles if obstacle.conflict.resource == "place"}
        crossed = [c for c in check.conflicts(season, [why.plan]) if wish.key in {o.owner for o in c.causes}]
        assert {conflict.key for conflict in crossed if conflict.resource == "place"} <= mine


# --- ways out -----------------------------------------------------------------------------------------------


def test_another_order_moved_inside_its_latitude_is_a_way_out_with_its_move():
    """Both want the chamber of three trays on the same nights; the first may be handed over later."""
    season = nursery.season(places=nursery.places(healing=3))
    season, told = promised(season, strict(80, key="first", label="Order 1", later=10))
    asked = strict(80, key="asked", label="Order 2")
    answer = refused(season, asked)
    found = way(ways_out(season, answer, Lines(told)), "moving")
    (move,) = found.moves
    assert move.key == "first"
    assert told[0].last >= move.plan.pickup
    assert "Graft on" in move.words


def test_who_has_no_latitude_is_not_moved():
    season = nursery.season(places=nursery.places(healing=3))
    season, told = promised(season, strict(80, key="first", label="Order 1"))
    ways = ways_out(season, refused(season, strict(80, label="Order 2")), Lines(told))
    assert ways
    assert "moving" not in {each.kind for each in ways}


def test_the_other_method_is_offered_when_it_fits():
    season = full(nursery.season(), "hardening")
    asked = nursery.wish(60, PICKUP)
    by_side = replace(asked, recipe=nursery.side_graft())
    found = way(ways_out(season, refused(season, asked), instead=[by_side]), "method")
    assert found.plan.wish.recipe == nursery.side_graft()


def test_as_many_as_fit_are_told():
    """By hand: one tray of 72 cells takes 72 grafts; 54 plants want 71 of them, more want a second tray."""
    season = full(nursery.season(), "healing", leave=1.0)
    asked = strict(120)
    found = way(ways_out(season, refused(season, asked)), "fewer")
    assert 40 < found.wish.quantity < 72
    assert max(stay.containers for stay in found.plan.stays if stay.stage_kind == "healing") == 1


def test_more_trays_cost_what_their_metres_cost_for_their_nights():
    """One tray of 0.1506 m² for the nights in the chamber, at 3 for a square metre and week."""
    season = full(nursery.season(), "healing", leave=1.0)
    found = way(ways_out(season, refused(season, strict(65))), "more")
    (extra,) = found.extra
    nights = (extra.conflict.last - extra.conflict.first).days + 1
    assert extra.amount == 1.0
    assert extra.cost == pytest.approx(0.1506 * nights / 7 * 3.0)


def test_the_cheapest_comes_first():
    season = full(nursery.season(), "healing", leave=1.0)
    ways = ways_out(season, refused(season, strict(65)))
    assert [each.cost for each in ways] == sorted(each.cost for each in ways)


@pytest.mark.parametrize("seed", range(12))
def test_whatever_the_season_each_way_holds(seed):
    """The referee is asked again here, with what would be added as claims for less than nothing."""
    chance = Random(seed)
    season = seasons.season(chance)
    told = []
    for number in range(4):
        wish = seasons.wish(chance, f"line {number}")
        (answer,) = promise(season, [wish])
        if answer.fits:
            season, more = promised(season, wish)
            told += more
    asked = seasons.wish(chance)
    (answer,) = promise(season, [asked])
    for found in ways_out(season, answer, Lines(told), effort=0.0):
        moved = frozenset(move.key for move in found.moves)
        plans = [found.plan, *(move.plan for move in found.moves)]
        anywhere = [replace(plan, wish=replace(plan.wish, pickup=plan.pickup)) for plan in plans]
        assert not check.faults(season, anywhere)
        if not found.extra:
            conflicts = check.conflicts(season.without(moved), plans)
            owners = {cause.owner for conflict in conflicts for cause in conflict.causes}
            assert not owners & {plan.wish.key for plan in plans}
