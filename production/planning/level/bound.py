"""A cost that no levelling can fall below: what each line would cost if it were alone beside what cannot move."""

from __future__ import annotations

from collections.abc import Callable

from production.planning.exact.proof import Said, place
from production.planning.level.board import Board
from production.planning.level.cost import Cost, Told, pickups_for
from production.planning.options import Ways
from production.planning.terms import Impossible


def least_possible(board: Board, going_on: Callable[[Cost], bool] = lambda _so_far: True) -> Cost:
    """The sum over lines of the least that each of them costs alone; the board must be empty.

    `going_on` is asked after each line, with the sum so far; if it says no, the rest is taken to cost nothing.
    """
    bound = Cost()
    for number in range(len(board.lines)):
        bound = bound.plus(_alone(board, number))
        if not going_on(bound):
            break
    return bound


def _alone(board: Board, number: int) -> Cost:
    """Nothing at all if it can stay; else at least a move, on the least late day that it can have."""
    line = board.lines[number]
    if board.keeps(number):
        known = board.costs[number]
        board.put(number, None)
        return _least(board, line, known)
    return _least(board, line, None)


def _least(board: Board, line: Told, stands: Cost | None) -> Cost:
    if stands and not stands.late and not stands.told_anew:
        return Cost()
    first = _first_day(board, line)
    if first is None:
        return stands or Cost(left_over=line.weight)
    late, told_anew = first
    moved = Cost(late=late, told_anew=told_anew, moved=1)
    return min(moved, stands) if stands else moved


def _first_day(board: Board, line: Told) -> tuple[int, int] | None:
    """The least lateness, and whether the customer must be told anew; None if no pickup is possible at all."""
    try:
        ways = Ways(board.load, line.wish)
    except Impossible:
        return None
    pickups = pickups_for(board.season, line)
    plan = ways.first(pickups)
    nearer = pickups[: pickups.index(plan.pickup)] if plan else pickups
    overlooked = place(ways, nearer)
    if overlooked.said is Said.UNDECIDED:
        return 0, 0
    found = overlooked.plans[0] if overlooked.plans else plan
    if found is None:
        return None
    return line.lateness(found.pickup), int(line.told not in (None, found.pickup))
