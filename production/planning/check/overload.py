"""Conflicts, reckoned again night by night and day by day with plain dictionaries."""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import date, timedelta
from itertools import chain, combinations, product

from production.planning.check.case import EASE
from production.planning.terms import Cause, Conflict, HandsClaim, LinePlan, PartOfDay, Person, RoomClaim, Season

Ask = tuple[str, PartOfDay]  # a skill in the morning or in the evening; with `day`, all that is asked of it
Asks = frozenset[Ask]
Amounts = dict[str, float]  # by owner
Nights = dict[str, set[date]]  # by place


def conflicts(
    season: Season, plans: Sequence[LinePlan] = (), only: frozenset[str] = frozenset()
) -> list[Conflict]:
    """Where the claims of the season and these plans together ask for more than there is, from today on.

    Runs of nights (of a place) and of days (of a set of skills; closed days between do not part them). `peak` and
    `there` are those of the night or day on which most is lacking; a cause's amount is its most in the run. With
    `only`, the keys of some of the plans, just the nights and days of these are judged in full: that is enough to
    see whether they take part in any conflict, and quick beside a large season.
    """
    full: Nights | None = None
    if only:
        judged = [plan for plan in plans if plan.wish.key in only]
        full = _looking_full(season, plans, judged)
        season = _beside(season, judged, full)
    labels = {claim.owner: claim.label for claim in season.room}
    labels |= {claim.owner: claim.label for claim in season.hands}
    labels |= {plan.wish.key: plan.wish.label for plan in plans}
    found = [*_of_places(season, plans, labels, full), *_of_hands(season, plans, labels)]
    return sorted(found, key=lambda each: (each.first, each.resource, each.key))


def _beside(season: Season, judged: Sequence[LinePlan], full: Nights) -> Season:
    """The season with no more of its claims than hold a full night, or a day on which these plans work."""
    days = {work.day for plan in judged for work in plan.works}
    room = (
        RoomClaim(claim.owner, claim.label, claim.place, night, 1, claim.load)
        for claim in season.room
        if claim.place in full
        for night in full[claim.place]
        if 0 <= (night - claim.first).days < claim.nights
    )
    return replace(season, room=tuple(room), hands=tuple(claim for claim in season.hands if claim.day in days))


def _looking_full(season: Season, plans: Sequence[LinePlan], judged: Sequence[LinePlan]) -> Nights:
    """The nights of those `judged` on which all that comes and goes adds up to more than there is.

    Summed up from night to night, which is quick and may be off by a rounding: hence half the ease. What is found
    is counted again, owner by owner.
    """
    nights: dict[str, set[date]] = defaultdict(set)
    for stay in (stay for plan in judged for stay in plan.stays):
        nights[stay.place] |= {stay.first + timedelta(days=n) for n in range(stay.nights)}
    changes: dict[str, dict[int, float]] = {place: defaultdict(float) for place in nights}
    for claim in (*season.room, *_claims_of(plans)):
        of_place = changes.get(claim.place)
        if of_place is not None:
            first = claim.first.toordinal()
            of_place[first] += claim.load
            of_place[first + max(claim.nights, 0)] -= claim.load
    found: dict[str, set[date]] = {}
    for place in (each for each in season.places if each.key in nights):
        taken, steps = 0.0, deque(sorted(changes[place.key].items()))
        for night in sorted(nights[place.key]):
            while steps and steps[0][0] <= night.toordinal():
                taken += steps.popleft()[1]
            if taken > place.capacity_on(night) + EASE / 2:
                found.setdefault(place.key, set()).add(night)
    return found


# --- places ------------------------------------------------------------------------------------------------


