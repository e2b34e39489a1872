"""Ruin and recreate: a walk over boards, some lines off and on again at each step, the best board remembered."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from random import Random

import numpy as np

from production.planning.level.board import Board, Held
from production.planning.level.cost import Cost
from production.planning.level.opening import Look
from production.planning.load import Bools

SLACK = 0.02  # of the lateness of the best season: how much worse one may be and still be gone on with
SLACK_LEFT = 0.15  # the same as long as a line is left over, which weighs more than any lateness
WORST = 0.2  # of the rounds begin from a line that is late, where none is left over
LEFT, LATE = 0.4, 0.4  # from one left over, and from one that is late, as long as any is left over
KEEP = 0.8  # of the lines put back stay where they stood, if they can
LOOK_FOR_OTHERS = 0.3  # of the other lines left over that are off the board too
DIVIDED = 0.1  # of the lines are divided into more parts than they need, if they find no room in fewer
BACK = 0.3  # of the others that do not, go back to where they stood before the round, if they can
EARLY = 0.9  # start as early as they can, as long as any is left over or late
SKIPPED = 0.5  # of the pickups that are late
FEWEST_OFF, MOST_OFF = 2, 8  # lines taken off the board in one round


class Walk:
    """Where the search stands, and the best season that it came by."""

    def __init__(self, board: Board, chance: Random) -> None:
        self.board, self.chance = board, chance
        self.best: list[Held] = []
        self.best_cost = board.cost
        self._noise = np.random.default_rng(chance.getrandbits(32))

    def remember(self) -> None:
        self.best, self.best_cost = self.board.snapshot(), self.board.cost

    def back(self, off: Sequence[int], plans: Sequence[Held]) -> None:
        """These lines with these plans, or left over."""
        for number, plan in zip(off, plans, strict=True):
            if plan is None:
                self.board.leave(number)
            else:
                self.board.put(number, plan)

    def step(self) -> None:
        """Some lines off and on again; kept if no worse, or a little worse in what matters least."""
        off, was = self._chosen(), self.board.cost
        before = [self.board.held[number] for number in off]
        for number in off:
            self.board.put(number, None)
        done = self._put_all_back(off, was, dict(zip(off, before, strict=True)))
        now, sound = self.board.cost, done and not any(self.board.crowds(number) for number in off)
        if sound and now < self.best_cost:
            self.remember()
        if not sound or (now > was and not self._near_the_best(now)):
            self.back(off, before)

    def _put_all_back(self, off: Sequence[int], was: Cost, before: Mapping[int, Held]) -> bool:
        """Where each stood, often; else the best place. False once the season is too bad to go on with.

        Most of the time is spent looking for room, so the step ends if the first of them comes off no better, and
        looks for others that were left over now and then. With room for one of those, others may be later.
        """
        board, left = self.board, {number for number, plan in before.items() if plan is None}
        may_be_left, late_too = sum(board.lines[number].weight for number in left), bool(left)
        first_was = board.cost_of(off[0], before[off[0]])
        for number in self._again(off):
            if self._stays(number, None if number == off[0] else before[number]):
                continue
            looks = number not in left or number == off[0] or self.chance.random() < LOOK_FOR_OTHERS
            if not (
                looks and board.place(number, self._look(None if late_too else max(was.late, self._bearable)))
            ):
                board.leave(number)
                may_be_left -= board.lines[number].weight
            no_better = number == off[0] and first_was[:2] > (0, 0) and board.costs[number][:2] >= first_was[:2]
            if may_be_left < 0 or no_better:
                return False
        return True

    def _stays(self, number: int, before: Held) -> bool:
        """Back to where the line stands in the plan, or to where it stood before this step."""
        if self.chance.random() < KEEP and self.board.keeps(number):
            return True
        return before is not None and self.chance.random() < BACK and self.board.returns(number, before)

    def _look(self, most: int | None) -> Look:
        """How to look for a place of the next, with so much lateness in all that can be borne."""
        crowded = self.best_cost[:2] > (0, 0)
        return Look(
            most_late=None if most is None else most - self.board.cost.late,
            skip=self._skip,
            hurried=True,
            undivided=self.chance.random() >= DIVIDED,
            early=crowded and self.chance.random() < EARLY,
        )

    def _skip(self) -> bool:
        return self.chance.random() < SKIPPED

    def _near_the_best(self, now: Cost) -> bool:
        """A season a little worse than the best is gone on with too, since ways to better ones lead through it.

        As long as any line is late, or left over, it does not matter how many are moved, or how far. Once none is,
        only what is no worse is gone on with: large seasons drifted away from their best and did not come back.
        """
        crowded = self.best_cost[:2] > (0, 0)
        return crowded and now.left_over <= self.best_cost.left_over and now.late <= self._bearable

    @property
    def _bearable(self) -> int:
        slack = SLACK_LEFT if self.best_cost.left_over else SLACK
        return int(self.best_cost.late * (1 + slack))

    def _chosen(self) -> list[int]:
        """A line that costs something, or any, and lines whose days lie near its days."""
        seed = self._seed()
        wanted = self.chance.randint(FEWEST_OFF, MOST_OFF) - 1
        others = self.neighbours(seed, 3 * wanted, self._wanted_day(seed))
        return [seed, *self.chance.sample(others, min(wanted, len(others)))]

    def _seed(self) -> int:
        """Often one of those that cost most, left over or late; else one that costs anything, or any."""
        at = self.chance.random()
        among = np.flatnonzero(self._wanted(at))
        any_line = at >= 0.9 or not among.size
        return self.chance.randrange(len(self.board.lines)) if any_line else int(self.chance.choice(among))

    def _wanted(self, at: float) -> Bools:
        """Which lines to begin from, as chance has it."""
        dear: Bools = self.board.dear
        left: Bools = dear[0]
        late: Bools = dear[1]
        if left.any() and at < LEFT + LATE:
            return left if at < LEFT or not late.any() else late
        if at < WORST:
            first = int(np.argmax(dear.any(axis=1)))  # of the aims, the weightiest that costs anything
            return np.array(dear[first])
        return np.array(dear.any(axis=0), bool)

    def _wanted_day(self, seed: int) -> int:
        """Where a line should be: of one that is late, the last day on which it would not be."""
        late = self.board.dear[1, seed]
        return self.board.lines[seed].last.toordinal() if late else int(self.board.days[seed])

    def neighbours(self, seed: int, most: int, day: int | None = None) -> list[int]:
        """Lines with pickups near that of one, or near a day, the nearest first; chance decides among equals."""
        days = self.board.days
        away = np.abs(days - (days[seed] if day is None else day)) + self._noise.random(len(days))
        away[seed] = np.inf
        near = np.argpartition(away, most)[:most] if most < len(days) - 1 else np.arange(len(days))
        ranked = near[np.argsort(away[near])]
        return [int(number) for number in ranked if number != seed]

    def _again(self, off: Sequence[int]) -> list[int]:
        """The order in which they are put back: the one that was in trouble first, mostly."""
        others = list(off[1:])
        self.chance.shuffle(others)
        return [off[0], *others] if self.chance.random() < 0.7 else [*others, off[0]]
