"""The promise against exhaustive search: a yes and a no mean what they say, for one line and for several."""

from random import Random

import pytest

from production.planning import check
from production.planning.load import Load
from production.planning.options import Ways, part_sizes
from production.planning.promise import promise
from production.planning.terms import Impossible, Season, Wish
from tests.planning import exhaustive

SEASONS = 30  # thousands were tried once, all agreed; `python -m tests.bench.exhaustive` does it again


def divisions(season: Season, wish: Wish) -> list[list[int]]:
    try:
        return [part_sizes(wish.quantity, n) for n in Ways(Load(season), wish).numbers_of_parts()]
    except Impossible:
        return []


def compared(seed: int, lines: int) -> bool | None:
    """What the planner says of that season, as exhaustive search does; None where that took too long."""
    chance = Random(seed)
    season = exhaustive.season(chance)
    wishes = [exhaustive.wish(chance, f"{number}", most=16 // lines) for number in range(lines)]
    answers = promise(season, wishes)
    assert all(answer.proved for answer in answers), f"season {seed}"
    plans = [answer.plan for answer in answers if answer.fits and answer.plan]
    assert not check.faults(season, plans), f"season {seed}"
    fits = all(answer.fits for answer in answers)
    asked = [(wish, divisions(season, wish)) for wish in wishes]
    try:
        assert fits == exhaustive.can_be_placed(season, asked), f"season {seed}"
    except exhaustive.TooMany:
        return None
    return fits


@pytest.mark.parametrize("lines", [1, 2])
def test_the_answer_is_that_of_exhaustive_search(lines):
    said = [compared(seed, lines) for seed in range(SEASONS // lines)]
    assert said.count(True) > len(said) / 20  # both answers were asked for
    assert said.count(False) > len(said) / 20
    assert said.count(None) < len(said) / 4
