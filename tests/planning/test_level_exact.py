"""Levelling against exhaustive search: in tiny seasons nothing better is possible, and what is proved is true."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import product
from random import Random

from production.planning.level import Board, Effort, Told, level, level_exactly
from production.planning.level.cost import pickups_for
from production.planning.load import Load
from production.planning.options import Ways, part_sizes
from production.planning.promise import plan_as_asked
from production.planning.terms import Impossible, Season, Wish
from tests.planning import exhaustive, test_level

Aims = tuple[int, int, int]  # left over, late, told anew

SEASONS = 8  # `python -m tests.bench.exhaustive` tries as many as wanted


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
    choices = sorted(product(*(list(_options(season, line)) for line in lines)), key=_added_up)
    return next(_added_up(choice) for choice in choices if _holds(season, lines, choice))


def _added_up(choice: Sequence[Option]) -> Aims:
    left_over, late, told_anew = (sum(each.aims[at] for each in choice) for at in range(3))
    return left_over, late, told_anew


@dataclass(frozen=True)
class Option:
    """What may become of a line: placed for a pickup, standing as it stands, or left over."""

    aims: Aims
    pickup: date | None = None
    stands: bool = False


def _options(season: Season, line: Told) -> Iterator[Option]:
    yield Option((line.weight, 0, 0))
    if line.plan:
        yield Option(_aims(line, line.plan.pickup), stands=True)
    for pickup in pickups_for(season, line):
        option = Option(_aims(line, pickup), pickup)
        if _holds(season, [line], [option]):  # alone, or it need not be tried with others
            yield option


def _aims(line: Told, pickup: date) -> Aims:
    return 0, line.lateness(pickup), int(line.told not in (None, pickup))


def _holds(season: Season, lines: list[Told], choice: Sequence[Option]) -> bool:
    asked, keeping, left_over = [], [], []
    for line, option in zip(lines, choice, strict=True):
        if option.pickup:
            wish = replace(line.wish, pickup=option.pickup, earlier=0, later=0)
            asked.append((wish, divisions(season, wish)))
        elif line.plan:
            (keeping if option.stands else left_over).append(line.plan)
    return exhaustive.can_be_placed(season, asked, keeping, left_over)


def divisions(season: Season, wish: Wish) -> list[list[int]]:
    try:
        return [part_sizes(wish.quantity, n) for n in Ways(Load(season), wish).numbers_of_parts()]
    except Impossible:
        return []


def compared(seed: int) -> bool:
    """Whether it could be compared with exhaustive search, which then came to the same.

    Lines left over go on standing where they stand; in every second season there is one.
    """
    chance = Random(seed)
    season = exhaustive.season(chance)
    lines = [told(season, chance, number) for number in range(chance.randint(2, 3))]
    lines = [replace(line, wish=replace(line.wish, later=min(line.wish.later, 1))) for line in lines]
    found = level(season, lines, Effort(rounds=20, exact=20.0))
    assert found.proved, f"season {seed}"
    assert found.bound <= found.cost, f"season {seed}"
    try:
        assert found.cost[:3] == least(season, lines), f"season {seed}"
    except exhaustive.TooMany:
        return False
    return True


def test_an_exact_search_begins_from_the_season_that_is_known():
    """With next to no effort it finds nothing by itself, and with a known season nothing worse than that."""
    season, lines = test_level.crowded()
    found = level(season, lines, Effort(rounds=30, exact=0.0))
    known = [found.plans.get(line.wish.key) for line in lines]
    assert any(plan is not line.plan for plan, line in zip(known, lines, strict=True))
    board, numbers = Board(season, lines), range(len(lines))
    assert level_exactly(board, numbers, 1.0) is None
    again = level_exactly(board, numbers, 1.0, known=known)
    assert again is not None
    assert again.cost <= found.cost


def test_a_tiny_season_is_levelled_as_exhaustive_search_would():
    assert sum(compared(seed) for seed in range(SEASONS)) > SEASONS / 2
