"""The promise against exhaustive search: a yes and a no mean what they say, for one line and for several."""

import os
from random import Random

import pytest

from production.planning import check
from production.planning.load import Load
from production.planning.options import Ways, part_sizes
from production.planning.promise import promise
from production.planning.terms import Impossible, Season, Wish
from tests.planning import exhaustive

# Thousands take minutes: `SEASONS=3000 ./run test tests/planning/test_exact.py`.
SEASONS = int(os.environ.get("SEASONS", "60"))


def divisions(season: Season, wish: Wish) -> list[list[int]]:
    try:
        return [part_sizes(wish.quantity, n) for n in Ways(Load(season), wish).numbers_of_parts()]
    except Impossible:
        return []


@pytest.mark.parametrize("lines", [1, 2])
def test_the_answer_is_that_of_exhaustive_search(lines):
    said, skipped = {True: 0, False: 0}, 0
    for seed in range(SEASONS // lines):
        chance = Random(seed)
        season = exhaustive.season(chance)
        wishes = [exhaustive.wish(chance, f"{number}", most=16 // lines) for number in range(lines)]
        answers = promise(season, wishes)
        fits = all(answer.fits for answer in answers)
        asked = [(wish, divisions(season, wish)) for wish in wishes]
        try:
            assert fits == exhaustive.can_be_placed(season, asked), f"season {seed}"
        except exhaustive.TooMany:
            skipped += 1
        assert all(answer.proved for answer in answers), f"season {seed}"
        plans = [answer.plan for answer in answers if answer.fits and answer.plan]
        assert not check.faults(season, plans), f"season {seed}"
        said[fits] += 1
    assert min(said.values()) > SEASONS / lines / 20  # both answers were asked for
    assert skipped < SEASONS / lines / 4
