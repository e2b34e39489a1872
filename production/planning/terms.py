"""The words of the planning core: what goes in, what comes out, and the refusal.

Only frozen dataclasses live here, with the few properties that follow from their own fields. Every day is a
`datetime.date`; a *night* is named by the date on which it begins (entering on d for n nights holds the nights
d … d+n−1 and leaves during day d+n). Temperatures are °C, sums are °C·d, areas m², hours decimal hours.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import Literal

# --- small words ------------------------------------------------------------------------------------------

Side = Literal["rootstock", "scion"]
# Whose plants a stay or a piece of work concerns: one of the two sides before the graft, the union after it,
# the single variety of a plain line, or nothing but room.
Subject = Literal["rootstock", "scion", "union", "plain", "room"]
PartOfDay = Literal["morning", "day", "evening"]  # `day`: at any time of it
LineKind = Literal["grafted", "plain", "room"]

GERMINATION = "germination"
BENCH = "bench"
HEALING = "healing"
HARDENING = "hardening"
STAGING = "staging"
COLD = "cold"
PLACE_KINDS = (GERMINATION, BENCH, HEALING, HARDENING, STAGING, COLD)

# Kinds of work. `count` kinds ask for a number when they are done.
SOW = "sow"
MOVE = "move"
COUNT_EMERGED = "count_emerged"
COUNT_USABLE = "count_usable"
GRAFT = "graft"
PROP = "prop"  # prop the cover open
TAKE_OUT = "take_out"  # out of the healing chamber
COUNT_TAKEN = "count_taken"
NOTCH = "notch"
FINAL_CUT = "final_cut"
STAKE = "stake"
POT = "pot"
TOP = "top"  # top above the cotyledons, for two leaders
CHECK = "check"
COUNT_READY = "count_ready"
HAND_OVER = "hand_over"
WORK_KINDS = (
    SOW, MOVE, COUNT_EMERGED, COUNT_USABLE, GRAFT, PROP, TAKE_OUT, COUNT_TAKEN,
    NOTCH, FINAL_CUT, STAKE, POT, TOP, CHECK, COUNT_READY, HAND_OVER,
)  # fmt: skip

# Kinds of stage.
GERMINATING = "germinating"
RAISING = "raising"
HEAL = "healing"
COVER = "cover"
WEANING = "weaning"
HARDEN = "hardening"
COLD_HOLD = "cold_hold"  # plants stand still in the cold, to be grafted, or to be ready, at another time
GROW_ON = "growing_on"
WAITING = "waiting"
ROOM = "room"
STAGE_KINDS = (GERMINATING, RAISING, HEAL, COVER, WEANING, HARDEN, COLD_HOLD, GROW_ON, WAITING, ROOM)


@dataclass(frozen=True, slots=True)
class Span:
    """A run of days (or nights), first and last both included."""

    first: date
    last: date

    def __contains__(self, day: date) -> bool:
        return self.first <= day <= self.last


# --- the nursery ------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Warmth:
    """The 24-hour mean temperature of a place, °C: the usual one, and spells of another."""

    usual: float
    spells: tuple[tuple[Span, float], ...] = ()

    def on(self, day: date) -> float:
        for span, degrees in self.spells:
            if day in span:
                return degrees
        return self.usual


@dataclass(frozen=True, slots=True)
class Place:
    """Where plants stand. `capacity` is in positions (tray places) or in m², as `measure` says."""

    key: str
    name: str
    kinds: frozenset[str]
    measure: Literal["positions", "area"]
    capacity: float
    warmth: Warmth
    open_spans: tuple[Span, ...] = ()  # none: open all year

    def capacity_on(self, night: date) -> float:
        if self.open_spans and not any(night in span for span in self.open_spans):
            return 0.0
        return self.capacity


@dataclass(frozen=True, slots=True)
class Container:
    """A plug tray, or a carrying tray of pots: how many plants it holds and what it takes up."""

    key: str
    name: str
    plants: int
    positions: float
    area: float  # m²

    def load_in(self, place: Place) -> float:
        """What one of these takes of the place's capacity, in the place's own measure."""
        return self.positions if place.measure == "positions" else self.area


Said = float | None
SaidByWeekday = tuple[Said, Said, Said, Said, Said, Said, Said]
UNSAID: SaidByWeekday = (None,) * 7


@dataclass(frozen=True, slots=True)
class Person:
    """Hours by weekday (Monday first) on open days, care hours on closed days, and skills.

    `mornings` and `evenings` say how many of a weekday's hours lie in that part of the day; None: nothing is said.
    Hours said to be in a part do for work of that part and for work of any time of the day; the others for work of
    any time, and of each part of which nothing is said. Care hours do for any part.
    """

    key: str
    name: str
    skills: frozenset[str]
    hours: tuple[float, float, float, float, float, float, float]
    care_hours: float = 0.0
    away: tuple[Span, ...] = ()
    mornings: SaidByWeekday = UNSAID
    evenings: SaidByWeekday = UNSAID

    @property
    def has_parts(self) -> bool:
        return self.mornings != UNSAID or self.evenings != UNSAID


@dataclass(frozen=True, slots=True)
class Calendar:
    """Which days are open for work that may not fall on a closed one."""

    open_weekdays: frozenset[int]  # Monday 0
    closed: frozenset[date] = frozenset()

    def is_open(self, day: date) -> bool:
        return day.weekday() in self.open_weekdays and day not in self.closed


@dataclass(frozen=True, slots=True)
class Prices:
    """What an hour of work and a square metre of bench for a week cost, to compare ways out."""

    hour: float = 0.0
    metre_week: float = 0.0


# --- biology, all of it the grower's own data --------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Rate:
    """An uncertain share: Beta(mean·weight, (1−mean)·weight). `weight` is in plants' worth of evidence."""

    mean: float
    weight: float = 60.0


