"""The levelling itself: keep what can stay, place the rest, then ruin and recreate, small parts exactly.

Good seasons are found by taking some lines off the board and putting them back in another order; that carries any
number of lines. A few lines that get into each other's way are levelled exactly, which sees what no order of
placing shows, and of a small season proves that nothing better is possible.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from random import Random

import numpy as np

from production.planning import check
from production.planning.level.board import Board
from production.planning.level.bound import least_possible
from production.planning.level.cost import Cost, Told, total
from production.planning.level.exactly import level_exactly
from production.planning.level.moves import Move, moves_between
from production.planning.terms import LinePlan, Season

MOST_EXACT = 12  # lines levelled in one exact question
SLACK = 0.02  # of the lateness of the best season: how much worse one may be and still be gone on with
TOLD_EVERY = 100  # lines placed, before there is a first season
FEWEST_OFF, MOST_OFF = 2, 8  # lines taken off the board in one round


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
    """A walk over boards, the best one remembered."""

    def __init__(self, board: Board, chance: Random, effort: Effort, watch: Watch) -> None:
        self.board, self.chance, self.effort, self.watch = board, chance, effort, watch
        self.proved = False
        self.stopped = False
        self.bound = Cost()
        self.best: list[LinePlan | None] = []
        self.best_cost = board.cost
        self._tries = 0
        self._noise = np.random.default_rng(chance.getrandbits(32))

    def run(self) -> None:
        self.bound = least_possible(self.board, self._still_going)
        self._begin()
        exact = self.effort.exact
        if self.stopped:
            return
        if len(self.board.lines) <= MOST_EXACT:
            self._level_all(exact)
        for done in range(self.effort.rounds):
            if self.best_cost == self.bound:
                self.proved = True
            if self.proved or self.stopped:
                return
            self._round()
            self._tell(done + 1)
        self.board.restore(self.best)
        self._mend(exact)
        self.proved = self.proved or self.best_cost == self.bound

    # --- a first season ---

    def _begin(self) -> None:
        """Those that nothing can move first, then the heavy and the large; each stays where it is if it can."""
        lines = self.board.lines
        order = sorted(range(len(lines)), key=lambda i: (lines[i].may_be_late, -lines[i].weight, lines[i].last, i))
        homeless = [number for number in order if not self.board.keeps(number)]
        self.best_cost = self.board.cost
        for number in homeless:
            self.board.place(number)
            if not self._still_going(self.bound):
                break
        self._remember()

    def _still_going(self, bound: Cost) -> bool:
        """Told now and then, while there is no season yet to be better than."""
        self._tries += 1
        if self._tries % TOLD_EVERY == 0:
            self.bound, self.best_cost = bound, self.board.cost
            self._tell(0)
        return not self.stopped

    def _remember(self) -> None:
        self.best, self.best_cost = self.board.snapshot(), self.board.cost

    # --- ruin and recreate ---

    def _round(self) -> None:
        """Some lines off and on again; kept if no worse, or a little worse in what matters least."""
        off, was = self._chosen(), self.board.cost
        before = [self.board.plans[number] for number in off]
        for number in off:
            self.board.put(number, None)
        for number in self._again(off):
            if not (self.chance.random() < 0.8 and self.board.keeps(number)):
                self.board.place(number)
        now = self.board.cost
        if now < self.best_cost:
            self._remember()
        if now > was and not self._near_the_best(now):
            for number, plan in zip(off, before, strict=True):
                self.board.put(number, plan)

    def _near_the_best(self, now: Cost) -> bool:
        """A season a little worse than the best is gone on with too, since ways to better ones lead through it."""
        best = self.best_cost
        return now.left_over <= best.left_over and now.late <= best.late * (1 + SLACK)

    def _chosen(self) -> list[int]:
        """A line that costs something, or any, and lines whose days lie near its days."""
        dear = np.flatnonzero(self.board.dear)
        any_line = self.chance.random() >= 0.9 or not dear.size
        seed = self.chance.randrange(len(self.board.lines)) if any_line else int(self.chance.choice(dear))
        wanted = self.chance.randint(FEWEST_OFF, MOST_OFF) - 1
        others = self._neighbours(seed, 3 * wanted)
        return [seed, *self.chance.sample(others, min(wanted, len(others)))]

    def _neighbours(self, seed: int, most: int) -> list[int]:
        """Lines with pickups near that of one, the nearest first; chance decides among equals."""
        days = self.board.days
        away = np.abs(days - days[seed]) + self._noise.random(len(days))
        away[seed] = np.inf
        near = np.argpartition(away, most)[:most] if most < len(days) - 1 else np.arange(len(days))
        ranked = near[np.argsort(away[near])]
        return [int(number) for number in ranked if number != seed]

    def _again(self, off: Sequence[int]) -> list[int]:
        """The order in which they are put back: the one that was in trouble first, mostly."""
        others = list(off[1:])
        self.chance.shuffle(others)
        return [off[0], *others] if self.chance.random() < 0.7 else [*others, off[0]]

    # --- exactly ---

    def _level_all(self, effort: float) -> None:
        """A small season, as a whole."""
        numbers = range(len(self.board.lines))
        self._exactly(list(numbers), effort)
        self._tell(0)

    def _mend(self, effort: float) -> None:
        """What still costs most, with those around it, as long as the effort lasts."""
        dear = [n for n, cost in enumerate(self.board.costs) if any(cost[:3])]
        for number in dear[:MOST_EXACT]:
            if self.stopped or self.best_cost == self.bound:
                return
            self._exactly([number, *self._neighbours(number, MOST_EXACT // 2)], effort / MOST_EXACT)
            self._tell(self.effort.rounds)

    def _exactly(self, numbers: list[int], effort: float) -> None:
        before = self.board.snapshot()
        for number in numbers:
            self.board.put(number, None)
        found = level_exactly(self.board, numbers, effort)
        if found is None:
            self.board.restore(before)
            return
        for number, plan in zip(numbers, found.plans, strict=True):
            self.board.put(number, plan)
        if self.board.cost < self.best_cost:
            self._remember()
        self.board.restore(self.best)
        if len(numbers) == len(self.board.lines):
            self.bound = max(self.bound, found.bound)
            self.proved = found.proved

    # --- what is told ---

    def _tell(self, done: int) -> None:
        going_on = self.watch(Progress(done, self.effort.rounds, self.best_cost, self.bound))
        self.stopped = self.stopped or not going_on

    def _keep_what_the_referee_lets_pass(self) -> None:
        """Nothing is shown that it faults: such a line stays as it stands, or is left over."""
        board = self.board
        board.restore(self.best)
        for number, plan in enumerate(self.best):
            moved = plan if plan is not board.lines[number].plan else None
            if moved and check.faults(board.season, [moved.as_if_asked]):
                self.proved = False
                board.put(number, None)
                board.keeps(number)
        self._remember()

    def _beside_those_left_over(self) -> set[int]:
        """Lines left over go on standing where they stand, so nothing may be moved to where they are.

        What was is placed elsewhere, or stays as it stands too. The lines that stand where room lacks.
        """
        board = self.board
        left = {number for number, plan in enumerate(self.best) if plan is None and board.lines[number].plan}
        for number in left:
            board.put(number, board.lines[number].plan)
        crowded = self._moved_to_where_room_lacks() if left else None
        while crowded is not None:
            self.proved = False
            board.put(crowded, None)
            if not (board.keeps(crowded) or board.place(crowded)):
                board.put(crowded, board.lines[crowded].plan)
                left.add(crowded)
            crowded = self._moved_to_where_room_lacks()
        self._move_back(left)
        return left

    def _move_back(self, left: set[int]) -> None:
        """What moved for the sake of a line that is left over after all stays where it stands."""
        for number, plan in enumerate(self.board.snapshot()):
            stands = self.board.lines[number].plan
            if number in left or not plan or not stands or plan is stands:
                continue
            self.board.put(number, None)
            if self.board.cost_of(number, stands) > self.board.cost_of(number, plan) or not self.board.keeps(
                number
            ):
                self.board.put(number, plan)

    def _moved_to_where_room_lacks(self) -> int | None:
        board = self.board
        moved = (n for n, plan in enumerate(board.plans) if plan and plan is not board.lines[n].plan)
        return next((number for number in moved if board.is_crowded(number)), None)

    def levelled(self, before: Cost) -> Levelled:
        self._keep_what_the_referee_lets_pass()
        board, left = self.board, self._beside_those_left_over()
        keys = [line.wish.key for line in board.lines]
        stand = [None if number in left else plan for number, plan in enumerate(board.plans)]
        plans = {key: plan for key, plan in zip(keys, stand, strict=True) if plan}
        cost = total(board.cost_of(number, plan) for number, plan in enumerate(stand))
        return Levelled(
            plans=plans,
            left_over=tuple(key for key in keys if key not in plans),
            moves=moves_between(board.season, board.lines, plans),
            before=before,
            cost=cost,
            bound=cost if self.proved else self.bound,
            proved=self.proved,
        )
