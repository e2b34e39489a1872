"""Two seasons side by side: the conflicts of each, and the weeks that change. Words and figures only."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from ..answers import conflict_sentence
from ..planning.calendar import week_of
from ..planning.load import Floats, Load
from ..services.what_if import Tried
from ..sheet import Box, bars
from ..words import Eased, eased, hands_words

MOST_WEEKS = 40
MOST_CONFLICTS = 20


@dataclass(frozen=True, slots=True)
class Week:
    """A week of a place or of hands whose tightest day would carry another load, or another amount too much."""

    name: str
    week: date
    before: Box
    after: Box


@dataclass(frozen=True, slots=True)
class Told:
    """A conflict in words; `only` when the other season has none like it."""

    sentence: str
    only: bool


@dataclass(frozen=True, slots=True)
class Compared:
    eased: Eased
    before: tuple[Told, ...]
    after: tuple[Told, ...]
    more_before: int
    more_after: int
    weeks: tuple[Week, ...]
    more_weeks: int


def compared(tried: Tried, begins: int) -> Compared:
    """`begins` is the first weekday, Monday 0."""
    weeks = list(_weeks(tried, begins))
    before = [conflict_sentence(each) for each in tried.conflicts_before]
    after = [conflict_sentence(each) for each in tried.conflicts_after]
    return Compared(
        eased=eased(tried.conflicts_before, tried.conflicts_after),
        before=tuple(Told(words, words not in after) for words in before[:MOST_CONFLICTS]),
        after=tuple(Told(words, words not in before) for words in after[:MOST_CONFLICTS]),
        more_before=max(len(before) - MOST_CONFLICTS, 0),
        more_after=max(len(after) - MOST_CONFLICTS, 0),
        weeks=tuple(weeks[:MOST_WEEKS]),
        more_weeks=max(len(weeks) - MOST_WEEKS, 0),
    )


def _weeks(tried: Tried, begins: int) -> Iterable[Week]:
    before, after = tried.before, tried.after
    first = week_of(before.first, begins)
    size = min(before.size, after.size)
    weeks = [first + timedelta(days=n) for n in range(0, (before.days[size - 1] - first).days + 1, 7)]
    found = []
    for name, one, other in _rows(before, after):
        boxes = zip(_boxes(before, one, weeks), _boxes(after, other, weeks), strict=True)
        found += [Week(name, was.week, was, now) for was, now in boxes if _differ(was, now)]
    return sorted(found, key=lambda each: (each.week, each.name))


def _differ(was: Box, now: Box) -> bool:
    """Not by room alone that nobody lacks: it would name every week of a place that only grows."""
    return abs(was.load - now.load) > 0.05 or abs(was.over - now.over) > 1e-6


Sides = tuple[Floats, Floats]  # load and capacity by day


def _rows(before: Load, after: Load) -> Iterable[tuple[str, Sides, Sides]]:
    """What both seasons know: places by key, hands by their skills, each with load and capacity."""
    for place in before.season.places:
        row, then = before.row[place.key], after.row[place.key]
        yield place.name, (before.used[row], before.capacity[row]), (after.used[then], after.capacity[then])
    known = {each.told: index for index, each in enumerate(after.sets)}
    for index, skills in enumerate(before.sets):
        at = known.get(skills.told)
        if at is not None:
            name = hands_words(skills.told)
            yield name, (before.asked[index], before.hours[index]), (after.asked[at], after.hours[at])


def _boxes(load: Load, sides: Sides, weeks: list[date]) -> tuple[Box, ...]:
    used, there = ({day: float(value) for day, value in zip(load.days, side, strict=True)} for side in sides)
    return bars("", "", weeks, used, there).boxes
