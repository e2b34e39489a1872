"""Whose hours do for what: people's hours by part of the day, and the sets of asks that have to be compared.

An *ask* is a skill wanted in a part of the day. Hours of one person in one part are a *pool*. Asks and pools are
to each other as skills and people would be without parts, so that one condition serves for both.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from .terms import PartOfDay, Person

Ask = tuple[str, PartOfDay]

MORNING: PartOfDay = "morning"
ANY_TIME: PartOfDay = "day"
EVENING: PartOfDay = "evening"
PARTS: tuple[PartOfDay, ...] = (MORNING, ANY_TIME, EVENING)
WHOLE = frozenset(PARTS)


@dataclass(frozen=True, slots=True)
class Pool:
    """Hours of one person by weekday, and on closed days, that do for work of these parts of the day."""

    key: str
    person: Person
    parts: frozenset[PartOfDay]
    hours: tuple[float, ...]
    care_hours: float = 0.0

    def does_for(self, ask: Ask) -> bool:
        skill, part = ask
        return part in self.parts and skill in self.person.skills


def pools(people: Iterable[Person]) -> tuple[Pool, ...]:
    """The hours of everybody: one pool for each person of whom nothing is said by part of the day."""
    return tuple(pool for person in people for pool in _pools_of(person))


def _pools_of(person: Person) -> Iterator[Pool]:
    if not person.has_parts:
        yield Pool(person.key, person, WHOLE, person.hours, person.care_hours)
        return
    by_parts: dict[frozenset[PartOfDay], list[float]] = defaultdict(lambda: [0.0] * 7)
    for weekday in range(7):
        for parts, hours in _divided(person, weekday):
            by_parts[parts][weekday] += hours
    by_parts[WHOLE]  # for the hours of closed days, of which nothing is said
    for parts, week in by_parts.items():
        care = person.care_hours if parts == WHOLE else 0.0
        if any(week) or care:
            yield Pool(f"{person.key} {'+'.join(sorted(parts))}", person, parts, tuple(week), care)


def _divided(person: Person, weekday: int) -> Iterator[tuple[frozenset[PartOfDay], float]]:
    said = {MORNING: person.mornings[weekday], EVENING: person.evenings[weekday]}
    known = {part: hours for part, hours in said.items() if hours is not None}
    for part, hours in known.items():
        yield frozenset({part, ANY_TIME}), hours
    yield WHOLE.difference(known), max(person.hours[weekday] - sum(known.values()), 0.0)


@dataclass(frozen=True, slots=True)
class SkillSet:
    """Asks for which only these pools do: no other set of asks that unites the same pools asks for more."""

    asks: tuple[Ask, ...]
    holders: frozenset[str]

    @property
    def skills(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(skill for skill, _part in self.asks))

    @property
    def told(self) -> tuple[Ask, ...]:
        """As one tells it: a skill at any time stands for its parts of the day too."""
        return tuple(names_of(self.asks, set(self.asks)))


def skill_sets(there: Sequence[Pool], asks: Iterable[Ask]) -> tuple[SkillSet, ...]:
    """The sets of asks whose hours have to be compared, one for each group of pools that some asks unite.

    Hall's condition demands for every set of asks that the hours asked do not exceed the hours of the pools that
    do for any of them. Among the sets that unite the same pools the largest asks most, so that one is enough.
    """
    holders = {ask: frozenset(pool.key for pool in there if pool.does_for(ask)) for ask in sorted(set(asks))}
    groups: set[frozenset[str]] = set()
    for held in holders.values():
        groups |= {held} | {held | group for group in groups if held and group}
    sets = [_asks_within(group, holders) for group in groups]
    return tuple(sorted(sets, key=lambda each: (len(each.asks), each.asks)))


def _asks_within(group: frozenset[str], holders: Mapping[Ask, frozenset[str]]) -> SkillSet:
    within = (ask for ask, held in holders.items() if held <= group and bool(held) == bool(group))
    return SkillSet(tuple(within), group)


def skills_in_parts(people: Iterable[Person]) -> frozenset[str]:
    """The skills for which the part of the day counts: those of people of whom something is said by part."""
    return frozenset(skill for person in people if person.has_parts for skill in person.skills)


def names_of(asks: Iterable[Ask], wanted: set[Ask]) -> list[Ask]:
    """Those of a set of asks that are wanted, as one tells them: any time stands for its parts too."""
    known = set(asks)
    any_time = {skill for skill, part in known if part == ANY_TIME}
    skills = {skill for skill, _part in wanted}
    told = {(skill, ANY_TIME) for skill in any_time & skills}
    told |= {ask for ask in known & wanted if ask[0] not in any_time}
    return sorted(told)


def ask_key(ask: Ask) -> str:
    """'sow', and 'cut@evening' where only that part of the day counts."""
    skill, part = ask
    return skill if part == ANY_TIME else f"{skill}@{part}"


def ask_of(key: str) -> Ask:
    skill, _at, word = key.rpartition("@")
    part = next((part for part in PARTS if skill and part == word), None)
    return (skill, part) if part else (key, ANY_TIME)


def key_of(told: Iterable[Ask]) -> str:
    return "+".join(map(ask_key, told))


def asks_of(key: str) -> set[Ask]:
    """What a key names."""
    return set(map(ask_of, key.split("+")))


def part_of(told: Sequence[Ask]) -> PartOfDay:
    """The part of the day in which all of it is wanted; `day` if there is not one."""
    parts = {part for _skill, part in told}
    return parts.pop() if len(parts) == 1 else ANY_TIME


def name_of(told: Sequence[Ask]) -> str:
    """'graft, sow'; with their parts of the day where they differ: 'graft (evening), sow'."""
    if len({part for _skill, part in told}) == 1:
        return ", ".join(skill for skill, _part in told)
    return ", ".join(skill if part == ANY_TIME else f"{skill} ({part})" for skill, part in told)
