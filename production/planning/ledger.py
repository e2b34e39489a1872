"""Whose claims a load counts, as columns of numbers: added up all at once, and found again by place and night.

Days are indexes from the first day of the load. Making the columns reads every claim once, which is most of what a
load costs; the sums themselves are quick.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from itertools import chain, repeat
from operator import attrgetter, itemgetter
from typing import Any

import numpy as np
import numpy.typing as npt

from .hands import ANY_TIME, Ask
from .terms import HandsClaim, PartOfDay, RoomClaim

Floats = npt.NDArray[np.float64]
Indexes = npt.NDArray[np.int64]

NOTHING: Indexes = np.zeros(0, np.int64)
UNKNOWN = -1  # in place of the row of a place, or the number of an ask, that the load does not know


@dataclass(frozen=True, slots=True)
class RoomColumns:
    """Stays: row of the place, first night, day of leaving, and what they take of the place."""

    row: Indexes
    first: Indexes
    leaves: Indexes
    load: Floats

    def some(self, at: Indexes) -> RoomColumns:
        return RoomColumns(self.row[at], self.first[at], self.leaves[at], self.load[at])

    def by_night(self, rows: int, size: int, sign: int = 1) -> Floats:
        """By place × night, what these stays take. Nights before 0 or from `size` on are left out."""
        known = self.row >= 0
        base, load = self.row[known] * (size + 1), sign * self.load[known]
        steps = np.bincount(base + np.clip(self.first[known], 0, size), load, rows * (size + 1)).astype(np.float64)
        steps -= np.bincount(base + np.clip(self.leaves[known], 0, size), load, rows * (size + 1))
        taken: Floats = np.cumsum(steps.reshape(rows, size + 1), axis=1)[:, :-1]
        return taken


@dataclass(frozen=True, slots=True)
class HandsColumns:
    """Hours by ask: of which claim, on which day. Work for two skills has two rows."""

    claim: Indexes
    day: Indexes
    ask: Indexes
    hours: Floats

    def by_ask(self, asks: int, size: int, sign: int = 1) -> Floats:
        """By ask × day, the hours wanted. Days before 0 or from `size` on are left out."""
        within = (self.day >= 0) & (self.day < size) & (self.ask >= 0)
        at = self.ask[within] * size + self.day[within]
        return np.bincount(at, sign * self.hours[within], asks * size).reshape(asks, size).astype(np.float64)


@dataclass(frozen=True, slots=True)
class Spots:
    """A few claims as numbers, to be counted and taken off again many times.

    `stays` are (row of the place, first night, day of leaving, load), `work` (set of skills, day, hours).
    """

    stays: tuple[tuple[int, int, int, float], ...] = ()
    work: tuple[tuple[int, int, float], ...] = ()


@dataclass(frozen=True)
class Claimed:
    """Some claims, which no load changes; the columns are made when they are first asked for.

    `asks` numbers what claims may ask of hands: skills, where parts of the day count for nothing, or else pairs.
    """

    room: tuple[RoomClaim, ...]
    hands: tuple[HandsClaim, ...]
    first: date
    rows: Mapping[str, int]
    asks: Mapping[str, int] | Mapping[Ask, int] = field(default_factory=dict)
    in_parts: bool = False

    @cached_property
    def stays(self) -> RoomColumns:
        claims, size = self.room, len(self.room)
        first = np.fromiter(map(date.toordinal, map(attrgetter("first"), claims)), np.int64, size)
        first -= self.first.toordinal()
        nights = np.fromiter(map(attrgetter("nights"), claims), np.int64, size)
        row = np.fromiter(map(self.rows.get, map(attrgetter("place"), claims), repeat(UNKNOWN)), np.int64, size)
        return RoomColumns(row, first, first + nights, np.fromiter(map(attrgetter("load"), claims), float, size))

    @cached_property
    def work(self) -> HandsColumns:
        claims = self.hands
        pairs = list(chain.from_iterable(map(attrgetter("hours"), claims)))
        each = np.fromiter(map(len, map(attrgetter("hours"), claims)), np.int64, len(claims))
        days = np.fromiter(map(date.toordinal, map(attrgetter("day"), claims)), np.int64, len(claims))
        return HandsColumns(
            claim=np.repeat(np.arange(len(claims)), each),
            day=np.repeat(days - self.first.toordinal(), each),
            ask=np.fromiter(map(self.asks.get, self._asked(pairs), repeat(UNKNOWN)), np.int64, len(pairs)),
            hours=np.fromiter(map(itemgetter(1), pairs), float, len(pairs)),
        )

    def _asked(self, pairs: Iterable[tuple[str, float]]) -> Iterator[Any]:
        skills = map(itemgetter(0), pairs)
        return zip(skills, self._parts(), strict=True) if self.in_parts else skills

    def _parts(self) -> Iterator[PartOfDay]:
        return chain.from_iterable(repeat(claim.part, len(claim.hours)) for claim in self.hands)

    def of(self, owner: str) -> tuple[list[RoomClaim], list[HandsClaim]]:
        """What one owner claims here."""
        return self._owned[0].get(owner, []), self._owned[1].get(owner, [])

    @cached_property
    def _owned(self) -> tuple[dict[str, list[RoomClaim]], dict[str, list[HandsClaim]]]:
        room: dict[str, list[RoomClaim]] = {}
        hands: dict[str, list[HandsClaim]] = {}
        for stay in self.room:
            room.setdefault(stay.owner, []).append(stay)
        for work in self.hands:
            hands.setdefault(work.owner, []).append(work)
        return room, hands

    def stays_in(self, row: int, first: int, last: int) -> Indexes:
        """Which claims of a place hold any of the nights from first to last, in their order."""
        there = self._by_row.get(row, NOTHING)
        found: Indexes = there[(self.stays.first[there] <= last) & (self.stays.leaves[there] > first)]
        return found

    @cached_property
    def _by_row(self) -> dict[int, Indexes]:
        row = self.stays.row
        return {int(each): np.flatnonzero(row == each) for each in np.unique(row)}

    def work_on(self, first: int, last: int) -> Iterator[HandsClaim]:
        """The claims of hands on the days from first to last."""
        work = self.work
        found = np.unique(work.claim[(work.day >= first) & (work.day <= last)])
        return (self.hands[at] for at in found)


def asks_in(hands: Iterable[HandsClaim], in_parts: bool) -> set[Ask]:
    """What these claims ask of hands; where parts of the day count for nothing, all of it at any time."""
    if in_parts:
        return {(skill, claim.part) for claim in hands for skill, _hours in claim.hours}
    skills = set(map(itemgetter(0), chain.from_iterable(map(attrgetter("hours"), hands))))
    return {(skill, ANY_TIME) for skill in skills}
