"""Others moved inside their latitude so that a wish finds room: one or two of them, or decided exactly."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain, combinations, islice
from typing import Protocol

from .claims import place_claims
from .level import Board, Told, level_exactly
from .level.cost import pickups_for
from .load import Load
from .options import Ways, pickups_of
from .terms import Answer, Impossible, LinePlan, Season

MOST_OTHERS = 8  # lines that are thought of as moving, those that ask most of what is short
MOST_IN_PAIRS = 5  # of them, those that are tried two at a time

Group = tuple[str, ...]


class Others(Protocol):
    """The promised lines that may move, known by the keys of their wishes, which own their claims."""

    def movable(self, owners: Sequence[str]) -> Sequence[str]:
        """Of these owners those that may move, in their order: as many of them as are thought of."""

    def told(self, keys: Sequence[str]) -> Sequence[Told]:
        """How these lines stand, in their order."""


@dataclass(frozen=True)
class Lines:
    """Others that are all known beforehand."""

    lines: Sequence[Told] = field(default=())

    def movable(self, owners: Sequence[str]) -> Sequence[str]:
        known = {line.wish.key for line in self.lines if line.plan}
        return [owner for owner in owners if owner in known]

    def told(self, keys: Sequence[str]) -> Sequence[Told]:
        known = {line.wish.key: line for line in self.lines}
        return [known[key] for key in keys]


NOBODY = Lines()


@dataclass(frozen=True, slots=True)
class Room:
    """Room that was made: the plan of the wish, and the lines that may have moved with their plans then."""

    plan: LinePlan
    lines: Sequence[Told]
    plans: Mapping[str, LinePlan]


def room_made(season: Season, load: Load, answer: Answer, others: Others, effort: float) -> Room | None:
    """Would a refused wish fit if others moved? Asked of the lines that take most of what is short.

    `load` is that of the season, whose claims are owned by the keys of the wishes. Without an `effort` (CP-SAT's
    measure) only one line or two are moved: mostly that is enough.
    """
    near = others.movable(asking_most(answer))[:MOST_OTHERS]
    if not near:
        return None
    return _a_few_moved(load, answer, others, near) or (
        _all_moved(season, answer, others.told(near), effort) if effort else None
    )


def asking_most(answer: Answer) -> list[str]:
    """Who else asks for what is short, the one who takes most of it first."""
    asking = {cause.owner: cause.amount for conflict in answer.conflicts for cause in conflict.causes}
    asking.pop(answer.wish.key, None)
    return sorted(asking, key=lambda owner: (-asking[owner], owner))


def _a_few_moved(load: Load, answer: Answer, others: Others, near: Sequence[str]) -> Room | None:
    """One other line, or two, out of the way and in again after the new one.

    How lines stand is read only of those without which the wish would fit: the first of them, then all others.
    """
    tried = _out_of_the_way(load, answer, near)
    first = list(islice(tried, 1))
    return _put_back_one_of(answer, others, first) or _put_back_one_of(answer, others, list(tried))


def _put_back_one_of(answer: Answer, others: Others, tried: Sequence[tuple[Group, LinePlan, Load]]) -> Room | None:
    keys = dict.fromkeys(chain.from_iterable(group for group, _plan, _free in tried))
    stand = {line.wish.key: line for line in _on_time(others.told(list(keys)))} if keys else {}
    for group, plan, free in tried:
        lines = [stand[key] for key in group]
        free.take(*place_claims(plan, answer.wish.key))
        plans = _put_back(free, lines)
        if plans:
            return Room(plan, lines, plans)
    return None


def _out_of_the_way(load: Load, answer: Answer, near: Sequence[str]) -> Iterator[tuple[Group, LinePlan, Load]]:
    """Lines without which the wish fits: its plan then, and the load without them."""
    ways, pickups = Ways(load, answer.wish), pickups_of(load.season, answer.wish)
    if ways.on(_without(load, near)).first(pickups) is None:
        return
    for group in chain(combinations(near, 1), combinations(near[:MOST_IN_PAIRS], 2)):
        free = _without(load, group)
        plan = ways.on(free).first(pickups)
        if plan:
            yield group, plan, free


def _without(load: Load, owners: Sequence[str]) -> Load:
    free = load.copy()
    for owner in owners:
        for claimed in load.claimed:
            free.add(*claimed.of(owner), sign=-1)
    return free


def _put_back(free: Load, lines: Sequence[Told]) -> dict[str, LinePlan] | None:
    """Plans for all of them one after the other, if each finds room."""
    plans: dict[str, LinePlan] = {}
    for line in lines:
        try:
            plan = Ways(free, line.wish).first(pickups_for(free.season, line))
        except Impossible:
            plan = None
        if plan is None:
            return None
        free.take(*place_claims(plan, line.wish.key))
        plans[line.wish.key] = plan
    return plans


def _on_time(lines: Sequence[Told]) -> list[Told]:
    return [replace(line, may_be_late=0) for line in lines]


def _all_moved(season: Season, answer: Answer, near: Sequence[Told], effort: float) -> Room | None:
    """Decided exactly, as far as the effort goes."""
    lines = _on_time(near)
    board = Board(season.without(frozenset(line.wish.key for line in lines)), [Told(answer.wish), *lines])
    found = level_exactly(board, range(len(board.lines)), effort, all_placed=True)
    if found is None:
        return None
    plan, *others = found.plans
    assert plan
    return Room(plan, lines, {line.wish.key: each for line, each in zip(lines, others, strict=True) if each})
