"""Lines that are not moved, as constraints of an exact question: those that have room, and those left over.

Whoever has room where it stands must fit beside all others with room. Whoever moves must moreover fit beside those
that are left over, since they go on standing; where these alone ask for too much, nobody may move to.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from production.planning.exact.limits import SCALE, Limits, Literal, scaled
from production.planning.ledger import Spots
from production.planning.level.board import Board
from production.planning.load import EASE, Bools, Floats


@dataclass(frozen=True, slots=True)
class Standing:
    """A line where it stands: what it takes there; whether it is there still, and whether it has room there."""

    spots: Spots
    here: Literal
    stands: Literal


@dataclass(frozen=True, slots=True)
class _Held:
    """What a line holds of one resource on the days from first until it leaves, in millionths."""

    line: Standing
    first: int
    leaves: int
    amount: int


@dataclass(frozen=True, slots=True)
class _Resource:
    """A place or a set of skills by day: what all leave free, what those with room leave, who moved there."""

    key: tuple[str, int]
    free: Floats
    sound: Floats
    moved: Bools


def limit(limits: Limits, board: Board, lines: Sequence[Standing]) -> None:
    """Let these lines of a board, on which they stand nowhere, be where they stand unless they are placed."""
    for resource, held in _by_resource(board, lines).items():
        there = _resource(board, resource)
        borders = sorted({day for each in held for day in (each.first, each.leaves)} | _changes(there, held))
        for first, leaves in pairwise(borders):
            together = [each for each in held if each.first <= first and leaves <= each.leaves]
            if together:
                _Stretch(limits, there, first, leaves).limit(together)


def _by_resource(board: Board, lines: Sequence[Standing]) -> Mapping[tuple[str, int], list[_Held]]:
    found: dict[tuple[str, int], list[_Held]] = {}
    for line in lines:
        for row, first, leaves, load in line.spots.stays:
            held = _Held(line, first, min(leaves, board.load.size), round(load * SCALE))
            if held.first < held.leaves:
                found.setdefault(("place", row), []).append(held)
        for index, day, hours in line.spots.work:
            found.setdefault(("hands", index), []).append(_Held(line, day, day + 1, round(hours * SCALE)))
    return found


def _resource(board: Board, key: tuple[str, int]) -> _Resource:
    kind, row = key
    load, sound, moved = board.load, board.sound, board.moved
    if kind == "place":
        capacity = load.capacity[row]
        return _Resource(key, capacity - load.used[row], capacity - sound.used[row], moved.used[row] > EASE)
    hours = load.hours[row]
    return _Resource(key, hours - load.asked[row], hours - sound.asked[row], moved.asked[row] > EASE)


def _changes(there: _Resource, held: Sequence[_Held]) -> set[int]:
    """The days, within those that are held, on which anything of the resource changes."""
    first, leaves = min(each.first for each in held), max(each.leaves for each in held)
    span = slice(first, leaves)
    steps = np.diff(there.free[span]) != 0
    steps |= np.diff(there.sound[span]) != 0
    steps |= np.diff(there.moved[span]) != 0
    return {int(at) + first + 1 for at in np.flatnonzero(steps)}


class _Stretch:
    """Days on which nothing changes of one resource but what these lines do."""

    def __init__(self, limits: Limits, there: _Resource, first: int, leaves: int) -> None:
        self.limits, self.model, self.key = limits, limits.model, there.key
        self.first, self.leaves = first, leaves
        self.free, self.sound = scaled(there.free[first]), scaled(there.sound[first])
        self.others_moved_there = bool(there.moved[first])

    def limit(self, held: Sequence[_Held]) -> None:
        most = sum(each.amount for each in held)
        if most > self.sound:
            self.model.add(sum(each.line.stands * each.amount for each in held) <= self.sound)
        if most <= self.free or self.others_moved_there:
            for each in held:
                self._take(each.amount, each.line.here)
        else:
            self._closed_to_those_who_move(held)

    def _closed_to_those_who_move(self, held: Sequence[_Held]) -> None:
        """Either all that stand there leave room for those who move there, or nobody moves there."""
        closed = self.model.new_bool_var("")
        for each in held:
            counts = self.model.new_bool_var("")
            self.model.add_bool_or(each.line.here.negated(), closed, counts)
            self._take(each.amount, counts)
        if self.free:
            self._take(self.free, closed)

    def _take(self, amount: int, present: Literal) -> None:
        days = self.model.new_optional_fixed_size_interval_var(self.first, self.leaves - self.first, present, "")
        self.limits.take(self.key, days, amount)
