"""Places looked for by levelling, as numbers: the plans that they stand for hold, and none is overlooked."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from random import Random

import pytest

from production.planning import check
from production.planning.claims import place_claims
from production.planning.ledger import Spots
from production.planning.level import Board, Told
from production.planning.level.cost import pickups_for
from production.planning.level.draft import Draft
from production.planning.level.opening import Look
from production.planning.options import Ways
from production.planning.terms import Impossible, LinePlan
from tests.planning import nursery, seasons

LINES = 5


def crowding(seed: int) -> Iterator[tuple[Board, int]]:
    """Lines of every kind in a random season, to be placed one after the other."""
    chance = Random(seed)
    season = seasons.season(chance)
    board = Board(season, [Told(seasons.wish(chance, str(at)), may_be_late=6) for at in range(LINES)])
    for number in range(LINES):
        yield board, number


def by_planner(board: Board, number: int) -> LinePlan | None:
    """The same question put to the planner that promises."""
    line = board.lines[number]
    try:
        return Ways(board.load, line.wish).first(pickups_for(board.season, line))
    except Impossible:
        return None


def taken(spots: Spots) -> dict[tuple[str, int, int], float]:
    """By place and night, and by skills and day."""
    found: Counter[tuple[str, int, int]] = Counter()
    for row, first, leaves, load in spots.stays:
        for night in range(first, leaves):
            found["room", row, night] += load  # type: ignore[assignment]
    for index, day, hours in spots.work:
        found["hands", index, day] += hours  # type: ignore[assignment]
    return {key: pytest.approx(amount) for key, amount in found.items()}


@pytest.mark.parametrize("seed", range(25))
def test_a_draft_takes_and_costs_what_its_plan_does_and_the_plan_holds(seed):
    for board, number in crowding(seed):
        if not board.place(number):
            continue
        draft, cost, line = board.held[number], board.costs[number], board.lines[number]
        assert isinstance(draft, Draft)
        plan = board.plan(number)
        assert plan is not None
        assert plan.pickup == draft.pickup
        assert taken(board.load.spots(*place_claims(plan, line.wish.key))) == taken(draft.spots)
        assert board.cost_of(number, plan) == cost
        assert not check.faults(board.season, [plan.as_if_asked])
        assert not board.is_crowded(number)


@pytest.mark.parametrize("seed", range(25))
def test_no_place_is_overlooked_that_the_planner_finds(seed):
    for board, number in crowding(seed):
        plan = by_planner(board, number)
        placed = board.place(number)
        assert placed or plan is None
        if plan:
            assert board.costs[number] <= board.cost_of(number, plan)


def test_an_early_place_keeps_the_same_pickup_and_starts_sooner():
    board = Board(nursery.season(), [Told(nursery.wish())])
    board.place(0)
    usual = board.plan(0)
    board.put(0, None)
    board.place(0, Look(early=True))
    early = board.plan(0)
    assert usual is not None
    assert early is not None
    assert early.pickup == usual.pickup
    assert early.first_day < usual.first_day
    assert board.costs[0].nights > 0
