"""The levelling itself: keep what can stay, place the rest, then ruin and recreate, small parts exactly.

Good seasons are found by taking some lines off the board and putting them back in another order; that carries any
number of lines. A few lines that get into each other's way are levelled exactly, which sees what no order of
placing shows, and of a small season proves that nothing better is possible.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from random import Random

from production.planning.level.board import Board
from production.planning.level.bound import least_possible
from production.planning.level.cost import Cost, Told
from production.planning.level.crowd import crowded_cost
from production.planning.level.exactly import NOTHING, Levelling, level_exactly
from production.planning.level.moves import Move, moves_between
from production.planning.level.opening import Look
from production.planning.level.sound import keep_what_the_referee_lets_pass, make_sound, move_back
from production.planning.level.walk import Walk
from production.planning.terms import LinePlan, Season

MOST_EXACT = 12  # lines levelled in one exact question
MOST_WHOLE = 16  # lines of a season that is levelled exactly as a whole
FIRST_ROUNDS = 50  # of a small season, before that: its question is smaller the better the season that is known
BOUND_AFTER = 2  # rounds for each line of a large season, before it is reckoned what the crowd must cost
TOLD_EVERY = 100  # lines placed, before there is a first season


@dataclass(frozen=True, slots=True)
class Effort:
    """How long to try, in measures that repeat: rounds of ruin and recreate, CP-SAT's own for exact questions."""

    rounds: int = 200
    exact: float = 4.0


@dataclass(frozen=True, slots=True)
class Progress:
    """Where a levelling stands: rounds done of those to do, the best cost so far, the bound on any cost."""

    done: int
    of: int
    best: Cost
    bound: Cost


Watch = Callable[[Progress], bool]  # false: stop here, with the best so far


@dataclass(frozen=True, slots=True)
class Levelled:
    """The best season found. `plans` are by key of the wish; `left_over` stand as they stood, where room lacks."""

    plans: dict[str, LinePlan]
    left_over: tuple[str, ...]
    moves: tuple[Move, ...]
    before: Cost
    cost: Cost
    bound: Cost
    proved: bool


def level(
    season: Season,
    lines: Sequence[Told],
    effort: Effort = Effort(),
    watch: Watch = lambda _progress: True,
    seed: int = 1,
) -> Levelled:
    """Level these lines beside all that the season says is taken, which stays where it is.

    The same input and effort give the same answer. `watch` sees the progress and stops the search by returning
    false; what is best then is returned.
    """
    board = Board(season, lines)
    before = board.as_it_is()
    search = Search(board, Random(seed), effort, watch)
    search.run()
    return search.levelled(before)


class Search:
    """The course of a levelling, from the season as it stands to the best that was found."""

    def __init__(self, board: Board, chance: Random, effort: Effort, watch: Watch) -> None:
        self.board, self.effort, self.watch = board, effort, watch
        self.walk = Walk(board, chance)
        self.proved = False
        self.stopped = False
        self.bound = Cost()
        self._tries = 0

    def run(self) -> None:
        self.bound = least_possible(self.board, self._still_going)
        self._begin()
        if self.stopped:
            return
        small = len(self.board.lines) <= MOST_WHOLE
        alone = 0 if small else BOUND_AFTER * len(self.board.lines)
        for done in range(self.effort.rounds):
            if done == alone:
                self._bound_by_the_crowd()
            if small and done == FIRST_ROUNDS:
                self._level_all()
            if self._over():
                return
            self.walk.step()
            self._tell(done + 1)
        if small and self.effort.rounds <= FIRST_ROUNDS and not self._over():
            self._level_all()
        if self.effort.rounds <= alone and not self._over():
            self._bound_by_the_crowd()
        self.board.restore(self.walk.best)
        self._mend()
        self._over()

    def _bound_by_the_crowd(self) -> None:
        """Which takes its time, so that a large season is first made better."""
        self.bound = max(self.bound, crowded_cost(Board(self.board.season, self.board.lines)))

    def _over(self) -> bool:
        self.proved = self.proved or self.walk.best_cost == self.bound
        return self.proved or self.stopped

    # --- a first season ---

    def _begin(self) -> None:
        """Those that nothing can move first, then the heavy and the large; each stays where it is if it can."""
        lines = self.board.lines
        order = sorted(range(len(lines)), key=lambda i: (lines[i].may_be_late, -lines[i].weight, lines[i].last, i))
        homeless = [number for number in order if not self.board.keeps(number)]
        self.walk.best_cost = self.board.cost
        for number in homeless:
            self.board.place(number, Look(hurried=True, undivided=True, early=True))
            if not self._still_going(self.bound):
                break
        for number in homeless:
            if self.board.held[number] is None:
                self.board.leave(number)
        make_sound(self.board)
        self.walk.remember()

    def _still_going(self, bound: Cost) -> bool:
        """Told now and then, while there is no season yet to be better than."""
        self._tries += 1
        if self._tries % TOLD_EVERY == 0:
            self.bound, self.walk.best_cost = bound, self.board.cost
            self._tell(0)
        return not self.stopped

    # --- exactly ---

    def _level_all(self) -> None:
        """A small season, as a whole."""
        self.board.restore(self.walk.best)
        found = self._exactly(range(len(self.board.lines)), self.effort.exact, self.bound)
        if found:
            self.bound = max(self.bound, found.bound)
            self.proved = found.proved
        self._tell(0)

    def _mend(self) -> None:
        """What still costs most, with those around it, as long as the effort lasts."""
        dear = [n for n, cost in enumerate(self.board.costs) if any(cost[:3])]
        for number in dear[:MOST_EXACT]:
            if self._over():
                return
            few = [number, *self.walk.neighbours(number, MOST_EXACT // 2)]
            self._exactly(few, self.effort.exact / MOST_EXACT)
            self._tell(self.effort.rounds)

    def _exactly(self, numbers: Sequence[int], effort: float, least: Cost = NOTHING) -> Levelling | None:
        """These lines of the best season, which is on the board, levelled anew beside all others."""
        known = [self.board.plan(number) for number in numbers]
        for number in numbers:
            self.board.put(number, None)
        found = level_exactly(self.board, numbers, effort, known=known, least=least)
        self.walk.back(numbers, found.plans if found else known)
        if found and self.board.cost < self.walk.best_cost:
            self.walk.remember()
        self.board.restore(self.walk.best)
        return found

    # --- what is told ---

    def _tell(self, done: int) -> None:
        going_on = self.watch(Progress(done, self.effort.rounds, self.walk.best_cost, self.bound))
        self.stopped = self.stopped or not going_on

    # --- the answer ---

    def levelled(self, before: Cost) -> Levelled:
        board = self.board
        board.restore(self.walk.best)
        passed = keep_what_the_referee_lets_pass(board)
        sound = make_sound(board)
        self.proved = self.proved and passed and sound
        move_back(board)
        keys = [line.wish.key for line in board.lines]
        plans = {key: plan for key, plan in zip(keys, board.plans, strict=True) if plan}
        return Levelled(
            plans=plans,
            left_over=tuple(key for key in keys if key not in plans),
            moves=moves_between(board.season, board.lines, plans),
            before=before,
            cost=board.cost,
            bound=board.cost if self.proved else self.bound,
            proved=self.proved,
        )
