"""Settling a part with known dates on a load: where each stand goes and which work falls when.

A stand goes to the first place that can take it whole, to where the plants stand already if it can be; else it is
divided in whole containers; where there is no room at all it goes where least lacks, and the part does not fit.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from . import windows
from .allowed import Allowed, Rows, Sown
from .backward import Dates
from .legs import Leg, SideCourse
from .load import Load
from .reasons import reasons_for
from .terms import COUNT_EMERGED, COUNT_READY, GRAFT, SOW, PartPlan, SowingPlan, StayPlan, Subject, WorkPlan
from .works import by_itself, carried, handed_over, in_order, kinds_listed

# Where the stands of a part go when somebody else has chosen: by key of the leg, containers in each place.
Spread = tuple[tuple[int, int], ...]
Chosen = Mapping[tuple[Subject, str, int], Spread]


@dataclass(frozen=True, slots=True)
class Turn:
    """A leg with its dates and the places it may stand in; `follows` when its plants come from the turn before."""

    leg: Leg
    rows: Rows
    first: int
    leaves: int
    follows: bool

    @property
    def nights(self) -> int:
        return self.leaves - self.first


class Settled:
    """A part on a load, which it takes as it goes.

    `fits` tells whether all its stands found room and all its work found hands. With `must_fit` the first stand
    that finds no room ends the attempt, and there is no part to ask for. `chosen` names the places beforehand.
    """

    def __init__(
        self, load: Load, allowed: Allowed, dates: Dates, must_fit: bool = True, chosen: Chosen | None = None
    ) -> None:
        self.load, self.allowed, self.course, self.dates = load, allowed, allowed.course, dates
        self._chosen = chosen or {}
        self.fits = True
        self.stays: list[StayPlan] = []
        self.works: list[WorkPlan] = []
        self._turns = tuple(turns(allowed, dates))
        self._where: list[Rows] = []
        for turn in self._turns:
            self._where.append(self._stand(turn))
            if must_fit and not self.fits:
                return
        self.works = [*self._works()]
        for work in self.works:
            self._take_hours(work)

    def part(self, number: int, parts: int) -> PartPlan:
        """The part as a plan: the so-manieth of so many."""
        course, dates = self.course, self.dates
        sowings = tuple(self._sowing(side, sown) for side, sown in zip(course.sides, dates.sown, strict=True))
        return PartPlan(
            number=number,
            plants=course.plants,
            sizing=course.sizing,
            graft_day=self._day(dates.start) if course.wish.kind == "grafted" else None,
            ready=self._day(dates.ready if course.waiting else dates.pickup),
            sowings=sowings,
            stays=tuple(self.stays),
            works=in_order(self.works),
            reasons=tuple(reasons_for(self.allowed, dates, sowings, parts)),
        )

    def _day(self, index: int) -> date:
        return self.load.days[index]

    # --- stands ---

    def _stand(self, turn: Turn) -> Rows:
        """Let a leg stand for its nights, and tell in which places."""
        if not turn.nights:
            return ()
        spread = self._chosen.get(turn.leg.key) or self._found(turn)
        for row, containers in spread:
            self.stays.append(self._stay(turn, row, containers))
        return tuple(row for row, _ in spread)

    def _found(self, turn: Turn) -> Spread:
        near = self._where[-1] if turn.follows else ()
        ordered = [row for row in near if row in turn.rows] + [row for row in turn.rows if row not in near]
        return self._spread(turn, ordered)

    def _stay(self, turn: Turn, row: int, containers: int) -> StayPlan:
        leg, place = turn.leg, self.load.season.places[row]
        load = containers * leg.unit_in(place)
        if self._chosen:
            self.fits = self.fits and self.load.room_fits(row, turn.first, turn.nights, load)
        self.load.take_room(row, turn.first, turn.nights, load)
        return StayPlan(
            subject=leg.subject,
            stage=leg.stage.key,
            stage_kind=leg.stage.kind,
            place=place.key,
            first=self._day(turn.first),
            nights=turn.nights,
            container=leg.container.key,
            containers=containers,
            load=load,
            sowing=leg.sowing,
        )

    def _spread(self, turn: Turn, rows: Sequence[int]) -> Spread:
        """Containers by place: all in one, or divided."""
        leg, places, free = turn.leg, self.load.season.places, dict[int, float]()
        for row in rows:
            free[row] = self.load.free_containers(row, leg.unit_in(places[row]), turn.first, turn.leaves)
            if free[row] >= leg.containers:
                return ((row, leg.containers),)
        if sum(free.values()) >= leg.containers:
            return tuple(divided(leg.containers, free))
        self.fits = False
        there = slice(turn.first, turn.leaves)
        open_throughout = [row for row in rows if self.load.capacity[row, there].min() > 0]
        return ((max(open_throughout or rows, key=lambda row: free[row]), leg.containers),)

    # --- work ---

    def _works(self) -> Iterator[WorkPlan]:
        for side, sown in zip(self.course.sides, self.dates.sown, strict=True):
            yield from self._unlisted_of_side(side, sown)
        for number, turn in enumerate(self._turns):
            before = self._turns[number - 1] if turn.follows else None
            if before and self._where[number] != self._where[number - 1]:
                yield from self._carrying(before.leg, turn)
            yield from self._listed(turn)
        yield from self._end()

    def _unlisted_of_side(self, side: SideCourse, sown: Sown) -> Iterator[WorkPlan]:
        leg, listed = side.germinating, kinds_listed([side.germinating.stage, side.raising.stage])
        if SOW not in listed:
            yield by_itself(SOW, leg, self._day(sown.day), care=False)
        if COUNT_EMERGED not in listed:
            yield by_itself(COUNT_EMERGED, leg, self._day(sown.emerges))

    def _carrying(self, before: Leg, turn: Turn) -> Iterator[WorkPlan]:
        leg = turn.leg
        kind = carried(before.stage, leg.stage)
        if kind:
            yield by_itself(kind, leg, self._day(turn.first))

    def _listed(self, turn: Turn) -> Iterator[WorkPlan]:
        leg = turn.leg
        grafting = leg.subject == "union" and not turn.follows
        if grafting and GRAFT not in kinds_listed([leg.stage]):
            yield by_itself(GRAFT, leg, self._day(turn.first), care=False)
        yield from self.allowed.works(leg, turn.first, turn.leaves)

    def _end(self) -> Iterator[WorkPlan]:
        course, dates = self.course, self.dates
        last = course.legs[-1] if course.legs else course.sides[0].raising
        if course.waiting and COUNT_READY not in kinds_listed([leg.stage for leg in course.legs]):
            yield by_itself(COUNT_READY, last, self._day(dates.ready))
        pickup = self._day(dates.pickup)
        yield from handed_over(course.handing_over, replace(last, plants=course.plants), pickup)

    def _take_hours(self, work: WorkPlan) -> None:
        if work.hours:
            day = self.load.index(work.day)
            self.fits = self.fits and self.load.hours_fit(day, work.hours, work.part, work.care)
            self.load.take_hours(day, work.hours, work.part)

    # --- sowings ---

    def _sowing(self, side: SideCourse, sown: Sown) -> SowingPlan:
        first, last = self._graftable(side, sown)
        return SowingPlan(
            subject=side.subject,
            material=side.material.key,
            day=self._day(sown.day),
            seeds=side.seeds,
            container=side.germinating.container.key,
            trays=side.germinating.containers,
            emerges=self._day(sown.emerges),
            graftable_from=first,
            graftable_to=last,
            number=side.number,
        )

    def _graftable(self, side: SideCourse, sown: Sown) -> tuple[date, date] | tuple[None, None]:
        if side.subject == "plain":
            return None, None
        places = self.load.season.places
        germination, raising = places[sown.germinating[0]].warmth, places[sown.raising[0]].warmth
        first, last = windows.graftable(side, self._day(sown.day), germination, raising)
        return first, last + timedelta(days=self.dates.start - sown.raised)  # in the cold no stem grows


def turns(allowed: Allowed, dates: Dates) -> Iterator[Turn]:
    """Each leg in its turn: the sides, then all that follows the start, the wait for pickup included."""
    course = allowed.course
    for side, sown in zip(course.sides, dates.sown, strict=True):
        yield Turn(side.germinating, sown.germinating, sown.day, sown.emerges, follows=False)
        yield Turn(side.raising, sown.raising, sown.emerges, sown.raised, follows=True)
        if side.holding and sown.raised < dates.start:
            yield Turn(side.holding, sown.holding, sown.raised, dates.start, follows=True)
    legs = [*course.legs, course.waiting] if course.waiting else list(course.legs)
    borders = [*dates.borders, dates.last]
    follows = course.wish.kind == "plain"  # a graft comes from nowhere: it is made
    for leg, first, leaves in zip(legs, borders, borders[1:], strict=False):
        if first < leaves:
            yield Turn(leg, allowed.rows(leg), first, leaves, follows)
            follows = True


def divided(containers: int, free: dict[int, float]) -> Iterator[tuple[int, int]]:
    left = containers
    for row, most in free.items():
        here = min(left, int(most))
        if here:
            yield row, here
        left -= here
