"""Hours by part of the day: evenings fill though the day has room, and everything that plans knows it."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from production.planning import check
from production.planning.claims import season_with
from production.planning.conflicts import conflicts
from production.planning.hands import pools
from production.planning.level import Effort, Told, level
from production.planning.load import Load
from production.planning.promise import load_for, promise
from production.planning.terms import FINAL_CUT, LinePlan, Nights, Person, Recipe, Season, Wish, WorkPlan
from production.planning.ways_out import ways_out
from production.planning.why_not import why_not
from tests.planning import nursery
from tests.planning.nursery import MONDAY

PICKUP = MONDAY + timedelta(days=72)


def team(evening: float | None = 1.0) -> tuple[Person, ...]:
    """Iris grafts and cuts for eight hours a day, of which so many lie in the evening; Tom helps."""
    iris, tom = nursery.people()
    return replace(iris, hours=(8.0,) * 7, evenings=(evening,) * 7), tom  # type: ignore[arg-type]


def season(evening: float | None = 1.0) -> Season:
    roomy = nursery.places(germination=60, bench_a=200, healing=60, hardening=60, staging=90)
    return nursery.season(people=team(evening), places=roomy)


def rigid(recipe: Recipe) -> Recipe:
    """Every stage as long as usual, and ready on the day of pickup: one grafting day, and one day for each cut."""
    stages = (replace(stage, nights=Nights(*[stage.nights.usual] * 3)) for stage in recipe.union)
    return replace(recipe, union=tuple(stages), keeping=0)


def side(key: str, quantity: int = 150, **changes: object) -> Wish:
    """Some 170 side grafts, whose cuts take a little more than half an hour of an evening."""
    recipe = rigid(nursery.side_graft())
    return nursery.wish(quantity, PICKUP, key=key, label=f"Order {key}", **{"recipe": recipe, **changes})


def final_cut(plan: LinePlan) -> WorkPlan:
    return next(work for work in plan.works if work.kind == FINAL_CUT)


def first_promised(ground: Season) -> tuple[Season, LinePlan]:
    (first,) = promise(ground, [side("1")])
    assert first.plan
    assert first.fits
    return season_with(ground, [first.plan]), first.plan


def test_final_cuts_of_two_orders_overfill_an_evening_though_the_day_has_room() -> None:
    taken, before = first_promised(season())
    (second,) = promise(taken, [side("2")])
    assert (second.fits, second.proved) == (False, True)
    assert second.plan
    found = {conflict.key: conflict for conflict in second.conflicts}
    cut = found["graft@evening"]
    assert (cut.part, cut.name, cut.there) == ("evening", "graft", 1.0)
    assert cut.last == final_cut(before).day
    assert cut.peak == pytest.approx(2 * final_cut(before).total_hours)
    assert set(found) == {"graft@evening"}  # all in all the day has hours enough


def test_where_nothing_is_said_of_the_evening_both_orders_fit() -> None:
    taken, _before = first_promised(season(evening=None))
    (second,) = promise(taken, [side("2")])
    assert second.fits


def test_the_referee_sees_the_evening_that_the_planner_did_not_look_at() -> None:
    """Planned for people without parts, judged by an evening of one hour."""
    ground, first = first_promised(season(evening=None))
    (second,) = promise(ground, [side("2")])
    assert second.plan
    found = check.conflicts(season(), [first, second.plan])
    assert {conflict.key for conflict in found} == {"graft@evening"}


def test_why_not_says_how_much_more_of_an_evening_would_do() -> None:
    taken, before = first_promised(season())
    why = why_not(load_for(taken, [side("2")]), side("2"))
    (obstacle,) = why.obstacles
    assert (obstacle.conflict.key, obstacle.conflict.part) == ("graft@evening", "evening")
    lacking = 2 * final_cut(before).total_hours - 1.0
    assert obstacle.more == pytest.approx(0.25 * -(-lacking // 0.25))


def test_more_hours_of_an_evening_are_a_way_out_that_the_referee_lets_pass() -> None:
    taken, before = first_promised(season())
    (second,) = promise(taken, [side("2")])
    more = next(way for way in ways_out(taken, second) if way.kind == "more")
    assert {extra.conflict.part for extra in more.extra} == {"evening"}
    assert max(extra.amount for extra in more.extra) == pytest.approx(2 * final_cut(before).total_hours - 1.0)


def test_levelling_cuts_on_two_evenings() -> None:
    """Both could be cut on one day but for the evening: levelled, each has one of its own."""
    wishes = [side(key, recipe=nursery.side_graft()) for key in ("1", "2")]
    found = level(season(), [Told(wish) for wish in wishes], Effort(rounds=20))
    assert not found.left_over
    assert not check.conflicts(season(), tuple(found.plans.values()))
    days = {final_cut(plan).day for plan in found.plans.values()}
    assert len(days) == 2


def hours_on_monday(people: tuple[Person, ...], asks: tuple[tuple[str, str], ...]) -> float:
    """Of the smallest set that holds all these asks."""
    load = Load(nursery.season(people=people), asks=asks)  # type: ignore[arg-type]
    return float(load.hours[next(i for i, each in enumerate(load.sets) if set(asks) <= set(each.asks)), 0])


def test_hours_do_for_their_part_for_any_time_and_for_parts_of_which_nothing_is_said() -> None:
    # By hand, of eight hours: two in the evening, nothing said of the morning.
    (iris, _tom) = team(2.0)
    there = {part: hours_on_monday((iris,), (("graft", part),)) for part in ("morning", "day", "evening")}
    assert there == {"morning": 6.0, "day": 8.0, "evening": 2.0}
    said = replace(iris, mornings=(3.0,) * 7)
    there = {part: hours_on_monday((said,), (("graft", part),)) for part in ("morning", "day", "evening")}
    assert there == {"morning": 3.0, "day": 8.0, "evening": 2.0}
    assert hours_on_monday((said,), (("graft", "evening"), ("graft", "morning"))) == 5.0


def test_nobody_with_parts_means_one_pool_a_person_and_one_ask_a_skill() -> None:
    """So that a nursery without parts of the day pays nothing for them."""
    load = Load(nursery.season(), asks=(("graft", "evening"), ("graft", "day"), ("crew", "morning")))
    assert load.asks == [("crew", "day"), ("graft", "day")]
    assert [pool.key for pool in pools(nursery.people())] == ["iris", "tom"]
    assert load.sets_of["morning"] is load.sets_of["evening"]


def test_the_same_conflicts_by_referee_and_planner_of_a_plan_in_parts() -> None:
    taken, _before = first_promised(season())
    (second,) = promise(taken, [side("2")])
    assert second.plan
    both = season_with(taken, [second.plan])
    assert [(each.key, each.first, each.last, each.part) for each in conflicts(Load(both))] == [
        (each.key, each.first, each.last, each.part) for each in check.conflicts(both)
    ]
