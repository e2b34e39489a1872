"""What a levelling must cost: no season found costs less, and what cannot be avoided is seen."""

from __future__ import annotations

from datetime import timedelta
from random import Random

import pytest

from production.planning.level import Effort, Told, level
from production.planning.level.board import Board
from production.planning.level.cost import Cost
from production.planning.level.crowd import crowded_cost
from production.planning.promise import plan_as_asked
from production.planning.terms import HEAL, Impossible, Season
from tests.planning import exhaustive, nursery, test_level_exact
from tests.planning.test_level import QUICK, crowded
from tests.planning.test_ways_out import rigid


def on_one_day(lines: int, trays: int, late: int) -> tuple[Season, list[Told]]:
    """So many lines of two trays for one day, nights as fixed as can be, in a chamber of so many trays."""
    season = nursery.season(places=nursery.places(healing=trays))
    pickup = nursery.MONDAY + timedelta(days=72)
    recipe = rigid(nursery.splice())
    found = []
    for number in range(lines):
        wish = nursery.wish(80, pickup, key=f"{number}", label=f"Order {number}", recipe=recipe)
        plan = plan_as_asked(season, wish)
        found.append(Told(wish, plan, None if late else plan.pickup, may_be_late=late))
    return season, found


def test_lines_for_which_there_is_no_room_are_counted():
    """By hand: of five lines that take two trays of four on one day, three cannot be had."""
    season, lines = on_one_day(5, trays=4, late=0)
    assert all(stay.containers == 2 for line in lines for stay in line.plan.stays if stay.stage_kind == HEAL)
    assert crowded_cost(Board(season, lines)) == Cost(left_over=300)


def test_lateness_that_cannot_be_avoided_is_counted():
    season, lines = on_one_day(3, trays=4, late=20)
    bound = crowded_cost(Board(season, lines))
    found = level(season, lines, Effort(rounds=50, exact=20.0))
    assert bound.left_over == 0
    assert bound.late > 0
    assert found.cost.late >= bound.late


def test_a_season_with_room_for_all_must_cost_nothing():
    season, lines = on_one_day(2, trays=4, late=0)
    assert crowded_cost(Board(season, lines)) == Cost()


@pytest.mark.parametrize("seed", range(4))
def test_no_season_that_was_found_costs_less(seed):
    season, lines = crowded(seed=seed)
    assert crowded_cost(Board(season, lines)) <= level(season, lines, QUICK).cost


def test_tiny_seasons_never_cost_less_than_the_bound():
    """Beside exhaustive search, which knows the least."""
    compared = 0
    for seed in range(6):
        chance = Random(seed)
        season = exhaustive.season(chance)
        lines = [test_level_exact.told(season, chance, number) for number in range(chance.randint(2, 3))]
        try:
            bound = crowded_cost(Board(season, lines))
            assert bound[:3] <= test_level_exact.least(season, lines), f"season {seed}"
        except (exhaustive.TooMany, Impossible):
            continue
        compared += 1
    assert compared > 3
