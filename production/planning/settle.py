"""Settling a part with known dates on a load: where each stand goes and which work falls when.

A stand goes to the first place that can take it whole, to where the plants stand already if it can be; else it is
divided in whole containers; where there is no room at all it goes where least lacks, and the part does not fit.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from . import windows
from .allowed import Allowed, Rows, Sown
from .backward import Dates
from .course import Leg, SideCourse
from .load import Load
from .reasons import reasons_for
from .terms import COUNT_EMERGED, COUNT_READY, GRAFT, SOW, PartPlan, SowingPlan, StayPlan, WorkPlan
from .works import by_itself, carried, handed_over, in_order, kinds_listed, on_open_day, ruled


class Settled:
    """A part on a load, which it takes as it goes.

    `fits` tells whether all its stands found room and all its work found hands. With `must_fit` the first thing
    that does not ends the attempt, and there is no part to ask for.
    """

    def __init__(self, load: Load, allowed: Allowed, dates: Dates, must_fit: bool = True) -> None:
        self.load, self.allowed, self.course, self.dates = load, allowed, allowed.course, dates
        self.fits = True
        self.stays: list[StayPlan] = []
        self.works: list[WorkPlan] = []
        if must_fit and not self._finds_room():
            self.fits = False
            return
        self._sides()
        self._legs()
        self._end()
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

    def _finds_room(self) -> bool:
        """A first look, cheaper than settling: whether each stand would find room if it were alone."""
        course, dates, rows = self.course, self.dates, self.allowed.rows
        stands = [(leg, rows(leg), first, leaves) for leg, first, leaves in self._leg_nights()]
        for side, sown in zip(course.sides, dates.sown, strict=True):
            stands.append((side.raising, sown.raising, sown.emerges, dates.start))
            stands.append((side.germinating, sown.germinating, sown.day, sown.emerges))
        return all(self._room_for(*stand) for stand in stands)

    def _room_for(self, leg: Leg, rows: Rows, first: int, leaves: int) -> bool:
        free = 0.0
        for row in rows if first < leaves else ():
            free += self._free(leg, row, first, leaves)
            if free >= leg.containers:
                return True
        return first == leaves

    # --- sides ---

    def _sides(self) -> None:
        for side, sown in zip(self.course.sides, self.dates.sown, strict=True):
            places = self._stand(side.germinating, sown.germinating, sown.day, sown.emerges)
            later = self._stand(side.raising, sown.raising, sown.emerges, self.dates.start)
            self.works += self._side_works(side, sown, moved=later != places)

    def _side_works(self, side: SideCourse, sown: Sown, moved: bool) -> Iterator[WorkPlan]:
        germinating, raising, subject = side.germinating.stage, side.raising.stage, side.subject
        sowing, emerging, start = self._day(sown.day), self._day(sown.emerges), self._day(self.dates.start)
        listed = kinds_listed([germinating, raising])
        if SOW not in listed:
            yield by_itself(SOW, germinating, subject, side.seeds, sowing, care=False)
        if COUNT_EMERGED not in listed:
            yield by_itself(COUNT_EMERGED, germinating, subject, side.seeds, emerging)
        carrying = carried(germinating, raising)
        if moved and carrying:
            yield by_itself(carrying, raising, subject, side.seeds, emerging)
        calendar = self.load.season.calendar
        for stage, first, leaves in ((germinating, sowing, emerging), (raising, emerging, start)):
            for work in ruled(stage, subject, side.seeds, first, leaves):
                yield on_open_day(work, calendar, first, leaves)

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
        )

    def _graftable(self, side: SideCourse, sown: Sown) -> tuple[date, date] | tuple[None, None]:
        if side.subject == "plain":
            return None, None
        places = self.load.season.places
        germination, raising = places[sown.germinating[0]].warmth, places[sown.raising[0]].warmth
        return windows.graftable(side, self._day(sown.day), germination, raising)

    # --- legs ---

    def _legs(self) -> None:
        before, places = self._before_legs()
        for leg, first, leaves in self._leg_nights():
            stands = self._stand(leg, self.allowed.rows(leg), first, leaves, near=places)
            self.works += self._leg_works(before, leg, first, leaves, moved=stands != places)
            before, places = leg, stands

    def _leg_nights(self) -> Iterator[tuple[Leg, int, int]]:
        """Each leg, the wait for pickup included, with its entry and the day on which it is left."""
        course, dates = self.course, self.dates
        legs = [*course.legs, course.waiting] if course.waiting else list(course.legs)
        borders = [*dates.borders, dates.last]
        for leg, first, leaves in zip(legs, borders, borders[1:], strict=False):
            if first < leaves:
                yield leg, first, leaves

    def _before_legs(self) -> tuple[Leg | None, Rows]:
        """The leg and places from which the plants of a plain line come; grafts come from nowhere."""
        if self.course.wish.kind != "plain":
            return None, ()
        raising, row = self.course.sides[0].raising, self.load.row
        return raising, tuple(row[stay.place] for stay in self.stays if stay.stage == raising.stage.key)

    def _leg_works(self, before: Leg | None, leg: Leg, first: int, leaves: int, moved: bool) -> Iterator[WorkPlan]:
        entry = self._day(first)
        grafting = before is None and leg.subject == "union"
        if grafting and GRAFT not in kinds_listed([leg.stage]):
            yield by_itself(GRAFT, leg.stage, "union", leg.plants, entry, care=False)
        carrying = carried(before.stage, leg.stage) if before and moved else None
        if carrying:
            yield by_itself(carrying, leg.stage, leg.subject, leg.plants, entry)
        yield from ruled(leg.stage, leg.subject, leg.plants, entry, self._day(leaves))

    def _end(self) -> None:
        course, dates = self.course, self.dates
        last = course.legs[-1] if course.legs else course.sides[0].raising
        if course.waiting and COUNT_READY not in kinds_listed([leg.stage for leg in course.legs]):
            ready = self._day(dates.ready)
            self.works.append(by_itself(COUNT_READY, last.stage, last.subject, last.plants, ready))
        pickup = self._day(dates.pickup)
        self.works += handed_over(course.handing_over, last.stage, last.subject, course.plants, pickup)

    # --- room and hands ---

    def _stand(self, leg: Leg, rows: Rows, first: int, leaves: int, near: Rows = ()) -> Rows:
        """Let the leg stand, and tell in which places."""
        if first == leaves:
            return ()
        ordered = [row for row in near if row in rows] + [row for row in rows if row not in near]
        spread = self._spread(leg, ordered, first, leaves)
        for row, containers in spread:
            place = self.load.season.places[row]
            load = containers * leg.unit_in(place)
            self.load.take_room(row, first, leaves - first, load)
            self.stays.append(
                StayPlan(
                    subject=leg.subject,
                    stage=leg.stage.key,
                    stage_kind=leg.stage.kind,
                    place=place.key,
                    first=self._day(first),
                    nights=leaves - first,
                    container=leg.container.key,
                    containers=containers,
                    load=load,
                )
            )
        return tuple(row for row, _ in spread)

    def _spread(self, leg: Leg, rows: Sequence[int], first: int, leaves: int) -> list[tuple[int, int]]:
        """Containers by place: all in one, or divided."""
        free: dict[int, float] = {}
        for row in rows:
            free[row] = self._free(leg, row, first, leaves)
            if free[row] >= leg.containers:
                return [(row, leg.containers)]
        if sum(free.values()) < leg.containers:
            self.fits = False
            open_throughout = [row for row in rows if self.load.capacity[row, first:leaves].min() > 0]
            return [(max(open_throughout or rows, key=lambda row: free[row]), leg.containers)]
        return list(_divided(leg.containers, free))

    def _free(self, leg: Leg, row: int, first: int, leaves: int) -> float:
        return self.load.free_containers(row, leg.unit_in(self.load.season.places[row]), first, leaves)

    def _take_hours(self, work: WorkPlan) -> None:
        if work.hours:
            day = self.load.index(work.day)
            self.fits = self.fits and self.load.hours_fit(day, work.hours, work.care)
            self.load.take_hours(day, work.hours)


def _divided(containers: int, free: dict[int, float]) -> Iterator[tuple[int, int]]:
    left = containers
    for row, most in free.items():
        here = min(left, int(most))
        if here:
            yield row, here
        left -= here
