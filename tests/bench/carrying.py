"""What a load costs, and moving one batch on it: part of `uv run python -m tests.bench`.

Guides from a prototype: a load of 10,000 and 100,000 batches 2.2 and 17 ms from arrays that are there, 25 times
quicker than plain loops; placing greedily 0.2 ms a batch; one batch moved off and on 0.05 ms.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from functools import partial
from itertools import chain, cycle, islice
from random import Random

from production.planning.claims import place_claims
from production.planning.level.board import Board
from production.planning.load import Load
from production.planning.terms import Season
from tests.bench import full
from tests.bench.table import best_of, memory_of, said, say, spent, table, tails

BATCHES = (1_000, 10_000, 100_000)
MOVED = 300


def plain_loops(season: Season) -> dict[tuple[str, date], float]:
    """The naive way: every night of every stay, every hour of every piece of work."""
    taken: dict[tuple[str, date], float] = defaultdict(float)
    for claim in season.room:
        for night in range(claim.nights):
            taken[claim.place, claim.first + timedelta(days=night)] += claim.load
    for work in season.hands:
        for skill, hours in work.hours:
            taken[skill, work.day] += hours
    return taken


def load_rows(batches: Sequence[int]) -> Iterator[list[object]]:
    for count in batches:
        season = full.full(count)
        load = Load(season)
        from_columns = best_of(5, partial(_sums, load))
        from_claims = best_of(3, partial(Load, season))
        loops = best_of(1, partial(plain_loops, season))
        yield [
            f"{count:,}",
            f"{len(season.room) + len(season.hands):,}",
            said(from_columns),
            said(from_claims),
            said(loops),
            f"{loops / from_columns:.0f}, {loops / from_claims:.1f}",
            f"{memory_of(partial(Load, season)):.1f}",
        ]


def _sums(load: Load) -> None:
    """What is left to do once the claims have been read into columns."""
    for claimed in load.claimed:
        claimed.stays.by_night(len(load.row), load.size)
        claimed.work.by_ask(len(load.asks), load.size)


def moving_rows(lines: Sequence[int]) -> Iterator[list[object]]:
    for count in lines:
        season, told = full.crowded(count)
        board = Board(season, told)
        order = Random(3).sample(range(count), count)
        placed = [spent(partial(board.place, number)) for number in order]
        off_and_on = spent(partial(_off_and_on, board)) / MOVED  # while they are drafts, as in a search
        board.plans  # noqa: B018 - writes the drafts out
        yield [
            f"{count:,}",
            tails(placed),
            said(off_and_on),
            said(spent(partial(_the_whole_load, board))),
            f"{memory_of(partial(Board, season, told)):.1f}",
        ]


def _off_and_on(board: Board) -> None:
    standing = [(number, plan) for number, plan in enumerate(board.snapshot()) if plan]
    for number, plan in islice(cycle(standing), MOVED):
        board.put(number, None)
        board.put(number, plan)


def _the_whole_load(board: Board) -> None:
    """The naive way to take one line off: count all others anew."""
    claims = [place_claims(plan, str(number)) for number, plan in enumerate(board.plans) if plan]
    room, hands = (
        chain.from_iterable(stays for stays, _ in claims),
        chain.from_iterable(work for _, work in claims),
    )
    Load(board.season).add(room, hands)


def main(batches: Sequence[int] = BATCHES, lines: Sequence[int] = (40, 400, 2_000)) -> None:
    say("A load, processor ms, the best of some runs; to read the claims, one object each, is most of it\n")
    head = ["Batches", "Claims", "From columns", "From claims", "Plain loops", "Times quicker", "MB"]
    table(head, load_rows(batches))
    say("Placing greedily in random order, and one line off and on, processor ms\n")
    table(
        ["Lines", "Placed, median/95", "Off and on", "The whole load again", "MB of a board"], moving_rows(lines)
    )