@dataclass(frozen=True, slots=True)
class Clock:
    """The thermal clock of one variety.

    Emergence: days = emergence_sum / (T − emergence_base), valid up to emergence_ceiling. Growth from emergence
    on: the stem is graftable from `graftable_first` to `graftable_last` °C·d above growth_base, best at
    `graftable_aim`; degrees above growth_ceiling count as growth_ceiling.
    """

    emergence_sum: float
    emergence_base: float
    emergence_ceiling: float
    growth_base: float
    growth_ceiling: float
    graftable_first: float
    graftable_aim: float
    graftable_last: float


@dataclass(frozen=True, slots=True)
class Material:
    """One variety as it is used on one line: its clock, its rates, and when its seed is in hand."""

    key: str
    name: str
    clock: Clock
    emerged: Rate
    usable: Rate
    seed_on_hand: date | None = None  # None: in hand already; else expected by that day
    seed_price: float | None = (
        None  # of one seed, in the coin of `Prices`; 0 for seed of the customer; None: unknown
    )


@dataclass(frozen=True, slots=True)
class Nights:
    shortest: int
    usual: int
    longest: int


@dataclass(frozen=True, slots=True)
class WorkRule:
    """Work that a stage asks for.

    It falls `after` nights after the plants enter the stage; with `at_end`, on the day they leave it. `hands`
    lists (skill, plants per person-hour); work for two lists both. Care may fall on closed days.
    """

    kind: str
    hands: tuple[tuple[str, float], ...]
    part: PartOfDay = "day"
    after: int = 0
    at_end: bool = False
    care: bool = False
    note: str = ""


@dataclass(frozen=True, slots=True)
class Stage:
    """A run of nights in one kind of place and container. `container` None means the line's own pot or tray.

    A stage whose usual nights are 0 is kept for need: it is left out where the nursery has no place for it.
    """

    key: str
    kind: str
    name: str
    place_kinds: tuple[str, ...]
    container: Container | None
    nights: Nights
    works: tuple[WorkRule, ...] = ()

    def is_left_out(self, places: Sequence[Place]) -> bool:
        """Whether plants do without this stage, since no place can hold them for it."""
        kinds = set(self.place_kinds)
        return not self.nights.usual and not any(place.capacity > 0 and place.kinds & kinds for place in places)


@dataclass(frozen=True, slots=True)
class Recipe:
    """A version of a protocol: the stages of a crop grown and grafted by one method.

    The germinating and raising stages of each side have no nights of their own: the clocks give them (their
    `nights` bound them only). Cold holding may follow, of 0 nights usually, where the clock stands still. `plain`
    recipes have empty `rootstock`/`scion` and grow `plain` stages instead.
    """

    key: str
    name: str
    method: str  # splice, side, one_cotyledon, hole_insertion, plain
    rootstock: tuple[Stage, ...]  # germinating, raising; cold holding, if any
    scion: tuple[Stage, ...]
    union: tuple[Stage, ...]  # healing … growing on; for a plain recipe: all that follows raising
    plain: tuple[Stage, ...] = ()  # germinating, raising, of a plain line
    topping: Nights = Nights(7, 8, 9)  # nights added to growing on for two leaders by topping
    topped_room: float = 1.0  # room of a topped plant against a single one, on growing on
    take: Rate = Rate(0.9)
    kept: Rate = Rate(0.97)  # from take to ready
    keeping: int = 14  # longest nights that ready plants may stand
    rootstock_sowings: int = 1  # in succession, so that stems of several ages are there to match
    scion_sowings: int = 1
    sown_apart: int = 0  # days between two sowings of a side


