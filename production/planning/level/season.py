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
from production.planning.level.cost import Cost, Told
from production.planning.level.crowd import crowded_cost
from production.planning.level.exactly import level_exactly
from production.planning.level.moves import Move, moves_between
from production.planning.terms import LinePlan, Season

MOST_EXACT = 12  # lines levelled in one exact question
SLACK = 0.02  # of the lateness of the best season: how much worse one may be and still be gone on with
TOLD_EVERY = 100  # lines placed, before there is a first season
WORST = 0.2  # of the rounds begin from a line that is left over, or if none is, late
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
        crowd = crowded_cost(Board(self.board.season, self.board.lines))
        self.bound = max(self.bound, crowd)
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
            self.board.place(number, hurried=True)
            if not self._still_going(self.bound):
                break
        for number in homeless:
            if self.board.plans[number] is None:
                self.board.leave(number)
        self._make_sound()
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
        may_cost = any(plan is None for plan in before)  # with one more that has room, others may be later
        done = all(self._put_back(number, was, may_cost) for number in self._again(off))
        now, sound = self.board.cost, done and not any(self.board.crowds(number) for number in off)
        if sound and now < self.best_cost:
            self._remember()
        if not sound or (now > was and not self._near_the_best(now)):
            self._back(off, before)

    def _put_back(self, number: int, was: Cost, may_cost: bool) -> bool:
        """Where it stood, often; else the best place. False where that makes the season too bad to go on with."""
        board = self.board
        if self.chance.random() < 0.8 and board.keeps(number):
            return True
        bearable = None if may_cost else max(was.late, self._bearable) - board.cost.late
        if not board.place(number, bearable, hurried=True):
            board.leave(number)
        return may_cost or board.plans[number] is not None

    def _back(self, off: Sequence[int], before: Sequence[LinePlan | None]) -> None:
        for number, plan in zip(off, before, strict=True):
            if plan is None:
                self.board.leave(number)
            else:
                self.board.put(number, plan)

    def _near_the_best(self, now: Cost) -> bool:
        """A season a little worse than the best is gone on with too, since ways to better ones lead through it."""
        return now.left_over <= self.best_cost.left_over and now.late <= self._bearable

    @property
    def _bearable(self) -> int:
        return int(self.best_cost.late * (1 + SLACK))

    def _chosen(self) -> list[int]:
        """A line that costs something, or any, and lines whose days lie near its days."""
        seed = self._seed()
        wanted = self.chance.randint(FEWEST_OFF, MOST_OFF) - 1
        others = self._neighbours(seed, 3 * wanted)
        return [seed, *self.chance.sample(others, min(wanted, len(others)))]

    def _seed(self) -> int:
        """Often one of those that cost most, left over or late; else one that costs anything, or any."""
        at = self.chance.random()
        dear = self.board.dear
        worst = next((aim for aim in dear if aim.any()), dear[0])
        among = np.flatnonzero(worst if at < WORST else dear.any(axis=0))
        any_line = at >= 0.9 or not among.size
        return self.chance.randrange(len(self.board.lines)) if any_line else int(self.chance.choice(among))

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
        self._back(numbers, found.plans)
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

    # --- the answer ---

    def _keep_what_the_referee_lets_pass(self) -> None:
        """Nothing is shown that it faults: such a line stays as it stands, or is left over."""
        board = self.board
        for number, plan in enumerate(self.best):
            moved = plan if plan is not board.lines[number].plan else None
            if moved and check.faults(board.season, [moved.as_if_asked]):
                self.proved = False
                board.put(number, None)
                if not board.keeps(number):
                    board.leave(number)
        self._make_sound()

    def _make_sound(self) -> None:
        """What moved to where room lacks because of a line left over is placed elsewhere, or left over too."""
        board = self.board
        while crowded := [number for number in self._moved() if board.is_crowded(number)]:
            self.proved = False
            for number in crowded:
                if board.is_crowded(number):
                    board.put(number, None)
                    if not (board.keeps(number) or board.place(number)):
                        board.leave(number)

    def _moved(self) -> list[int]:
        pairs = enumerate(zip(self.board.lines, self.board.plans, strict=True))
        return [number for number, (line, plan) in pairs if plan and plan is not line.plan]

    def _move_back(self) -> None:
        """What need not have moved, seeing how the season came out, stays where it stands."""
        board = self.board
        for number in self._moved():
            plan, stands = board.plans[number], board.lines[number].plan
            if stands and board.cost_of(number, stands) <= board.cost_of(number, plan):
                board.put(number, None)
                if not board.keeps(number):
                    board.put(number, plan)

    def levelled(self, before: Cost) -> Levelled:
        board = self.board
        board.restore(self.best)
        self._keep_what_the_referee_lets_pass()
        self._move_back()
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
