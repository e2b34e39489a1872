"""How good a levelled season is after some time: `uv run python -m tests.bench.levelling [--long]`.

Seasons with a peak (`full.crowded`) of 40 to 10,000 lines, stopped after 5, 30 and 120 seconds of processor time.
Two rivals: every line in order of its pickup, first come first served; and the greedy season that levelling begins
with. Without `--long` only 40 and 400 lines, and 5 seconds; numbers of lines may be named instead.

Costs are compared as one number only here, by a yardstick for this table: a line left over is worth 60 days of
lateness, a customer told anew half a day, a line moved a tenth, a night a hundredth.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from production.planning.level import Cost, Effort, Progress, Told, level
from production.planning.level.board import Board
from production.planning.terms import Season
from tests.bench import full
from tests.bench.table import say, table

AFTER = (5, 30, 120)  # seconds of processor time, so that others on the machine do not matter
LINES = (40, 400, 2_000, 10_000)
ENDLESS = Effort(rounds=10**7, exact=4.0)
# By lines, the best of earlier runs of two minutes, with other chance or another search.
BEST_SEEN = {
    40: Cost(400, 2, 5, 23, 318),
    400: Cost(0, 0, 0, 154, 1415),
    2_000: Cost(0, 0, 0, 549, 4199),
    10_000: Cost(0, 0, 0, 2777, 19012),
}
NOTHING = Cost()


def weighed(cost: Cost) -> float:
    """In days of lateness of a line of usual weight."""
    return 0.6 * cost.left_over + cost.late / 100 + cost.told_anew / 2 + cost.moved / 10 + cost.nights / 100


@dataclass
class Run:
    """One levelling, watched: the best after each of these seconds, and when the first season stood.

    `named` are the seconds it took from the stop to the answer, in which the moves are named.
    """

    after: Sequence[int]
    begun: float = 0.0
    first: float | None = None
    greedy: Cost | None = None
    rounds: int = 0
    bound: Cost = NOTHING
    proved: bool = False
    stopped: float = 0.0
    named: float = 0.0
    at: dict[int, Cost] = field(default_factory=dict)

    def level(self, season: Season, lines: Sequence[Told], seed: int = 1) -> Run:
        self.begun = time.process_time()
        found = level(season, lines, ENDLESS, self.watch, seed)
        self.named = time.process_time() - self.stopped
        self.bound, self.proved = found.bound, found.proved
        for seconds in self.after:
            self.at.setdefault(seconds, found.cost)
        return self

    def watch(self, progress: Progress) -> bool:
        spent = time.process_time() - self.begun
        self.stopped = time.process_time()
        if progress.done == 1 and self.first is None:
            self.first, self.greedy = spent, progress.best
        self.rounds = progress.done
        for seconds in self.after:
            if spent >= seconds:
                self.at.setdefault(seconds, progress.best)
        return spent < self.after[-1]


def first_come(season: Season, lines: Sequence[Told]) -> Cost:
    """Every line in order of its pickup, on the first day that has room: the naive way."""
    board = Board(season, lines)
    for number in sorted(range(len(lines)), key=lambda number: lines[number].wish.pickup):
        board.place(number)
    return board.cost


def rows(lines: Sequence[int], after: Sequence[int]) -> Iterator[list[object]]:
    for count in lines:
        season, told = full.crowded(count)
        begun = time.process_time()
        naive = first_come(season, told)
        naive_took = time.process_time() - begun
        run = Run(after).level(season, told)
        best = min([naive, BEST_SEEN.get(count, naive), *run.at.values()])
        yield [
            f"{count:,}",
            _said(naive, best, naive_took),
            _said(run.greedy, best, run.first) if run.greedy else f"not within {after[-1]} s",
            *(f"{_over(run.at[seconds], best)}" for seconds in after),
            _cost(best),
            _cost(run.bound) + (", proved" if run.proved else ""),
            f"{run.rounds:,}",
            f"{run.named:.1f} s",
        ]


def _cost(cost: Cost) -> str:
    return f"{cost.left_over / 100:g} / {cost.late / 100:g} / {cost.told_anew} / {cost.moved} / {cost.nights}"


def _over(cost: Cost, best: Cost) -> str:
    return f"{weighed(cost) / weighed(best):.2f}" if weighed(best) else _cost(cost)


def _said(cost: Cost, best: Cost, took: float | None) -> str:
    return f"{_over(cost, best)} in {took or 0:.1f} s"


def main() -> None:
    long = "--long" in sys.argv
    lines, after = (LINES, AFTER) if long else (LINES[:2], AFTER[:1])
    chosen = [int(word) for word in sys.argv if word.isdigit()]
    say("Levelling, processor time. Costs: lines left over / days late / told anew / moved / nights, weighted;")
    say("and how many times the best known of any run (yardstick in tests/bench/levelling.py).\n")
    heads = [f"After {seconds} s" for seconds in after]
    head = [
        "Lines",
        "First come first served",
        "Greedy",
        *heads,
        "Best known",
        "Bound",
        "Rounds",
        "Moves named in",
    ]
    table(head, rows(chosen or lines, after))


if __name__ == "__main__":
    main()
