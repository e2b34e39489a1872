"""The nursery in a season file: calendar, places, people, containers, varieties, protocols, prices."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import inf
from typing import Any

from ..terms import (
    COLD_HOLD,
    PLACE_KINDS,
    STAGE_KINDS,
    WAITING,
    WORK_KINDS,
    Calendar,
    Clock,
    Container,
    Material,
    Nights,
    Person,
    Place,
    Prices,
    Rate,
    Recipe,
    Span,
    Stage,
    Warmth,
    WorkRule,
)
from .records import KEY, As, Group, Record, Ref
from .shapes import (
    NOTHING,
    Day,
    Json,
    ListOf,
    Maybe,
    Number,
    OneOf,
    Reading,
    SetOf,
    Text,
    Weekday,
    Whole,
    YesNo,
    said,
)

Wrong = Iterable[tuple[str, str, str]]

MOST_SKILLS = 10  # sets of skills double with each


@dataclass(frozen=True)
class Skill(Text):
    """What a person can do and work asks for; a file has few of them, since every set of them is looked at."""

    def read(self, value: Json, path: str, reading: Reading) -> Any:
        skill = super().read(value, path, reading)
        if skill is not NOTHING and skill not in reading.skills:
            reading.skills.add(skill)
            if len(reading.skills) > MOST_SKILLS:
                return reading.refuse(
                    path, f"{said(skill)} is one skill too many.", f"Name {MOST_SKILLS} at most."
                )
        return skill


NAME = Text(200)
SKILL = Skill(80)
DEGREES = Number(-40, 80)
SUM = Number(0, 20_000)
NIGHT_COUNT = Whole(0, 1000)
PART_OF_DAY = OneOf(("morning", "day", "evening"))


def _span_in_order(span: Span) -> Wrong:
    if span.last < span.first:
        yield "last", f"It ends on {span.last}, before it begins.", "Write a last day not before the first."


def _clock_in_order(clock: Clock) -> Wrong:
    if not clock.graftable_first <= clock.graftable_aim <= clock.graftable_last:
        yield "graftable_aim", "The sums are out of order.", "Write first ≤ aim ≤ last."
    if clock.growth_ceiling < clock.growth_base:
        yield "growth_ceiling", "It lies below the base.", "Write a ceiling not below growth_base."
    if clock.emergence_ceiling < clock.emergence_base:
        yield "emergence_ceiling", "It lies below the base.", "Write a ceiling not below emergence_base."


def _nights_in_order(nights: Nights) -> Wrong:
    if not nights.shortest <= nights.usual <= nights.longest:
        yield "usual", "The nights are out of order.", "Write shortest ≤ usual ≤ longest."


def _parts_within_the_day(person: Person) -> Wrong:
    for weekday, hours in enumerate(person.hours):
        in_parts = (person.mornings[weekday] or 0.0) + (person.evenings[weekday] or 0.0)
        if in_parts > hours + 1e-9:
            field = "evenings" if person.evenings[weekday] else "mornings"
            reason = f"Of {hours:g} hours, {in_parts:g} lie in the morning and in the evening."
            yield f"{field}[{weekday}]", reason, "Write no more than the hours of that day."


def _stage_keys_once(recipe: Recipe) -> Wrong:
    after = [*(stage.key for stage in recipe.union), WAITING]
    sides = (("rootstock", recipe.rootstock), ("scion", recipe.scion), ("plain", recipe.plain))
    for name, keys, others in (
        ("union", after, []),
        *((name, [s.key for s in side], after) for name, side in sides),
    ):
        twice = [key for number, key in enumerate(keys) if key in keys[:number] or key in others]
        if twice:
            mend = f"Let no two stages of a plant have one key, and none “{WAITING}”."
            yield name, f"“{twice[0]}” is the key of two stages.", mend


def _recipe_holds(recipe: Recipe) -> Wrong:
    yield from _stage_keys_once(recipe)
    if max(recipe.rootstock_sowings, recipe.scion_sowings) > 1 and not recipe.sown_apart:
        yield "sown_apart", "Several sowings have no day between them.", "Write 1 or more."
    for name, side in (("rootstock", recipe.rootstock), ("scion", recipe.scion)):
        for stage in side[2:]:
            if stage.kind != COLD_HOLD or stage.nights.usual:
                mend = "Let only cold_hold follow raising, of usually 0 nights."
                yield name, f"“{stage.key}” follows raising, and the stems would wait for it.", mend


SPAN = Record(Span, _span_in_order, first=Day(), last=Day())
SPANS = ListOf(SPAN)
CALENDAR = Record(Calendar, open_weekdays=SetOf(Weekday(), most=7), closed=SetOf(Day()))
PRICES = Record(Prices, hour=Number(), metre_week=Number())


WARMTH = Record(Warmth, usual=DEGREES, spells=ListOf(Group(during=SPAN, degrees=DEGREES)))

PLACE = Record(
    Place,
    key=KEY,
    name=NAME,
    kinds=SetOf(OneOf(PLACE_KINDS)),
    measure=OneOf(("positions", "area")),
    capacity=Number(),
    warmth=WARMTH,
    open=As("open_spans", SPANS),
)

BY_WEEKDAY = ListOf(Maybe(Number(most=24)), size=7)
PERSON = Record(
    Person,
    _parts_within_the_day,
    key=KEY,
    name=NAME,
    skills=SetOf(SKILL),
    hours=ListOf(Number(most=24), size=7),
    care_hours=Number(most=24),
    away=SPANS,
    mornings=BY_WEEKDAY,
    evenings=BY_WEEKDAY,
)

CONTAINER = Record(
    Container,
    key=KEY,
    name=NAME,
    plants=Whole(1, 100_000),
    positions=Number(most=1000),
    area=Number(most=1000),
)

# --- varieties ---------------------------------------------------------------------------------------------

RATE = Record(Rate, mean=Number(0, 1, above=True), weight=Maybe(Number(above=True, most=1e9), absent=inf))

CLOCK = Record(
    Clock,
    _clock_in_order,
    emergence_sum=Number(0, 20_000, above=True),
    emergence_base=DEGREES,
    emergence_ceiling=DEGREES,
    growth_base=DEGREES,
    growth_ceiling=DEGREES,
    graftable_first=SUM,
    graftable_aim=SUM,
    graftable_last=SUM,
)

MATERIAL = Record(
    Material,
    key=KEY,
    name=NAME,
    clock=CLOCK,
    emerged=RATE,
    usable=RATE,
    seed_on_hand=Maybe(Day()),
    seed_price=Maybe(Number(most=1e6)),
)

# --- protocols ---------------------------------------------------------------------------------------------

NIGHTS = Record(Nights, _nights_in_order, shortest=NIGHT_COUNT, usual=NIGHT_COUNT, longest=NIGHT_COUNT)

WORK_RULE = Record(
    WorkRule,
    kind=OneOf(WORK_KINDS),
    hands=ListOf(Group(skill=SKILL, per_hour=Number(above=True)), most=10),
    part=PART_OF_DAY,
    after=NIGHT_COUNT,
    at_end=YesNo(),
    care=YesNo(),
    note=Text(1000, empty=True),
)

STAGE = Record(
    Stage,
    key=KEY,
    kind=OneOf(STAGE_KINDS),
    name=NAME,
    place_kinds=ListOf(OneOf(PLACE_KINDS), most=len(PLACE_KINDS)),
    container=Maybe(Ref("containers")),
    nights=NIGHTS,
    works=ListOf(WORK_RULE, most=50),
)

SIDE = ListOf(STAGE, most=3)
RECIPE = Record(
    Recipe,
    _recipe_holds,
    key=KEY,
    name=NAME,
    method=Text(40),
    rootstock=SIDE,
    scion=SIDE,
    union=ListOf(STAGE, most=30),
    plain=ListOf(STAGE, most=2),
    topping=NIGHTS,
    topped_room=Number(0, 100, above=True),
    take=RATE,
    kept=RATE,
    keeping=NIGHT_COUNT,
    rootstock_sowings=Whole(1, 10),
    scion_sowings=Whole(1, 10),
    sown_apart=NIGHT_COUNT,
)
