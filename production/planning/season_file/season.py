"""A season as a file: what a planner is given."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from ..terms import (
    Calendar,
    HandsClaim,
    LinePlan,
    PartFacts,
    Person,
    Place,
    Prices,
    Recipe,
    RoomClaim,
    Season,
    Stage,
    Wish,
)
from .lines import COURSE, HANDS_CLAIM, LINE, PLANTS, RECORDED, ROOM_CLAIM, WORDS, Course
from .nursery import CALENDAR, CONTAINER, MATERIAL, PERSON, PLACE, PRICES, RECIPE
from .records import Record, Table
from .shapes import NOTHING, Day, Json, ListOf, OneOf, Reading, Writing
from .text import BadFile, parsed, readable

FORMAT = "season of a grafting nursery"
VERSION = 1
FURTHEST = timedelta(days=1500)  # days before and after today that a file may speak of
MOST_SKILLS = 10  # every set of them is compared with hands, and sets double with each skill


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

    def wish(self, key: str) -> Wish | None:
        wishes = (*self.lines, *(each.plan.wish for each in self.promised))
        return next((wish for wish in wishes if wish.key == key), None)


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


BEGUN = Record(_Begun, part=PLANTS, recorded=RECORDED)
PROMISED = Record(_Promised, line=LINE, plan=COURSE, begun=ListOf(BEGUN))
SEASON = Record(
    _File,
    format=OneOf((FORMAT,)),
    version=OneOf((VERSION,)),
    note=WORDS,
    today=Day(),
    calendar=CALENDAR,
    places=ListOf(PLACE, most=500),
    people=ListOf(PERSON, most=500),
    prices=PRICES,
    containers=Table("containers", CONTAINER),
    materials=Table("materials", MATERIAL),
    recipes=Table("recipes", RECIPE),
    lines=ListOf(LINE),
    promised=ListOf(PROMISED),
    taken=Record(_Taken, room=ListOf(ROOM_CLAIM), hands=ListOf(HANDS_CLAIM)),
)


def read_season(text: str) -> SeasonFile:
    """The season that a text holds. `BadFile` with everything that is wrong; nothing is half read."""
    return season_from(parsed(text))


def season_from(value: Json) -> SeasonFile:
    """The same from what a JSON text holds."""
    reading = Reading()
    file = SEASON.read(value, "", reading)
    if file is not NOTHING:
        _beyond_fields(file, reading)
    if reading.faults:
        raise BadFile(reading.faults)
    season = Season(
        file.today, file.calendar, file.places, file.people, file.taken.room, file.taken.hands, file.prices
    )
    promised = (
        Promised(each.plan.as_plan(each.line), tuple((part.part, part.recorded) for part in each.begun))
        for each in file.promised
    )
    return SeasonFile(season, file.lines, tuple(promised), file.note)


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


# --- what no field can know by itself ----------------------------------------------------------------------


def _beyond_fields(file: _File, reading: Reading) -> None:
    _once("places", [place.key for place in file.places], "key", reading)
    _once("people", [person.key for person in file.people], "key", reading)
    asked = [line.key for line in file.lines]
    _once("lines", asked, "key", reading)
    _once("promised", [each.line.key for each in file.promised], "line.key", reading, taken=set(asked))
    places = {place.key for place in file.places}
    for number, claim in enumerate(file.taken.room):
        if claim.place not in places:
            path = f"taken.room[{number}].place"
            reading.refuse(path, f"There is no place “{claim.place}”.", "Name a place of the file.")
    for number, each in enumerate(file.promised):
        _parts(f"promised[{number}]", each, reading)
    skills = _skills(file)
    if len(skills) > MOST_SKILLS:
        mend = f"Name {MOST_SKILLS} at the most."
        reading.refuse("people", f"There are {len(skills)} skills: {', '.join(sorted(skills))}.", mend)
    for path, day in _days(file):
        if abs(day - file.today) > FURTHEST:
            mend = f"Keep within {FURTHEST.days} days of today."
            reading.refuse(path, f"{day} lies too far from today, {file.today}.", mend)


def _once(where: str, keys: list[str], name: str, reading: Reading, taken: set[str] | None = None) -> None:
    seen = set(taken or ())
    for number, key in enumerate(keys):
        if key in seen:
            reading.refuse(f"{where}[{number}].{name}", f"“{key}” is taken already.", "Give each its own key.")
        seen.add(key)


def _parts(path: str, promised: _Promised, reading: Reading) -> None:
    numbers = [part.number for part in promised.plan.parts]
    _once(f"{path}.begun", [str(begun.part) for begun in promised.begun], "part", reading)
    for number, begun in enumerate(promised.begun):
        if begun.part not in numbers:
            where = f"{path}.begun[{number}].part"
            reading.refuse(where, f"The plan has no part {begun.part}.", "Name a part of the plan.")


def _skills(file: _File) -> set[str]:
    found = {skill for person in file.people for skill in person.skills}
    found |= {skill for claim in file.taken.hands for skill, _hours in claim.hours}
    stages = (stage for recipe in file.recipes.values() for stage in _stages(recipe))
    return found | {skill for stage in stages for rule in stage.works for skill, _pace in rule.hands}


def _stages(recipe: Recipe) -> tuple[Stage, ...]:
    return (*recipe.rootstock, *recipe.scion, *recipe.union, *recipe.plain)


def _days(file: _File) -> Iterator[tuple[str, date]]:
    """The days that decide how many nights have to be looked at."""
    for number, line in enumerate(file.lines):
        yield f"lines[{number}].pickup", line.pickup
    for number, room in enumerate(file.taken.room):
        yield f"taken.room[{number}].first", room.first
    for number, hands in enumerate(file.taken.hands):
        yield f"taken.hands[{number}].day", hands.day
    for number, each in enumerate(file.promised):
        yield f"promised[{number}].plan.pickup", each.plan.pickup
