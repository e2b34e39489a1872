"""Lines in a season file: what is asked, how it is planned, what is recorded of it, what is taken already."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from ..terms import (
    PLACE_KINDS,
    STAGE_KINDS,
    WORK_KINDS,
    Done,
    Entered,
    HandsClaim,
    LinePlan,
    PartFacts,
    PartPlan,
    Reason,
    RoomClaim,
    RoomWish,
    Sizing,
    SowingFacts,
    SowingPlan,
    StayPlan,
    Wish,
    WorkPlan,
)
from .nursery import NAME, NIGHT_COUNT, PART_OF_DAY, SKILL
from .records import KEY, Group, Named, Record, Ref
from .shapes import NOTHING, Day, Json, ListOf, Maybe, Number, OneOf, Reading, Text, Whole, YesNo

FURTHEST = timedelta(days=1500)  # before and after today that a file may speak of


@dataclass(frozen=True)
class NearDay(Day):
    """A day that decides how many nights have to be looked at."""

    def read(self, value: Json, path: str, reading: Reading) -> Any:
        day = super().read(value, path, reading)
        if day is NOTHING or reading.today is None or abs(day - reading.today) <= FURTHEST:
            return day
        mend = f"Keep within {FURTHEST.days} days of today."
        return reading.refuse(path, f"{day} lies too far from today, {reading.today}.", mend)


SUBJECT = OneOf(("rootstock", "scion", "union", "plain", "room"))
WORDS = Text(2000, empty=True)
SHARE = Number(0, 1)
HOURS = ListOf(Group(skill=SKILL, hours=Number()), most=10)
PLANTS = Whole(0, 10_000_000)
COUNT = Maybe(PLANTS)
PART_NUMBER = Whole(1, 10_000)
SOWING_NUMBER = Whole(1, 10_000)

# --- what is asked -----------------------------------------------------------------------------------------

ROOM = Record(
    RoomWish,
    place_kind=OneOf(PLACE_KINDS),
    container=Ref("containers"),
    containers=PLANTS,
    nights=NIGHT_COUNT,
)

LINE = Record(
    Wish,
    key=KEY,
    label=NAME,
    kind=OneOf(("grafted", "plain", "room")),
    quantity=PLANTS,
    pickup=NearDay(),
    earlier=NIGHT_COUNT,
    later=NIGHT_COUNT,
    collection=Whole(1, 366),
    leaders=OneOf((1, 2)),
    topped=YesNo(),
    recipe=Maybe(Ref("recipes")),
    rootstock=Maybe(Ref("materials")),
    scion=Maybe(Ref("materials")),
    container=Maybe(Ref("containers")),
    room=Maybe(ROOM),
    level=Number(0, 1, above=True),
    weight=Number(),
)

# --- what is taken already ---------------------------------------------------------------------------------

ROOM_CLAIM = Record(
    RoomClaim,
    owner=KEY,
    label=NAME,
    place=Named("places"),
    first=NearDay(),
    nights=Whole(0, 2000),
    load=Number(),
)
HANDS_CLAIM = Record(HandsClaim, owner=KEY, label=NAME, day=NearDay(), hours=HOURS, care=YesNo(), part=PART_OF_DAY)

# --- how a line is planned ---------------------------------------------------------------------------------

# Numbers below zero are read in a plan, since it is the referee who judges them.
ANY = Whole(-10_000_000, 10_000_000)
ANY_HOURS = ListOf(Group(skill=SKILL, hours=Number(-1_000_000)), most=10)

SIZING = Record(
    Sizing,
    grafts=ANY,
    rootstock_seeds=ANY,
    scion_seeds=ANY,
    chance=SHARE,
    expected=Number(most=10_000_000),
)
SOWING = Record(
    SowingPlan,
    subject=SUBJECT,
    material=KEY,
    day=Day(),
    seeds=ANY,
    container=KEY,
    trays=ANY,
    emerges=Day(),
    graftable_from=Maybe(Day()),
    graftable_to=Maybe(Day()),
    number=SOWING_NUMBER,
)
STAY = Record(
    StayPlan,
    subject=SUBJECT,
    stage=KEY,
    stage_kind=OneOf(STAGE_KINDS),
    place=KEY,
    first=Day(),
    nights=Whole(-2000, 2000),
    container=KEY,
    containers=ANY,
    load=Number(-1_000_000),
    sowing=SOWING_NUMBER,
)
WORK = Record(
    WorkPlan,
    kind=OneOf(WORK_KINDS),
    subject=SUBJECT,
    stage=KEY,
    day=Day(),
    part=PART_OF_DAY,
    plants=ANY,
    hours=ANY_HOURS,
    care=YesNo(),
    note=Text(1000, empty=True),
    sowing=SOWING_NUMBER,
)
REASON = Record(Reason, what=Text(80), day=Day(), why=WORDS)
PART = Record(
    PartPlan,
    number=PART_NUMBER,
    plants=ANY,
    sizing=SIZING,
    graft_day=Maybe(Day()),
    ready=Day(),
    sowings=ListOf(SOWING),
    stays=ListOf(STAY),
    works=ListOf(WORK),
    reasons=ListOf(REASON),
)


@dataclass(frozen=True, slots=True)
class Course:
    """A `LinePlan` without its wish, which the file names elsewhere."""

    pickup: date
    parts: tuple[PartPlan, ...]
    cost: float = 0.0

    @classmethod
    def of(cls, plan: LinePlan) -> Course:
        return cls(plan.pickup, plan.parts, plan.cost)

    def as_plan(self, wish: Wish) -> LinePlan:
        return LinePlan(wish, self.pickup, self.parts, self.cost)


COURSE = Record(Course, pickup=NearDay(), parts=ListOf(PART, most=1000), cost=Number(most=1e9))

# --- what is recorded of it --------------------------------------------------------------------------------

SOWN = Record(
    SowingFacts,
    subject=SUBJECT,
    sown=Maybe(Day()),
    seeds=COUNT,
    emerged=COUNT,
    emerged_on=Maybe(Day()),
    usable=COUNT,
    number=SOWING_NUMBER,
)
ENTERED = Record(Entered, stage=KEY, day=Day(), sowing=SOWING_NUMBER)
DONE = Record(Done, kind=OneOf(WORK_KINDS), subject=SUBJECT, stage=KEY, sowing=SOWING_NUMBER)
RECORDED = Record(
    PartFacts,
    sowings=ListOf(SOWN),
    grafted_on=Maybe(Day()),
    grafted=COUNT,
    taken=COUNT,
    lost_after_take=PLANTS,
    ready=COUNT,
    ready_on=Maybe(Day()),
    entered=ListOf(ENTERED),
    done=ListOf(DONE),
)