def _of_places(
    season: Season, plans: Sequence[LinePlan], labels: dict[str, str], full: Nights | None = None
) -> Iterator[Conflict]:
    """Of all places and nights; of those in `full` alone, where that is given."""
    taken: dict[str, dict[date, Amounts]] = defaultdict(lambda: defaultdict(lambda: defaultdict(float)))
    for claim in (*season.room, *_claims_of(plans)):
        for n in range(claim.nights):
            taken[claim.place][claim.first + timedelta(days=n)][claim.owner] += claim.load
    for place in season.places:
        nights = {night: who for night, who in taken[place.key].items() if night >= season.today}
        if full is not None:
            nights = {night: who for night, who in nights.items() if night in full.get(place.key, ())}
        lacking = _lacking(nights, place.capacity_on)
        for run in _runs(lacking, lambda day: False):
            unit = "positions" if place.measure == "positions" else "m²"
            yield _conflict("place", place.key, place.name, unit, run, nights, place.capacity_on, labels)


def _claims_of(plans: Sequence[LinePlan]) -> list[RoomClaim]:
    return [RoomClaim(p.wish.key, "", s.place, s.first, s.nights, s.load) for p in plans for s in p.stays]


# --- hands -------------------------------------------------------------------------------------------------


def _of_hands(season: Season, plans: Sequence[LinePlan], labels: dict[str, str]) -> Iterator[Conflict]:
    claims = [claim for claim in season.hands if claim.day >= season.today]
    claims += [
        HandsClaim(plan.wish.key, "", work.day, work.hours, work.care, work.part)
        for plan in plans
        for work in plan.works
        if work.day >= season.today
    ]
    by_day: dict[date, list[HandsClaim]] = defaultdict(list)
    for claim in claims:
        by_day[claim.day].append(claim)
    in_parts = _in_parts(season)
    lacking: dict[Asks, list[date]] = defaultdict(list)
    for day in sorted(by_day):
        for asks in _overasked(season, in_parts, by_day[day], day):
            lacking[asks].append(day)
    for asks, days in lacking.items():
        wanted = _wanted_by_day(claims, asks)

        def there(day: date, asks: Asks = asks) -> float:
            return hours_there(season, day, asks)

        parts = {part for _skill, part in asks}
        for run in _runs(days, lambda day: not season.calendar.is_open(day)):
            found = _conflict("hands", _key(asks), _name(asks), "hours", run, wanted, there, labels)
            yield replace(found, part=parts.copy().pop() if len(parts) == 1 else "day")


def _key(asks: Asks) -> str:
    return "+".join(skill if part == "day" else f"{skill}@{part}" for skill, part in sorted(asks))


def _name(asks: Asks) -> str:
    alike = len({part for _skill, part in asks}) == 1
    return ", ".join(skill if alike or part == "day" else f"{skill} ({part})" for skill, part in sorted(asks))


def _wanted_by_day(claims: Sequence[HandsClaim], asks: Asks) -> dict[date, Amounts]:
    wanted: dict[date, Amounts] = defaultdict(lambda: defaultdict(float))
    for claim in claims:
        for skill, hours in claim.hours:
            if (skill, "day") in asks or (skill, claim.part) in asks:
                wanted[claim.day][claim.owner] += hours
    return wanted


def _in_parts(season: Season) -> frozenset[str]:
    """The skills for which the part of the day counts: somebody who has them has hours that are said by part."""
    said = (p for p in season.people if any(hours is not None for hours in (*p.mornings, *p.evenings)))
    return frozenset(skill for person in said for skill in person.skills)


def _overasked(
    season: Season, in_parts: frozenset[str], claims: Sequence[HandsClaim], day: date
) -> Iterator[Asks]:
    """What is asked for more hours than the people for it have, beyond what its own subsets lack together."""
    wanted: dict[Ask, float] = defaultdict(float)
    for claim in claims:
        for skill, hours in claim.hours:
            wanted[skill, claim.part if skill in in_parts else "day"] += hours
    wanted = {ask: hours for ask, hours in wanted.items() if hours > 0}
    lacking = {chosen: _lacks(season, day, wanted, chosen) for chosen in _sets_of(frozenset(wanted))}
    if all(lacks <= EASE for lacks in lacking.values()):
        return
    missing: dict[Asks, float] = {frozenset(): 0.0}
    for chosen, lacks in lacking.items():
        explained = max(
            (missing[part] + missing[chosen - part] for part in missing if part and part < chosen), default=0.0
        )
        missing[chosen] = max(lacks, explained)
        if lacks > max(explained, 0.0) + EASE:
            yield chosen


