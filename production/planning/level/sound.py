"""What makes a season fit to be shown: nothing moved to where room lacks, nothing that the referee faults."""

from __future__ import annotations

from production.planning import check
from production.planning.level.board import Board


def moved(board: Board) -> list[int]:
    """Lines that have room, and do not stand as they stood."""
    pairs = enumerate(zip(board.lines, board.held, strict=True))
    return [number for number, (line, plan) in pairs if plan and plan is not line.plan]


def make_sound(board: Board) -> bool:
    """What moved to where room lacks because of a line left over is placed elsewhere, or left over too.

    True if there was nothing to do.
    """
    was_sound = True
    while crowded := [number for number in moved(board) if board.is_crowded(number)]:
        was_sound = False
        for number in crowded:
            if board.is_crowded(number):
                board.put(number, None)
                if not (board.keeps(number) or board.place(number)):
                    board.leave(number)
    return was_sound


def keep_what_the_referee_lets_pass(board: Board) -> bool:
    """Nothing is shown that it faults: such a line stays as it stands, or is left over. True if nothing was."""
    plans = [(number, plan) for number in moved(board) if (plan := board.plan(number))]
    faulted = [number for number, plan in plans if check.faults(board.season, [plan.as_if_asked])]
    for number in faulted:
        board.put(number, None)
        if not board.keeps(number):
            board.leave(number)
    return not faulted


def move_back(board: Board) -> None:
    """What need not have moved, seeing how the season came out, stays where it stands."""
    for number in moved(board):
        plan, stands = board.held[number], board.lines[number].plan
        if stands and board.cost_of(number, stands) <= board.cost_of(number, plan):
            board.put(number, None)
            if not board.keeps(number):
                board.put(number, plan)
