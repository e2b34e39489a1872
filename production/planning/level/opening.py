"""Where a line finds room on a board as it is: the best of its first pickup that has any, as a draft.

What is preferred is what `options` prefers. Some pickups are counted back at once, and nothing is written out.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from production.planning.backward import Dates, last_collection_day
from production.planning.ledger import Spots
from production.planning.level.chains import Chains
from production.planning.level.draft import Draft, DraftPart
from production.planning.level.free import Free
from production.planning.level.needs import Kind
from production.planning.level.part import Part, part_from
from production.planning.load import Load
from production.planning.options import least_departure

AT_ONCE = 6  # pickups counted back together: mostly one of the first will do


@dataclass(frozen=True, slots=True)
class Look:
    """How to look for a place of a line.

    `most_late` bounds its weighted lateness, and late pickups for which `skip` says so are not tried. `hurried`:
    the first number of parts that does; `undivided`: no more parts than hands and chamber need in any case.
    `early`: of the ways to keep a pickup the one that starts first, to leave room for what comes later, not that
    which departs least from the usual nights.
    """

    most_late: int | None = None
    skip: Callable[[], bool] = lambda: False
    hurried: bool = False
    undivided: bool = False
    early: bool = False

    def tries(self, late: int) -> bool:
        """Whether to try a pickup that is so late."""
        return not late or ((self.most_late is None or late <= self.most_late) and not self.skip())


THOROUGHLY = Look()


class Opening:
    """The search for one line of a kind, on a load as it is now; `pickups` are indexes of its days."""

    def __init__(self, load: Load, kind: Kind, pickups: Sequence[int], look: Look) -> None:
        self.load, self.kind, self.look = load, kind, look
        self.pickups = [(day, last_collection_day(load, kind.wish, day)) for day in pickups]
        self.free = Free(load, max(last for _day, last in self.pickups) + kind.beyond)
        self._chains: dict[tuple[int, int], Chains] = {}

    def first(self) -> Draft | None:
        """The best draft for the first of the pickups that has one."""
        each = (self._best(at) for at in range(len(self.pickups)))
        return next((draft for draft in each if draft), None)

    def _best(self, at: int) -> Draft | None:
        best: Draft | None = None
        for parts in self.kind.numbers[:1] if self.look.undivided else self.kind.numbers:
            if best and least_departure(parts) >= best.nights:
                break
            found = self._in_parts(at, self.kind.sizes(parts))
            if found and (best is None or found.nights < best.nights):
                best = found
            if found and self.look.hurried:
                break
        return best

    def _in_parts(self, at: int, sizes: Sequence[int]) -> Draft | None:
        """The pickup kept by parts of these sizes, each started on a day of its own."""
        found: list[Part] = []
        for plants in sizes:
            part = self._room(at) if self.kind.is_room else self._part(plants, at, [each[0] for each in found])
            if part is None:
                break
            found.append(part)
            self.free.take(part[1])
        for _part, spots in found:
            self.free.take(spots, -1)
        return self._drafted(at, found) if len(found) == len(sizes) else None

    def _part(self, plants: int, at: int, before: Sequence[DraftPart]) -> Part | None:
        """The best part that starts on a day of its own; with a side held cold only if there is no other."""
        if before:
            chains, at = Chains(self.free, self.kind.needs(plants), self.pickups[at : at + 1]), 0
        else:
            chains, at = self._alone(plants, at // AT_ONCE), at % AT_ONCE
        taken = {part.dates.start for part in before}
        starts = [start for start in chains.starts(at, self.look.early) if start not in taken]
        for held in chains.needs.holds:
            for start in starts:
                sides = chains.sides(start, held)
                part = part_from(self.free, chains, at, start, sides) if sides else None
                if part:
                    return part
        return None

    def _alone(self, plants: int, some: int) -> Chains:
        """Some of the pickups counted back for a first part."""
        key = (plants, some)
        if key not in self._chains:
            pickups = self.pickups[some * AT_ONCE : (some + 1) * AT_ONCE]
            self._chains[key] = Chains(self.free, self.kind.needs(plants), pickups)
        return self._chains[key]

    def _room(self, at: int) -> Part | None:
        """Room only: so many nights up to the last day of collection, and no work."""
        leg, (pickup, last) = self.kind.needs(0).legs[0], self.pickups[at]
        first = pickup - leg.usual
        spread = self.free.spread(leg, leg.rows, first, last) if first >= 0 else None
        if spread is None:
            return None
        stays = tuple((row, first, last, count * leg.units[row]) for row, count in spread)
        return DraftPart(0, Dates((), (first, last), pickup, last, 0), {leg.key: spread}), Spots(stays)

    def _drafted(self, at: int, found: Sequence[Part]) -> Draft:
        stays = tuple(stay for _part, spots in found for stay in spots.stays)
        work = tuple(work for _part, spots in found for work in spots.work)
        parts = tuple(part for part, _spots in found)
        pickup = self.load.days[self.pickups[at][0]]
        return Draft(pickup, parts, Spots(stays, work), sum(part.dates.departure for part in parts))