def _lacks(season: Season, day: date, wanted: dict[Ask, float], asks: Asks) -> float:
    asked = sum(hours for (skill, part), hours in wanted.items() if {(skill, part), (skill, "day")} & asks)
    return asked - hours_there(season, day, asks)


def _sets_of(asks: Asks) -> list[Asks]:
    """Every set of these, smaller ones first. What is asked of a skill at any time comes with all asked of it."""
    of_skill: list[list[tuple[Ask, ...]]] = []
    for skill in sorted({skill for skill, _part in asks}):
        parts = sorted(ask for ask in asks if ask[0] == skill and ask[1] != "day")
        some = [chosen for size in range(len(parts) + 1) for chosen in combinations(parts, size)]
        of_skill.append([*some, ((skill, "day"),)] if (skill, "day") in asks else some)
    sets = [tuple(chain.from_iterable(chosen)) for chosen in product(*of_skill)]
    return [frozenset(chosen) for chosen in sorted(sets, key=lambda each: (len(each), each)) if chosen]


def hours_there(season: Season, day: date, asks: Asks) -> float:
    """Hours, on that day, that do for any of these."""
    return sum(
        _hours_of(season, person, day, frozenset(part for skill, part in asks if skill in person.skills))
        for person in season.people
    )


def _hours_of(season: Season, person: Person, day: date, parts: frozenset[str]) -> float:
    """The hours of a person that do for work in any of these parts of a day."""
    if not parts or any(day in span for span in person.away):
        return 0.0
    if not season.calendar.is_open(day):
        return person.care_hours
    weekday = day.weekday()
    hours, said = person.hours[weekday], {"morning": person.mornings[weekday], "evening": person.evenings[weekday]}
    if "day" in parts:
        return hours
    if all(said[part] is not None for part in parts):
        return sum(said[part] or 0.0 for part in parts)
    return hours - sum(said[part] or 0.0 for part in said if part not in parts)


# --- both --------------------------------------------------------------------------------------------------


def _lacking(by_day: dict[date, Amounts], there: Callable[[date], float]) -> list[date]:
    return sorted(day for day, who in by_day.items() if sum(who.values()) > there(day) + EASE)


def _runs(days: Sequence[date], bridged: Callable[[date], bool]) -> Iterator[list[date]]:
    """Consecutive days together; days between that are all bridged do not part them."""
    run: list[date] = []
    for day in days:
        between = [run[-1] + timedelta(days=n) for n in range(1, (day - run[-1]).days)] if run else []
        if run and not all(bridged(gap) for gap in between):
            yield run
            run = []
        run = [*run, day]
    if run:
        yield run


def _conflict(
    resource: str,
    key: str,
    name: str,
    unit: str,
    run: list[date],
    wanted: dict[date, Amounts],
    there: Callable[[date], float],
    labels: dict[str, str],
) -> Conflict:
    lacks = {day: sum(wanted[day].values()) - there(day) for day in run}
    worst = next(day for day in run if lacks[day] >= max(lacks.values()) - EASE)
    most: Amounts = defaultdict(float)
    for day in run:
        for owner, amount in wanted[day].items():
            most[owner] = max(most[owner], amount)
    causes = [Cause(owner, labels[owner], amount) for owner, amount in most.items() if amount > EASE]
    causes.sort(key=lambda cause: (-cause.amount, cause.label, cause.owner))
    return Conflict(
        resource="place" if resource == "place" else "hands",
        key=key,
        name=name,
        unit=unit,
        first=run[0],
        last=run[-1],
        peak=sum(wanted[worst].values()),
        there=there(worst),
        causes=tuple(causes),
    )
