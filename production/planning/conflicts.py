"""Where a load is more than there is: places by runs of nights, people by runs of days, with who causes it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from .hands import Ask, key_of, name_of, names_of, part_of
from .ledger import Indexes, RoomColumns
from .load import EASE, Bools, Floats, Load
from .terms import Cause, Conflict, HandsClaim, RoomClaim


@dataclass(frozen=True, slots=True)
class _Crossing:
    """Nights or days in a row on which a limit is crossed; the most wanted on one of them, and what is there then.

    `row` is that of the place, or of the set of skills, on the load.
    """

    resource: Literal["place", "hands"]
    row: int
    run: list[int]
    peak: float
    there: float


def conflicts(load: Load, of: Load | None = None) -> tuple[Conflict, ...]:
    """Every place and set of skills asked for more than there is, as runs of nights or days, in order of date.

    `of` is a load of some claims alone: then only of the nights and days on which those ask for anything.
    """
    told = {"place": _told_of_place, "hands": _told_of_hands}
    found = (told[each.resource](load, each) for each in _crossings(load, of))
    return tuple(sorted(found, key=lambda each: (each.first, each.resource, each.key)))


def _crossings(load: Load, of: Load | None) -> Iterator[_Crossing]:
    over = load.used > load.capacity + EASE
    excess = load.asked - load.hours
    if of is not None:  # few nights are left to look at, however full the season is
        over, excess = over & (of.used > EASE), np.where(of.asked > EASE, excess, 0.0)
    for row in map(int, np.flatnonzero(over.any(axis=1))):
        for run in _runs([int(night) for night in np.flatnonzero(over[row])], np.zeros(load.size, bool)):
            yield _crossing("place", row, run, load.used[row], load.capacity[row])
    for row, days in _overasked_days(load, excess).items():
        for run in _runs(days, ~load.open):
            yield _crossing("hands", row, run, load.asked[row], load.hours[row])


def _overasked_days(load: Load, excess: Floats) -> dict[int, list[int]]:
    """Sets of skills with their overasked days, leaving out what smaller sets within them explain already."""
    over = excess > EASE
    found: dict[int, list[int]] = defaultdict(list)
    for day in map(int, np.flatnonzero(over.any(axis=0))):
        shown: list[int] = []
        for index in map(int, np.flatnonzero(over[:, day])):
            if excess[index, day] > _explained(load, excess[:, day], index, shown) + EASE:
                shown.append(index)
                found[index].append(day)
    return found


def _explained(load: Load, excess: Floats, index: int, shown: Sequence[int]) -> float:
    """The hours missing in smaller sets within this one that share no skill, the largest of them first."""
    left, explained = set(load.sets[index].asks), 0.0
    for smaller in reversed(shown):
        asks = set(load.sets[smaller].asks)
        if asks <= left:
            explained += float(excess[smaller])
            left -= asks
    return explained


def _runs(days: list[int], bridged: Bools) -> list[list[int]]:
    """Consecutive days together; days between them that are all `bridged` do not part them."""
    runs: list[list[int]] = []
    for day in days:
        if runs and bridged[runs[-1][-1] + 1 : day].all():
            runs[-1].append(day)
        else:
            runs.append([day])
    return runs


def _crossing(
    resource: Literal["place", "hands"], row: int, run: list[int], asked: Floats, there: Floats
) -> _Crossing:
    most = run[int((asked[run] - there[run]).argmax())]
    return _Crossing(resource, row, run, float(asked[most]), float(there[most]))


# --- told, with who causes it ----------------------------------------------------------------------------------


def _told_of_place(load: Load, crossing: _Crossing) -> Conflict:
    place, run = load.season.places[crossing.row], crossing.run
    claims, held = list[RoomClaim](), list[RoomColumns]()
    for claimed in load.claimed:
        found = claimed.stays_in(crossing.row, run[0], run[-1])
        claims += (claimed.room[at] for at in found)
        held.append(claimed.stays.some(found))
    first, leaves, amount = (
        np.concatenate(each) for each in zip(*((h.first, h.leaves, h.load) for h in held), strict=True)
    )
    return Conflict(
        resource="place",
        key=place.key,
        name=place.name,
        unit="positions" if place.measure == "positions" else "m²",
        first=load.days[run[0]],
        last=load.days[run[-1]],
        peak=crossing.peak,
        there=crossing.there,
        causes=_causes(claims, first, leaves, amount, run),
    )


def _told_of_hands(load: Load, crossing: _Crossing) -> Conflict:
    run, skills = crossing.run, load.sets[crossing.row]
    claims = [claim for each in load.claimed for claim in each.work_on(run[0], run[-1])]
    told = _told(load, claims, skills.asks)
    asking = [
        (claim, load.index(claim.day), hours)
        for claim in claims
        for skill, hours in claim.hours
        if load.counted((skill, claim.part)) in skills.asks
    ]
    who, days, hours = zip(*asking, strict=True)
    day = np.array(days)
    return Conflict(
        resource="hands",
        key=key_of(told),
        name=name_of(told),
        unit="hours",
        first=load.days[run[0]],
        last=load.days[run[-1]],
        peak=crossing.peak,
        there=crossing.there,
        causes=_causes(who, day, day + 1, np.array(hours), run),
        part=part_of(told),
    )


def _told(load: Load, claims: Iterable[HandsClaim], asks: Iterable[Ask]) -> list[Ask]:
    """What of a set of asks these claims want, as one tells it."""
    wanted = {load.counted((skill, claim.part)) for claim in claims for skill, hours in claim.hours if hours}
    return names_of(asks, wanted)


def _causes(
    claims: Sequence[RoomClaim | HandsClaim], first: Indexes, leaves: Indexes, amount: Floats, run: Sequence[int]
) -> tuple[Cause, ...]:
    """Who takes how much at most on any of these days, of claims of so much a day from first until leaving."""
    labels = {claim.owner: claim.label for claim in claims}
    number = {owner: at for at, owner in enumerate(labels)}
    whose = np.fromiter((number[claim.owner] for claim in claims), np.int64, len(claims))
    most: Floats = np.zeros(len(labels))
    for day in run:
        here = (first <= day) & (leaves > day)
        np.maximum(most, np.bincount(whose[here], amount[here], len(labels)), out=most)
    taken = zip(labels.items(), most.tolist(), strict=True)
    causes = (Cause(owner, label, amount) for (owner, label), amount in taken if amount > EASE)
    return tuple(sorted(causes, key=lambda cause: (-cause.amount, cause.label, cause.owner)))
