"""What a levelling changes, as moves in the words of the trade: each alone, or with the ones that it needs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from production.planning import wording
from production.planning.claims import place_claims
from production.planning.ledger import Spots
from production.planning.level.board import Board
from production.planning.level.cost import Told
from production.planning.terms import LinePlan, Season

MANY = 12  # moves that hang together, beyond which it is not looked which of them could do without which


@dataclass(frozen=True, slots=True)
class Move:
    """One line planned otherwise than it stands.

    `tells` is the pickup that the customer must be told, where it changes. `needs` are the keys of other moves
    without which this one would ask too much of a place or of people; with those it is acceptable.
    """

    key: str
    label: str
    words: str
    plan: LinePlan
    tells: date | None
    needs: tuple[str, ...] = ()


def moves_between(season: Season, lines: Sequence[Told], plans: Mapping[str, LinePlan]) -> tuple[Move, ...]:
    """The moves that lead from the lines as they stand to these plans, in order of pickup."""
    moved = {
        line.wish.key: line for line in lines if line.wish.key in plans and plans[line.wish.key] is not line.plan
    }
    needs = _AsItStands(season, lines, plans, list(moved)).needs()
    moves = (
        Move(
            key,
            line.wish.label,
            words(line, plans[key], season.today),
            plans[key],
            plans[key].pickup if line.told not in (None, plans[key].pickup) else None,
            tuple(sorted(needs[key] - {key})),
        )
        for key, line in moved.items()
    )
    return tuple(sorted(moves, key=lambda move: (move.plan.pickup, move.label)))


class _AsItStands:
    """The season with every line as it stands, on which moves are tried one by one."""

    def __init__(
        self, season: Season, lines: Sequence[Told], plans: Mapping[str, LinePlan], moved: Sequence[str]
    ) -> None:
        self.board = Board(season, lines)
        self.plans, self.moved = plans, moved
        self.number = {line.wish.key: number for number, line in enumerate(lines)}
        for number, line in enumerate(lines):
            self.board.put(number, line.plan)
        self._wanted = {key: self._spots(key, plans[key]) for key in moved}
        stand = [(at, self._spots(key, plan)) for at, key in enumerate(moved) if (plan := self._stands(key))]
        stays = [(at, row, first, leaves) for at, spots in stand for row, first, leaves, _load in spots.stays]
        self._stays = np.array(stays, np.int64).reshape(-1, 4).T
        work = [(at, index, day) for at, spots in stand for index, day, _hours in spots.work]
        self._work = np.array(work, np.int64).reshape(-1, 3).T

    def _stands(self, key: str) -> LinePlan | None:
        return self.board.lines[self.number[key]].plan

    def _spots(self, key: str, plan: LinePlan) -> Spots:
        return self.board.load.spots(*place_claims(plan, key))

    def needs(self) -> dict[str, set[str]]:
        """By move, itself and those that must come along: whose lines stand, now, where it wants to be.

        Each is tried alone first. Those that draw in many others are taken to hang together, all of them.
        """
        found = {key: self._drawn_in(key, MANY) for key in self.moved}
        many: set[str] = set()
        for key in self.moved:
            if not found[key] and key not in many:
                many |= self._drawn_in(key, len(self.moved), stay=True)
        return {key: few or many for key, few in found.items()}

    def _drawn_in(self, key: str, most: int, stay: bool = False) -> set[str]:
        """A move and those that it draws in, itself and by them; nothing if they are more than so many."""
        together, last = [key], list[str]()
        self._move(key)
        while crowded := [self._wanted[each] for each in together if self.board.load.over(self._wanted[each])]:
            last = [other for other in self._standing_in(crowded) if self._stands_still(other)]
            if not last or len(together) + len(last) > most:
                break  # without others to draw in: a conflict that was there before
            for other in last:
                self._move(other)
            together += last
        if not stay:
            for each in together:
                self.board.put(self.number[each], self._stands(each))
        return set() if crowded and last else set(together)

    def _stands_still(self, key: str) -> bool:
        return self.board.held[self.number[key]] is not self.plans[key]

    def _move(self, key: str) -> None:
        self.board.put(self.number[key], self.plans[key])

    def _standing_in(self, crowded: Sequence[Spots]) -> list[str]:
        """Moved lines that, as they stand, take room or hands where these spots find too little of them."""
        load = self.board.load
        nights = np.zeros((len(load.row), load.size + 1), np.int64)
        days = np.zeros((len(load.sets), load.size), bool)
        for spots in crowded:
            for place, enters, left, _load in spots.stays:
                nights[place, enters + 1 : left + 1] = load.overfull(place, enters, left)
            for skills, on, _hours in spots.work:
                days[skills, on] = load.overasked(skills, on)
        before = nights.cumsum(axis=1)  # overfull nights before each night
        stay, row, first, leaves = self._stays
        work, index, day = self._work
        found = {*stay[before[row, leaves] > before[row, first]].tolist(), *work[days[index, day]].tolist()}
        return [self.moved[at] for at in sorted(found)]


# --- words --------------------------------------------------------------------------------------------------


def words(line: Told, plan: LinePlan, today: date) -> str:
    """What changes, in a sentence: 'Graft on Tue 17 March instead of Thu 19 March; pickup stays Mon 20 April.'"""
    was = line.plan
    said = [_pickup(was, plan, today)]
    if was is None:
        return f"Room for it: {_begin(plan, today)}; {said[0]}."
    if _days(was) != _days(plan):
        said.insert(0, f"{_begin(plan, today)} instead of {wording.day_words(_days(was)[0], today)}")
    elif len(said) == 1 and was.pickup == plan.pickup:
        said.insert(0, "other nights or places between")
    text = "; ".join(said)
    return f"{text[0].upper()}{text[1:]}."


def _begin(plan: LinePlan, today: date) -> str:
    days = [wording.day_words(day, today) for day in _days(plan)]
    verb = {"grafted": "graft", "plain": "sow", "room": "room from"}[plan.wish.kind]
    return f"{verb}{' ' if plan.wish.kind == 'room' else ' on '}{' and '.join(days)}"


def _days(plan: LinePlan) -> list[date]:
    """The days on which a line's plants are grafted, or sown, or its room begins."""
    if plan.wish.kind == "grafted":
        return sorted({part.graft_day for part in plan.parts if part.graft_day})
    if plan.wish.kind == "plain":
        return sorted({sowing.day for part in plan.parts for sowing in part.sowings})
    return sorted({stay.first for stay in plan.stays})


def _pickup(was: LinePlan | None, plan: LinePlan, today: date) -> str:
    day = wording.day_words(plan.pickup, today)
    if was is None:
        return f"pickup {day}"
    if was.pickup == plan.pickup:
        return f"pickup stays {day}"
    return f"pickup {day} instead of {wording.day_words(was.pickup, today)}"
