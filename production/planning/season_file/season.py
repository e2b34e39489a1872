"""A season as a file: what a planner is given."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from ..claims import asks_of
from ..hands import Ask
from ..ledger import asks_in
from ..terms import (
    Calendar,
    HandsClaim,
    LinePlan,
    PartFacts,
    Person,
    Place,
    Prices,
    RoomClaim,
    Season,
    Wish,
)
from .lines import COURSE, HANDS_CLAIM, LINE, PART_NUMBER, RECORDED, ROOM_CLAIM, WORDS, Course
from .nursery import CALENDAR, CONTAINER, MATERIAL, MOST_SKILLS, PERSON, PLACE, PRICES, RECIPE
from .records import Keyed, Record, Table
from .shapes import NOTHING, Day, Json, ListOf, OneOf, Reading, Writing
from .text import BadFile, parsed, readable

FORMAT = "season of a grafting nursery"
VERSION = 1


@dataclass(frozen=True, slots=True)
class Promised:
    """A line that has its plan already. `begun` names the parts under way, with what is recorded of each."""

    plan: LinePlan
    begun: tuple[tuple[int, PartFacts], ...] = ()


@dataclass(frozen=True, slots=True)
class SeasonFile:
    """A season, the lines that are asked in it in their order, and those that are promised already.

    What promised lines take is among the claims of the season, under the line's key as owner.
    """

    season: Season
    lines: tuple[Wish, ...] = ()
    promised: tuple[Promised, ...] = ()
    note: str = ""

    @property
    def wishes(self) -> dict[str, Wish]:
        """All lines by their keys."""
        return {wish.key: wish for wish in (*self.lines, *(each.plan.wish for each in self.promised))}


# --- the file field by field -------------------------------------------------------------------------------

NOT_RECORDED = PartFacts()
FREE = Prices()


@dataclass(frozen=True, slots=True)
class _Begun:
    part: int
    recorded: PartFacts = NOT_RECORDED


@dataclass(frozen=True, slots=True)
class _Promised:
    line: Wish
    plan: Course
    begun: tuple[_Begun, ...] = ()


@dataclass(frozen=True, slots=True)
class _Taken:
    room: tuple[RoomClaim, ...] = ()
    hands: tuple[HandsClaim, ...] = ()


@dataclass(frozen=True, slots=True)
class _File:
    format: str
    version: int
    today: date
    calendar: Calendar
    places: tuple[Place, ...]
    people: tuple[Person, ...]
    containers: dict[str, Any]
    materials: dict[str, Any]
    recipes: dict[str, Any]
    lines: tuple[Wish, ...]
    promised: tuple[_Promised, ...] = ()
    taken: _Taken = _Taken()
    prices: Prices = FREE
    note: str = ""


class Today(Day):
    """The day on which the file looks at the nursery, from which other days are counted."""

    def read(self, value: Json, path: str, reading: Reading) -> Any:
        day = super().read(value, path, reading)
        reading.today = None if day is NOTHING else day
        return day


def _begun_parts(promised: _Promised) -> Iterator[tuple[str, str, str]]:
    numbers, begun = [part.number for part in promised.plan.parts], [each.part for each in promised.begun]
    for number, part in enumerate(begun):
        if part not in numbers:
            yield f"begun[{number}].part", f"The plan has no part {part}.", "Name a part of the plan."
        if part in begun[:number]:
            yield f"begun[{number}].part", f"Part {part} stands here twice.", "Name each part once."


BEGUN = Record(_Begun, part=PART_NUMBER, recorded=RECORDED)
PROMISED = Record(_Promised, _begun_parts, line=LINE, plan=COURSE, begun=ListOf(BEGUN))
SEASON = Record(
    _File,
    format=OneOf((FORMAT,)),
    version=OneOf((VERSION,)),
    note=WORDS,
    today=Today(),
    calendar=CALENDAR,
    places=Keyed(PLACE, most=500, table="places"),
    people=Keyed(PERSON, most=500, table="people"),
    prices=PRICES,
    containers=Table("containers", CONTAINER),
    materials=Table("materials", MATERIAL),
    recipes=Table("recipes", RECIPE),
    lines=Keyed(LINE, table="lines"),
    promised=Keyed(PROMISED, table="lines", way=("line", "key")),
    taken=Record(_Taken, room=ListOf(ROOM_CLAIM), hands=ListOf(HANDS_CLAIM)),
)


def read_season(text: str) -> SeasonFile:
    """The season that a text holds. `BadFile` with everything that is wrong; nothing is half read."""
    return season_from(parsed(text))


def season_from(value: Json) -> SeasonFile:
    """The same from what a JSON text holds."""
    reading = Reading()
    file = SEASON.read(value, "", reading)
    if reading.faults:
        raise BadFile(reading.faults)
    season = Season(
        file.today, file.calendar, file.places, file.people, file.taken.room, file.taken.hands, file.prices
    )
    promised = (
        Promised(each.plan.as_plan(each.line), tuple((part.part, part.recorded) for part in each.begun))
        for each in file.promised
    )
    found = SeasonFile(season, file.lines, tuple(promised), file.note)
    few_asks(found, set(), "people", reading)
    if reading.faults:
        raise BadFile(reading.faults)
    return found


def few_asks(file: SeasonFile, others: set[Ask], path: str, reading: Reading) -> None:
    """Where people have hours by part of the day, every set of skills in their parts of it is looked at."""
    if not any(person.has_parts for person in file.season.people):
        return
    wishes = (*file.lines, *(each.plan.wish for each in file.promised))
    works = (work for each in file.promised for work in each.plan.works)
    asks = asks_in(file.season.hands, in_parts=True) | others
    asks |= {ask for wish in wishes for ask in asks_of(wish)}
    asks |= {(skill, work.part) for work in works for skill, _hours in work.hours}
    if len(asks) > MOST_SKILLS:
        reason = f"Skills are asked for in {len(asks)} ways, those of each part of the day counted apart."
        reading.refuse(path, reason, f"Leave out hours by part of the day, or keep to {MOST_SKILLS} ways.")


def write_season(file: SeasonFile) -> str:
    """The file as JSON text. Recipes, containers and materials are named once."""
    season = file.season
    promised = (
        _Promised(each.plan.wish, Course.of(each.plan), tuple(_Begun(*begun) for begun in each.begun))
        for each in file.promised
    )
    flat = _File(
        FORMAT,
        VERSION,
        season.today,
        season.calendar,
        season.places,
        season.people,
        {},
        {},
        {},
        file.lines,
        tuple(promised),
        _Taken(season.room, season.hands),
        season.prices,
        file.note,
    )
    return readable(SEASON.write(flat, Writing()))
