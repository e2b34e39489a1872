"""Where a load is more than there is: places by runs of nights, people by runs of days, with who causes it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date

import numpy as np

from .hands import Ask, SkillSet, key_of, name_of, names_of, part_of
from .load import EASE, Bools, Floats, Load
from .terms import Cause, Conflict, HandsClaim, RoomClaim


def conflicts(load: Load, owner: str | None = None) -> tuple[Conflict, ...]:
    """Every place and set of skills asked for more than there is, as runs of nights or days, in order of date.

    With `owner`: only the nights and days on which that owner is among the causes.
    """
    over = load.used > load.capacity + EASE
    excess = load.asked - load.hours
    if owner is not None:  # few nights are left to look at, however full the season is
        stays, works = _touched_by(load, owner)
        over, excess = over & stays, np.where(works, excess, 0.0)
    found = [*_room_conflicts(load, over, owner), *_hands_conflicts(load, excess, owner)]
    return tuple(sorted(found, key=lambda each: (each.first, each.resource, each.key)))


def _touched_by(load: Load, owner: str) -> tuple[Bools, Bools]:
    """By place the nights on which an owner stands there, by set of skills the days on which it asks for hands."""
    own = load.without_limits()
    for claimed in load.claimed:
        own.add(*claimed.of(owner))
    return own.used > EASE, own.asked > EASE


def _room_conflicts(load: Load, over: Bools, owner: str | None) -> Iterable[Conflict]:
    for row in map(int, np.flatnonzero(over.any(axis=1))):
        place = load.season.places[row]
        nights = [int(night) for night in np.flatnonzero(over[row])]
        claims = [claim for each in load.claimed for claim in each.stays_in(row, nights)]
        amounts = _by_owner(_within(claim, load, nights[0], nights[-1]) for claim in claims)
        labels = {claim.owner: claim.label for claim in claims}
        unit = "positions" if place.measure == "positions" else "m²"
        days = _touched(nights, amounts, owner)
        for run in _runs(days, np.zeros(load.size, bool)):
            peak = max(run, key=lambda i: (load.used[row, i] - load.capacity[row, i], -i))
            yield Conflict(
                resource="place",
                key=place.key,
                name=place.name,
                unit=unit,
                first=load.days[run[0]],
                last=load.days[run[-1]],
                peak=float(load.used[row, peak]),
                there=float(load.capacity[row, peak]),
                causes=_causes(amounts, labels, run),
            )


def _hands_conflicts(load: Load, excess: Floats, owner: str | None) -> Iterable[Conflict]:
    over = np.flatnonzero((excess > EASE).any(axis=0))
    if not over.size:
        return
    claims = [claim for each in load.claimed for claim in each.work_on(int(over[0]), int(over[-1]))]
    labels = {claim.owner: claim.label for claim in claims}
    amounts = [_asked_by_owner(load, claims, each) for each in load.sets]
    for index, days in _overasked_days(load, excess, amounts, owner).items():
        for run in _runs(days, ~load.open):
            peak = max(run, key=lambda i: (load.asked[index, i] - load.hours[index, i], -i))
            told = _told(load, claims, load.sets[index], load.days[run[0]], load.days[run[-1]])
            yield Conflict(
                resource="hands",
                key=key_of(told),
                name=name_of(told),
                unit="hours",
                first=load.days[run[0]],
                last=load.days[run[-1]],
                peak=float(load.asked[index, peak]),
                there=float(load.hours[index, peak]),
                causes=_causes(amounts[index], labels, run),
                part=part_of(told),
            )


def _asked_by_owner(load: Load, claims: Sequence[HandsClaim], skills: SkillSet) -> dict[str, dict[int, float]]:
    return _by_owner(
        (claim.owner, load.index(claim.day), 1, hours)
        for claim in claims
        for skill, hours in claim.hours
        if load.counted((skill, claim.part)) in skills.asks
    )


def _overasked_days(
    load: Load, excess: Floats, amounts: list[dict[str, dict[int, float]]], owner: str | None
) -> dict[int, list[int]]:
    """Sets of skills with their overasked days, leaving out what smaller sets within them explain already."""
    over: dict[int, set[int]] = {
        index: set(_touched([int(day) for day in np.flatnonzero(excess[index] > EASE)], amounts[index], owner))
        for index in range(len(load.sets))
    }
    found: dict[int, list[int]] = defaultdict(list)
    for day in sorted(set().union(*over.values())):
        shown: list[int] = []
        for index in range(len(load.sets)):
            if day in over[index] and excess[index, day] > _explained(load, excess[:, day], index, shown) + EASE:
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


def _told(load: Load, claims: Sequence[HandsClaim], skills: SkillSet, first: date, last: date) -> list[Ask]:
    """What of a set of asks is wanted on these days, as one tells it."""
    wanted = {
        load.counted((skill, claim.part))
        for claim in claims
        if first <= claim.day <= last
        for skill, hours in claim.hours
        if hours
    }
    return names_of(skills.asks, wanted)


def _within(claim: RoomClaim, load: Load, first: int, last: int) -> tuple[str, int, int, float]:
    """Owner, first night, nights and load of a claim, as far as it holds nights from first to last."""
    begins = load.index(claim.first)
    ends = min(begins + claim.nights, last + 1)
    return claim.owner, max(begins, first), ends - max(begins, first), claim.load


def _by_owner(taken: Iterable[tuple[str, int, int, float]]) -> dict[str, dict[int, float]]:
    """What each owner takes, by night."""
    amounts: dict[str, dict[int, float]] = defaultdict(lambda: defaultdict(float))
    for owner, first, nights, amount in taken:
        for night in range(first, first + nights):
            amounts[owner][night] += amount
    return amounts


def _touched(days: list[int], amounts: dict[str, dict[int, float]], owner: str | None) -> list[int]:
    return days if owner is None else [day for day in days if amounts.get(owner, {}).get(day, 0.0) > EASE]


def _runs(days: list[int], bridged: Bools) -> list[list[int]]:
    """Consecutive days together; days between them that are all `bridged` do not part them."""
    runs: list[list[int]] = []
    for day in days:
        if runs and bridged[runs[-1][-1] + 1 : day].all():
            runs[-1].append(day)
        else:
            runs.append([day])
    return runs


def _causes(amounts: dict[str, dict[int, float]], labels: dict[str, str], run: list[int]) -> tuple[Cause, ...]:
    most = {owner: max(nights.get(night, 0.0) for night in run) for owner, nights in amounts.items()}
    causes = (Cause(owner, labels[owner], amount) for owner, amount in most.items() if amount > EASE)
    return tuple(sorted(causes, key=lambda cause: (-cause.amount, cause.label, cause.owner)))
