"""Conflicts, reckoned again night by night and day by day with plain dictionaries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import date, timedelta
from itertools import combinations

from production.planning.check.case import EASE
from production.planning.terms import Cause, Conflict, HandsClaim, LinePlan, Person, RoomClaim, Season

Skills = frozenset[str]
Amounts = dict[str, float]  # by owner


def conflicts(
    season: Season, plans: Sequence[LinePlan] = (), only: frozenset[str] = frozenset()
) -> list[Conflict]:
    """Where the claims of the season and these plans together ask for more than there is, from today on.

    Runs of nights (of a place) and of days (of a set of skills; closed days between do not part them). `peak` and
    `there` are those of the night or day on which most is lacking; a cause's amount is its most in the run. With
    `only`, the keys of some of the plans, just the nights and days of these are judged in full: that is enough to
    see whether they take part in any conflict, and quick beside a large season.
    """
    if only:
        season = _beside(season, [plan for plan in plans if plan.wish.key in only])
    labels = {claim.owner: claim.label for claim in season.room}
    labels |= {claim.owner: claim.label for claim in season.hands}
    labels |= {plan.wish.key: plan.wish.label for plan in plans}
    found = [*_of_places(season, plans, labels), *_of_hands(season, plans, labels)]
    return sorted(found, key=lambda each: (each.first, each.resource, each.key))


def _beside(season: Season, plans: Sequence[LinePlan]) -> Season:
    """The season with no more of its claims than hold a night of a place, or a day, that these plans ask for."""
    nights: dict[str, set[date]] = defaultdict(set)
    for stay in (stay for plan in plans for stay in plan.stays):
        nights[stay.place] |= {stay.first + timedelta(days=n) for n in range(stay.nights)}
    spans = {place: (min(held), max(held)) for place, held in nights.items() if held}
    days = {work.day for plan in plans for work in plan.works}
    room = (
        RoomClaim(claim.owner, claim.label, claim.place, night, 1, claim.load)
        for claim in season.room
        if claim.place in spans and claim.first <= spans[claim.place][1] and claim.leaves > spans[claim.place][0]
        for night in (claim.first + timedelta(days=n) for n in range(claim.nights))
        if night in nights[claim.place]
    )
    return replace(season, room=tuple(room), hands=tuple(claim for claim in season.hands if claim.day in days))


# --- places ------------------------------------------------------------------------------------------------


def _of_places(season: Season, plans: Sequence[LinePlan], labels: dict[str, str]) -> Iterator[Conflict]:
    stays = [RoomClaim(p.wish.key, "", s.place, s.first, s.nights, s.load) for p in plans for s in p.stays]
    taken: dict[str, dict[date, Amounts]] = defaultdict(lambda: defaultdict(lambda: defaultdict(float)))
    for claim in (*season.room, *stays):
        for n in range(claim.nights):
            taken[claim.place][claim.first + timedelta(days=n)][claim.owner] += claim.load
    for place in season.places:
        nights = {night: who for night, who in taken[place.key].items() if night >= season.today}
        lacking = _lacking(nights, place.capacity_on)
        for run in _runs(lacking, lambda day: False):
            unit = "positions" if place.measure == "positions" else "m²"
            yield _conflict("place", place.key, place.name, unit, run, nights, place.capacity_on, labels)


# --- hands -------------------------------------------------------------------------------------------------


def _of_hands(season: Season, plans: Sequence[LinePlan], labels: dict[str, str]) -> Iterator[Conflict]:
    claims = [claim for claim in season.hands if claim.day >= season.today]
    claims += [
        HandsClaim(plan.wish.key, "", work.day, work.hours)
        for plan in plans
        for work in plan.works
        if work.day >= season.today
    ]
    by_day: dict[date, list[HandsClaim]] = defaultdict(list)
    for claim in claims:
        by_day[claim.day].append(claim)
    lacking: dict[Skills, list[date]] = defaultdict(list)
    for day in sorted(by_day):
        for skills in _overasked(season, by_day[day], day):
            lacking[skills].append(day)
    for skills, days in lacking.items():
        asked = _asked_by_day(claims, skills)

        def there(day: date, skills: Skills = skills) -> float:
            return hours_there(season, day, skills)

        for run in _runs(days, lambda day: not season.calendar.is_open(day)):
            key, name = "+".join(sorted(skills)), ", ".join(sorted(skills))
            yield _conflict("hands", key, name, "hours", run, asked, there, labels)


def _asked_by_day(claims: Sequence[HandsClaim], skills: Skills) -> dict[date, Amounts]:
    asked: dict[date, Amounts] = defaultdict(lambda: defaultdict(float))
    for claim in claims:
        for skill, hours in claim.hours:
            if skill in skills:
                asked[claim.day][claim.owner] += hours
    return asked


def _overasked(season: Season, claims: Sequence[HandsClaim], day: date) -> Iterator[Skills]:
    """Sets of skills asked for more hours than their people have, beyond what their own subsets lack together."""
    asked: dict[str, float] = defaultdict(float)
    for claim in claims:
        for skill, hours in claim.hours:
            asked[skill] += hours
    skills = sorted(skill for skill, hours in asked.items() if hours > 0)
    missing: dict[Skills, float] = {frozenset(): 0.0}
    for size in range(1, len(skills) + 1):
        for chosen in map(frozenset, combinations(skills, size)):
            explained = max(
                (missing[part] + missing[chosen - part] for part in missing if part and part < chosen), default=0.0
            )
            lacks = sum(asked[skill] for skill in chosen) - hours_there(season, day, chosen)
            missing[chosen] = max(lacks, explained)
            if lacks > max(explained, 0.0) + EASE:
                yield chosen


def hours_there(season: Season, day: date, skills: Skills) -> float:
    """Hours, on that day, of the people who have any of these skills."""
    return sum(_hours_of(season, person, day) for person in season.people if person.skills & skills)


def _hours_of(season: Season, person: Person, day: date) -> float:
    if any(day in span for span in person.away):
        return 0.0
    return person.hours[day.weekday()] if season.calendar.is_open(day) else person.care_hours


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
