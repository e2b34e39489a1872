"""Levelling a season: what comes out is sound, repeats, can be stopped, and is told as moves that can be taken."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from random import Random

import pytest

from production.planning import check
from production.planning.claims import season_with
from production.planning.level import Effort, Levelled, Told, level
from production.planning.promise import plan_as_asked
from production.planning.terms import Impossible, Season
from tests.planning import nursery, seasons
from tests.planning.test_ways_out import rigid

QUICK = Effort(rounds=30, exact=1.0)


def crowded(lines: int = 12, seed: int = 3) -> tuple[Season, list[Told]]:
    """Lines that all stand where they were asked for, in a chamber that is too small for that."""
    chance = Random(seed)
    season = nursery.season(places=nursery.places(healing=3))
    found = []
    for number in range(lines):
        pickup = nursery.MONDAY + timedelta(days=chance.choice((70, 71, 72, 77)))
        wish = nursery.wish(
            chance.choice((40, 60, 80)), pickup, key=f"{number}", label=f"Order {number}", earlier=3, later=4
        )
        plan = plan_as_asked(season, wish)
        confirmed = chance.random() < 0.5
        found.append(Told(wish, plan, plan.pickup if confirmed else None, may_be_late=0 if confirmed else 20))
    return season, found


def in_force(season: Season, lines: list[Told], keys: set[str], found: Levelled) -> Season:
    """The season with these moves taken and every other line as it stands."""
    plans = [found.plans[line.wish.key] if line.wish.key in keys else line.plan for line in lines]
    return season_with(season, [plan for plan in plans if plan])


def test_a_crowded_season_comes_back_without_overload():
    season, lines = crowded()
    assert check.conflicts(season_with(season, [line.plan for line in lines if line.plan]))
    found = level(season, lines, QUICK)
    assert not found.left_over
    assert not check.conflicts(season_with(season, list(found.plans.values())))
    assert found.cost < found.before
    assert found.bound <= found.cost


def test_confirmed_lines_stay_inside_their_latitude():
    season, lines = crowded()
    found = level(season, lines, QUICK)
    for line in lines:
        pickup = found.plans[line.wish.key].pickup
        assert pickup <= line.last + timedelta(days=line.may_be_late)
        assert pickup >= line.wish.pickup - timedelta(days=line.wish.earlier)


def test_the_same_input_and_effort_give_the_same_answer():
    season, lines = crowded()
    assert level(season, lines, QUICK) == level(season, lines, QUICK)


def test_it_can_be_stopped_and_tells_how_far_it_is():
    season, lines = crowded(lines=20)
    seen = []

    def watch(progress):
        seen.append(progress)
        return len(seen) < 3

    found = level(season, lines, Effort(rounds=500), watch)
    assert len(seen) == 3
    assert [progress.best for progress in seen] == sorted((progress.best for progress in seen), reverse=True)
    assert seen[-1].best <= found.cost < found.before


def test_every_move_can_be_taken_with_what_it_needs():
    """Alone, or with the moves that it names, none of its places is asked for more than there is."""
    season, lines = crowded()
    found = level(season, lines, QUICK)
    assert found.moves
    before = season_with(season, [line.plan for line in lines if line.plan])
    worst = {conflict.key: conflict.peak for conflict in check.conflicts(before)}
    for move in found.moves:
        together = {move.key, *move.needs}
        after = in_force(season, lines, together, found)
        mine = [c for c in check.conflicts(after) if {cause.owner for cause in c.causes} & together]
        assert all(conflict.peak <= worst.get(conflict.key, 0.0) for conflict in mine), move


def test_all_moves_together_are_the_levelled_season():
    season, lines = crowded()
    found = level(season, lines, QUICK)
    after = in_force(season, lines, {move.key for move in found.moves}, found)
    assert not check.conflicts(after)


def test_moves_say_what_changes_and_who_must_be_told():
    season, lines = crowded()
    found = level(season, lines, QUICK)
    told = {line.wish.key: line.told for line in lines}
    for move in found.moves:
        assert move.words.startswith(("Graft on", "Room for it", "Pickup", "Other nights"))
        assert move.tells == (move.plan.pickup if told[move.key] not in (None, move.plan.pickup) else None)


def test_what_cannot_fit_is_left_over_and_named():
    season, lines = crowded()
    huge = nursery.wish(4000, nursery.MONDAY + timedelta(days=70), key="huge", label="Order 99", level=0.5)
    found = level(season, [*lines, Told(huge)], QUICK)
    assert found.left_over == ("huge",)
    assert found.bound.left_over == 100


def test_nothing_is_moved_to_where_a_line_left_over_stands():
    """Two lines without latitude stand in one chamber of four trays, one in two of them, the other in all four.

    The other is left over and goes on standing there; but for it the third would fit in beside the first.
    """
    season = nursery.season(places=nursery.places(healing=4))
    pickup = nursery.MONDAY + timedelta(days=72)
    recipe = rigid(nursery.splice())
    lines = []
    for key, plants, weight, later in (("a", 80, 2.0, 0), ("b", 200, 1.0, 0), ("c", 80, 1.0, 7)):
        wish = nursery.wish(
            plants, pickup, key=key, label=f"Order {key}", recipe=recipe, later=later, weight=weight
        )
        plan = plan_as_asked(season, wish) if key != "c" else None
        lines.append(Told(wish, plan, plan and plan.pickup))
    found = level(season, lines, QUICK)
    assert len(found.left_over) == 1
    assert found.left_over[0] in "ab"
    moved = [move.plan for move in found.moves]
    standing = season_with(season, [line.plan for line in lines if line.plan])
    owners = {cause.owner for conflict in check.conflicts(standing, moved) for cause in conflict.causes}
    assert "c" in found.plans
    assert "c" not in owners


@pytest.mark.parametrize("seed", range(8))
def test_whatever_the_season_nothing_impossible_and_no_new_conflict(seed):
    chance = Random(seed)
    season = seasons.season(chance)
    lines = []
    for number in range(6):
        wish = seasons.wish(chance, f"{number}")
        try:
            plan = plan_as_asked(season, wish) if chance.random() < 0.7 else None
        except Impossible:
            continue
        lines.append(Told(wish, plan, plan and plan.pickup, may_be_late=10))
    found = level(season, lines, QUICK)
    moved = [move.plan for move in found.moves]
    anywhere = [replace(plan, wish=replace(plan.wish, pickup=plan.pickup)) for plan in moved]
    assert not check.faults(season, anywhere)
    conflicts = check.conflicts(season_with(season, list(found.plans.values())))
    owners = {cause.owner for conflict in conflicts for cause in conflict.causes}
    assert not owners & set(found.plans)
