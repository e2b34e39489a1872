"""Levelling against exhaustive search: in tiny seasons nothing better is possible, and what is proved is true."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from itertools import product
from random import Random

from production.planning.level import Effort, Told, level
from production.planning.level.cost import pickups_for
from production.planning.load import Load
from production.planning.options import Ways, part_sizes
from production.planning.promise import plan_as_asked
from production.planning.terms import Impossible, Season, Wish
from tests.planning import exhaustive

Aims = tuple[int, int, int]  # left over, late, told anew

SEASONS = 12  # thousands were tried once, all agreed; `python -m tests.bench.exhaustive` does it again


def told(season: Season, chance: Random, number: int) -> Told:
    """A line that stands anywhere, confirmed or not, whether it fits there or not."""
    wish = replace(exhaustive.wish(chance, str(number), most=8), weight=chance.choice((1.0, 2.0)))
    try:
        plan = plan_as_asked(season, wish) if chance.random() < 0.8 else None
    except Impossible:
        plan = None
    confirmed = plan is not None and chance.random() < 0.6
    return Told(wish, plan, plan.pickup if plan and confirmed else None, may_be_late=0 if confirmed else 3)


def least(season: Season, lines: list[Told]) -> Aims:
    """Left over, late and told anew of the best season, by trying all choices from the cheapest on."""
    options = [list(_options(season, line)) for line in lines]
    choices = sorted(
        product(*options), key=lambda each: tuple(map(sum, zip(*(cost for cost, _ in each), strict=True)))
    )
    for choice in choices:
        if _holds(season, lines, [pickup for _cost, pickup in choice]):
            return tuple(map(sum, zip(*(cost for cost, _ in choice), strict=True)))  # type: ignore[return-value]
    raise AssertionError("all can be left over")


def _added_up(choice: Sequence[tuple[Aims, date | None]]) -> Aims:
    left_over, late, told_anew = map(sum, zip(*(cost for cost, _pickup in choice), strict=True))
    return left_over, late, told_anew


def _options(season: Season, line: Told) -> Iterator[tuple[Aims, date | None]]:
    yield (line.weight, 0, 0), None
    for pickup in pickups_for(season, line):
        yield (0, line.lateness(pickup), int(line.told not in (None, pickup))), pickup


def _holds(season: Season, lines: list[Told], pickups: list[date | None]) -> bool:
    asked = []
    for line, pickup in zip(lines, pickups, strict=True):
        if pickup is not None:
            wish = replace(line.wish, pickup=pickup, earlier=0, later=0)
            asked.append((wish, divisions(season, wish)))
    return exhaustive.can_be_placed(season, asked)


def divisions(season: Season, wish: Wish) -> list[list[int]]:
    try:
        return [part_sizes(wish.quantity, n) for n in Ways(Load(season), wish).numbers_of_parts()]
    except Impossible:
        return []


def compared(seed: int) -> bool:
    """Whether it could be compared with exhaustive search, which then came to the same."""
    chance = Random(seed)
    season = exhaustive.season(chance)
    lines = [told(season, chance, number) for number in range(chance.randint(2, 3))]
    lines = [replace(line, wish=replace(line.wish, later=min(line.wish.later, 1))) for line in lines]
    found = level(season, lines, Effort(rounds=20, exact=20.0))
    standing = {line.wish.key for line in lines if line.plan}
    if standing & set(found.left_over):
        return False  # it goes on standing in the way of the others, which exhaustive search does not see
    assert found.proved, f"season {seed}"
    assert found.bound <= found.cost, f"season {seed}"
    try:
        assert found.cost[:3] == least(season, lines), f"season {seed}"
    except exhaustive.TooMany:
        return False
    return True


def test_a_tiny_season_is_levelled_as_exhaustive_search_would():
    assert sum(compared(seed) for seed in range(SEASONS)) > SEASONS / 4