# --- what is asked -----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class RoomWish:
    place_kind: str
    container: Container
    containers: int
    nights: int


@dataclass(frozen=True, slots=True)
class Wish:
    """One order line as the planner sees it. A plain line has its variety in `scion` and no rootstock."""

    key: str
    label: str  # 'Order 31, line 2'
    kind: LineKind
    quantity: int
    pickup: date
    earlier: int = 0  # latitude, days
    later: int = 0
    collection: int = 1  # days on which the customer may come, from the pickup on; room is held for them
    leaders: Literal[1, 2] = 1
    topped: bool = False  # two leaders by topping; two from a side shoot costs the nursery nothing
    recipe: Recipe | None = None
    rootstock: Material | None = None
    scion: Material | None = None
    container: Container | None = None  # pot or tray in which the plants are handed over
    room: RoomWish | None = None
    level: float = 0.95  # service level
    weight: float = 1.0


# --- what is taken already ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class RoomClaim:
    """So much of a place (in its measure) for a run of nights, by an owner whose label can be shown."""

    owner: str
    label: str
    place: str
    first: date
    nights: int
    load: float

    @property
    def leaves(self) -> date:
        return self.first + timedelta(days=self.nights)


@dataclass(frozen=True, slots=True)
class HandsClaim:
    """Hours of one piece of work, by skill: to be done in that part of the day; `day`: at any time of it."""

    owner: str
    label: str
    day: date
    hours: tuple[tuple[str, float], ...]
    care: bool = False
    part: PartOfDay = "day"


@dataclass(frozen=True, slots=True)
class Season:
    """All that a promise is judged against."""

    today: date
    calendar: Calendar
    places: tuple[Place, ...]
    people: tuple[Person, ...]
    room: tuple[RoomClaim, ...] = ()
    hands: tuple[HandsClaim, ...] = ()
    prices: Prices = Prices()

    def place(self, key: str) -> Place:
        return next(place for place in self.places if place.key == key)

    def without(self, owners: frozenset[str]) -> Season:
        """The season as if these owners had taken nothing: for moving what is already placed."""
        if not owners:
            return self
        return replace(
            self,
            room=tuple(claim for claim in self.room if claim.owner not in owners),
            hands=tuple(claim for claim in self.hands if claim.owner not in owners),
        )


# --- the plan ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Sizing:
    """How much to sow and graft for one line or part, and the chance that it is enough."""

    grafts: int  # 0 for a plain line
    rootstock_seeds: int  # 0 for a plain line
    scion_seeds: int  # for a plain line: its seeds
    chance: float
    expected: float  # plants to be expected at the end


@dataclass(frozen=True, slots=True)
class SowingPlan:
    subject: Subject  # rootstock, scion or plain
    material: str
    day: date
    seeds: int
    container: str
    trays: int
    emerges: date
    graftable_from: date | None = None  # None for a plain line
    graftable_to: date | None = None
    number: int = 1  # among the sowings of its side


@dataclass(frozen=True, slots=True)
class StayPlan:
    """A stand in one place: holds the nights first … first+nights−1, moves on during `leaves`."""

    subject: Subject
    stage: str
    stage_kind: str
    place: str
    first: date
    nights: int
    container: str
    containers: int
    load: float  # in the place's measure
    sowing: int = 1  # before the graft: the number of the sowing of its side whose plants stand here

    @property
    def leaves(self) -> date:
        return self.first + timedelta(days=self.nights)


