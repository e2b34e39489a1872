"""A plan as a file: what a planner answers to a season."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from ..terms import Answer, Cause, Conflict, Impossible, LinePlan, Wish
from .lines import COURSE, WORDS, Course
from .nursery import NAME, NIGHT_COUNT, PART_OF_DAY, SKILL
from .records import KEY, Keyed, Named, Record
from .season import SeasonFile, Today, few_asks
from .shapes import Day, Json, ListOf, Maybe, Number, OneOf, Reading, SetOf, Text, Writing, YesNo
from .text import BadFile, parsed, readable

FORMAT = "plan of a grafting nursery"
VERSION = 1


@dataclass(frozen=True, slots=True)
class Said:
    """The answer to one line: it fits, or what stands in the way, and the nearest pickups that would fit."""

    fits: bool
    impossible: Impossible | None = None
    conflicts: tuple[Conflict, ...] = ()
    earlier: date | None = None
    later: date | None = None
    proved: bool = True

    @classmethod
    def of(cls, answer: Answer) -> Said:
        return cls(
            answer.fits,
            answer.impossible,
            answer.conflicts,
            answer.earlier.pickup if answer.earlier else None,
            answer.later.pickup if answer.later else None,
            answer.proved,
        )


@dataclass(frozen=True, slots=True)
class PlannedLine:
    """What is done with a line. A `plan` takes its room whatever the answer says; without one nothing is done."""

    wish: Wish
    answer: Said | None = None
    plan: LinePlan | None = None


@dataclass(frozen=True, slots=True)
class Run:
    """Nights on end with one load and one capacity, in the place's measure."""

    first: date
    nights: int
    load: float
    capacity: float


@dataclass(frozen=True, slots=True)
class PlaceLoad:
    place: str
    unit: str
    nights: tuple[Run, ...]


@dataclass(frozen=True, slots=True)
class DayHours:
    """Hours asked for, and hours of the people there, on one day."""

    day: date
    hours: float
    there: float


@dataclass(frozen=True, slots=True)
class HandsLoad:
    """What is asked of the people who have any of these skills, at any time of the day or only in a part of it."""

    skills: frozenset[str]
    days: tuple[DayHours, ...]
    mornings: frozenset[str] = frozenset()
    evenings: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Loads:
    places: tuple[PlaceLoad, ...] = ()
    hands: tuple[HandsLoad, ...] = ()


@dataclass(frozen=True, slots=True)
class Goodness:
    """How good a plan is known to be: what it comes to in `measure`, and what no plan can come below."""

    how: str
    measure: str = ""
    value: float | None = None
    bound: float | None = None


@dataclass(frozen=True, slots=True)
class PlanFile:
    """A plan of a season: its lines, and what follows from them for whoever reads it."""

    today: date
    lines: tuple[PlannedLine, ...]
    goodness: Goodness
    cost: float = 0.0  # of the plans, at the prices of the season
    load: Loads = Loads()
    conflicts: tuple[Conflict, ...] = ()
    note: str = ""

    @property
    def plans(self) -> tuple[LinePlan, ...]:
        return tuple(line.plan for line in self.lines if line.plan)


# --- the file field by field -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Line:
    line: str
    answer: Said | None = None
    plan: Course | None = None


@dataclass(frozen=True, slots=True)
class _File:
    format: str
    version: int
    today: date
    goodness: Goodness
    lines: tuple[_Line, ...]
    note: str = ""
    cost: float = 0.0
    conflicts: tuple[Conflict, ...] = ()
    load: Loads = Loads()


