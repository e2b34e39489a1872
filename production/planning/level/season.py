"""The levelling itself: keep what can stay, place the rest, then ruin and recreate, small parts exactly.

Good seasons are found by taking some lines off the board and putting them back in another order; that carries any
number of lines. A few lines that get into each other's way are levelled exactly, which sees what no order of
placing shows, and of a small season proves that nothing better is possible.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from random import Random

from production.planning.level.board import Board
from production.planning.level.bound import least_possible
from production.planning.level.cost import Cost, Told
from production.planning.level.exactly import level_exactly
from production.planning.level.moves import Move, moves_between
from production.planning.terms import LinePlan, Season

MOST_EXACT = 12  # lines levelled in one exact question
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
    search = Search(board, Random(seed), effort, least_possible(board), watch)
    search.run()
    return search.levelled(before)


class Search:
    """A walk over boards, the best one remembered."""

    def __init__(self, board: Board, chance: Random, effort: Effort, bound: Cost, watch: Watch) -> None:
        self.board, self.chance, self.effort, self.bound, self.watch = board, chance, effort, bound, watch
        self.proved = False
        self.stopped = False
        self.best: list[LinePlan | None] = []
        self.best_cost = board.cost

    def run(self) -> None:
        self._begin()
        exact = self.effort.exact
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
        for number in homeless:
            self.board.place(number)
        self._remember()

    def _remember(self) -> None:
        self.best, self.best_cost = self.board.snapshot(), self.board.cost

    # --- ruin and recreate ---

    def _round(self) -> None:
        """Some lines off and on again; kept if no worse, or a little worse in what matters least."""
        before, was = self.board.snapshot(), self.board.cost
        off = self._chosen()
        for number in off:
            self.board.put(number, None)
        for number in self._again(off):
            if not (self.chance.random() < 0.8 and self.board.keeps(number)):
                self.board.place(number)
        now = self.board.cost
        if now < self.best_cost:
            self._remember()
        if now > was and not (now[:3] == was[:3] and self.chance.random() < 0.05):
            self.board.restore(before)

    def _chosen(self) -> list[int]:
        """A line that costs something, or any, and lines whose days lie near its days."""
        costs, lines = self.board.costs, self.board.lines
        dear = [number for number, cost in enumerate(costs) if any(cost[:4])]
        seed = (
            self.chance.choice(dear) if dear and self.chance.random() < 0.9 else self.chance.randrange(len(lines))
        )
        near = sorted(self._neighbours(seed))
        wanted = self.chance.randint(FEWEST_OFF, MOST_OFF) - 1
        others = [number for _distance, number in near[: 3 * wanted]]
        return [seed, *self.chance.sample(others, min(wanted, len(others)))]

    def _neighbours(self, seed: int) -> Iterator[tuple[float, int]]:
        day = self._day(seed)
        for number in range(len(self.board.lines)):
            if number != seed:
                yield abs(self._day(number) - day) + self.chance.random(), number

    def _day(self, number: int) -> int:
        plan = self.board.plans[number]
        return (plan.pickup if plan else self.board.lines[number].wish.pickup).toordinal()

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
            near = [other for _distance, other in sorted(self._neighbours(number))][: MOST_EXACT // 2]
            self._exactly([number, *near], effort / MOST_EXACT)
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

    def levelled(self, before: Cost) -> Levelled:
        self.board.restore(self.best)
        board = self.board
        keys = [line.wish.key for line in board.lines]
        plans = {key: plan for key, plan in zip(keys, self.best, strict=True) if plan}
        return Levelled(
            plans=plans,
            left_over=tuple(key for key in keys if key not in plans),
            moves=moves_between(board.season, board.lines, plans),
            before=before,
            cost=self.best_cost,
            bound=self.best_cost if self.proved else self.bound,
            proved=self.proved,
        )