@dataclass(frozen=True, slots=True)
class WorkPlan:
    kind: str
    subject: Subject
    stage: str
    day: date
    part: PartOfDay
    plants: int
    hours: tuple[tuple[str, float], ...]  # by skill
    care: bool = False
    note: str = ""
    sowing: int = 1  # before the graft: the number of the sowing of its side that it concerns

    @property
    def total_hours(self) -> float:
        return sum(hours for _, hours in self.hours)


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a date is what it is, in words: ('graft', date, '4 nights healing + 5 hardening + …')."""

    what: str
    day: date
    why: str


@dataclass(frozen=True, slots=True)
class PartPlan:
    """Plants of one batch that are grafted on one day and go through the nights together."""

    number: int
    plants: int  # wanted of this part
    sizing: Sizing
    graft_day: date | None
    ready: date
    sowings: tuple[SowingPlan, ...]
    stays: tuple[StayPlan, ...]
    works: tuple[WorkPlan, ...]
    reasons: tuple[Reason, ...] = ()


@dataclass(frozen=True, slots=True)
class LinePlan:
    wish: Wish
    pickup: date  # the day promised, inside the latitude
    parts: tuple[PartPlan, ...]
    cost: float = 0.0  # hours and bench at Season.prices, and seed where its price is known

    @property
    def as_if_asked(self) -> LinePlan:
        """The same as the answer to its own pickup: for a plan that lies outside the latitude on purpose."""
        return replace(self, wish=replace(self.wish, pickup=self.pickup))

    @property
    def stays(self) -> tuple[StayPlan, ...]:
        return tuple(stay for part in self.parts for stay in part.stays)

    @property
    def works(self) -> tuple[WorkPlan, ...]:
        return tuple(work for part in self.parts for work in part.works)

    @property
    def sowings(self) -> tuple[SowingPlan, ...]:
        return tuple(sowing for part in self.parts for sowing in part.sowings)

    @property
    def first_day(self) -> date:
        days = [stay.first for stay in self.stays] + [work.day for work in self.works]
        return min(days, default=self.pickup)


# --- answers -----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Cause:
    owner: str
    label: str
    amount: float


@dataclass(frozen=True, slots=True)
class Conflict:
    """A place or a set of skills asked for more than there is, over a run of nights or days.

    `peak` is the most wanted on any one of them, `there` the capacity on that one; causes, largest first. `part`
    is the part of the day in which all these hours are wanted, where it is one.
    """

    resource: Literal["place", "hands"]
    key: str  # place key, or skills joined by '+', each with '@' and its part of the day where only that counts
    name: str
    unit: str  # positions, m² or hours
    first: date
    last: date
    peak: float
    there: float
    causes: tuple[Cause, ...] = ()
    part: PartOfDay = "day"


@dataclass
class Impossible(Exception):
    """A wish that nights, biology or the calendar forbid whatever the load; never stored.

    `field` names the input that should change, `earliest` the first pickup that could be, if one could.
    """

    field: str
    reason: str
    mend: str
    earliest: date | None = None

    def __str__(self) -> str:
        return f"{self.reason} {self.mend}".strip()


@dataclass(frozen=True, slots=True)
class Answer:
    """The answer to one wish, judged after the wishes before it: a plan that fits, or what stands in the way.

    When `fits` is false and nothing is impossible, `plan` is the plan closest to what was asked, which asks for
    more than there is, `conflicts` says where, and the nearest pickups that do fit stand in `earlier`/`later`.
    A no is `proved`, unless the question was too hard for the effort allowed; then it is only very likely.
    """

    wish: Wish
    fits: bool
    plan: LinePlan | None = None
    conflicts: tuple[Conflict, ...] = ()
    earlier: LinePlan | None = None
    later: LinePlan | None = None
    impossible: Impossible | None = None
    proved: bool = True


# --- plants that already live ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class SowingFacts:
    """What has been recorded of one sowing. None: not yet."""

    subject: Subject
    sown: date | None = None
    seeds: int | None = None
    emerged: int | None = None
    emerged_on: date | None = None
    usable: int | None = None
    number: int = 1  # among the sowings of its side


@dataclass(frozen=True, slots=True)
class Entered:
    """Plants really came to a stage on a day: before the graft, those of one sowing."""

    stage: str
    day: date
    sowing: int = 1


@dataclass(frozen=True, slots=True)
class Done:
    """Work that needs no more planning, since it was done or fell away."""

    kind: str
    subject: Subject
    stage: str
    sowing: int = 1


@dataclass(frozen=True, slots=True)
class PartFacts:
    """What has been recorded of one part."""

    sowings: tuple[SowingFacts, ...] = ()
    grafted_on: date | None = None
    grafted: int | None = None
    taken: int | None = None
    lost_after_take: int = 0
    ready: int | None = None
    ready_on: date | None = None
    entered: tuple[Entered, ...] = ()
    done: tuple[Done, ...] = ()


@dataclass(frozen=True, slots=True)
class Outlook:
    """What a part is now expected to deliver, after the counts so far."""

    expected: float
    low: int  # tenth percentile
    high: int  # ninetieth
    chance: float  # that the plants wanted can be handed over


@dataclass(frozen=True, slots=True)
class Rolled:
    """A part planned again from what has happened: the past as it was, the rest moved with it."""

    part: PartPlan
    outlook: Outlook
    late_by: int = 0  # days after the last pickup day that was promised; 0: kept
    troubles: tuple[str, ...] = field(default=())  # e.g. 'the scion will be past grafting'