AMOUNT = Number(-1e9, 1e9)
UNIT = OneOf(("positions", "m²"))
CAUSE = Record(Cause, owner=KEY, label=NAME, amount=AMOUNT)
CONFLICT = Record(
    Conflict,
    resource=OneOf(("place", "hands")),
    key=Text(1000),
    name=Text(1000),
    unit=OneOf(("positions", "m²", "hours")),
    first=Day(),
    last=Day(),
    peak=AMOUNT,
    there=AMOUNT,
    causes=ListOf(CAUSE),
    part=PART_OF_DAY,
)
REFUSAL = Record(Impossible, field=Text(80), reason=WORDS, mend=WORDS, earliest=Maybe(Day()))
SAID = Record(
    Said,
    fits=YesNo(),
    impossible=Maybe(REFUSAL),
    conflicts=ListOf(CONFLICT),
    earlier=Maybe(Day()),
    later=Maybe(Day()),
    proved=YesNo(),
)
RUN = Record(Run, first=Day(), nights=NIGHT_COUNT, load=AMOUNT, capacity=AMOUNT)
PLACE_LOAD = Record(PlaceLoad, place=KEY, unit=UNIT, nights=ListOf(RUN))
DAY_HOURS = Record(DayHours, day=Day(), hours=AMOUNT, there=AMOUNT)
SKILLS = SetOf(SKILL)
HANDS_LOAD = Record(HandsLoad, skills=SKILLS, days=ListOf(DAY_HOURS), mornings=SKILLS, evenings=SKILLS)
GOODNESS = Record(Goodness, how=WORDS, measure=WORDS, value=Maybe(AMOUNT), bound=Maybe(AMOUNT))
OF_SEASON = "the lines of the season"
LINE = Record(_Line, line=Named(OF_SEASON), answer=Maybe(SAID), plan=Maybe(COURSE))
PLAN = Record(
    _File,
    format=OneOf((FORMAT,)),
    version=OneOf((VERSION,)),
    note=WORDS,
    today=Today(),
    goodness=GOODNESS,
    cost=AMOUNT,
    lines=Keyed(LINE, table="planned", way=("line",)),
    conflicts=ListOf(CONFLICT),
    load=Record(Loads, places=ListOf(PLACE_LOAD), hands=ListOf(HANDS_LOAD)),
)


def read_plan(text: str, season: SeasonFile) -> PlanFile:
    """The plan of this season that a text holds. `BadFile` with everything that is wrong; nothing is half read."""
    return plan_from(parsed(text), season)


def plan_from(value: Json, season: SeasonFile) -> PlanFile:
    """The same from what a JSON text holds."""
    reading = Reading(tables={OF_SEASON: dict.fromkeys(season.wishes)})
    file = PLAN.read(value, "", reading)
    _beside_the_season(season, reading)
    if not reading.faults:
        works = (work for line in file.lines if line.plan for part in line.plan.parts for work in part.works)
        few_asks(season, {(skill, work.part) for work in works for skill, _ in work.hours}, "lines", reading)
    if reading.faults:
        raise BadFile(reading.faults)
    wishes = season.wishes
    lines = tuple(_planned(each, wishes[each.line]) for each in file.lines)
    return PlanFile(file.today, lines, file.goodness, file.cost, file.load, file.conflicts, file.note)


def _planned(line: _Line, wish: Wish) -> PlannedLine:
    return PlannedLine(wish, line.answer, line.plan.as_plan(wish) if line.plan else None)


def write_plan(plan: PlanFile) -> str:
    """The plan as JSON text."""
    lines = (_Line(each.wish.key, each.answer, Course.of(each.plan) if each.plan else None) for each in plan.lines)
    flat = _File(
        FORMAT,
        VERSION,
        plan.today,
        plan.goodness,
        tuple(lines),
        plan.note,
        plan.cost,
        plan.conflicts,
        plan.load,
    )
    return readable(PLAN.write(flat, Writing()))


def _beside_the_season(season: SeasonFile, reading: Reading) -> None:
    today = season.season.today
    if reading.today not in (None, today):
        reason = f"The plan is of {reading.today}, and the season of {today}."
        reading.refuse("today", reason, "Judge a plan by the season it was made for.")
    told = reading.tables.get("planned")  # None: the file names no lines at all, which is said already
    for line in season.lines:
        if told is not None and line.key not in told:
            reading.refuse("lines", f"Nothing is said of “{line.key}”.", "Add it, without a plan if it gets none.")
