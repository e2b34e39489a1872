"""Every way in which one wish can be placed, in a plain and bounded order of preference.

A way is a pickup inside the latitude, a number of parts, a grafting day for each of them, the nights of the stages
and the places. Preferred are, in this order: the pickup nearest to the one asked for (the earlier of two equals),
the least departure from the usual nights, one part before several.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from copy import copy
from dataclasses import replace
from datetime import date, timedelta

from .allowed import Allowed
from .asked import MOST_PARTS, check_places, check_wish, too_many
from .backward import Dates, dates_for, last_collection_day
from .course import course_of
from .legs import Course, Leg
from .load import Load
from .remembered import Remembered
from .settle import Settled, turns
from .spending import spent_on
from .terms import HEAL, LinePlan, PartPlan, Prices, Season, Wish
from .works import hours_of

MORE_PARTS = 2  # parts tried beyond those that the hands need at least


Way = tuple[LinePlan, int]  # with the nights by which it departs from the usual, in total


class Ways:
    """The ways of one wish on a load, which is left as it is.

    `dates_on` is the load whose room and hands the dates respect: the same load for what fits, one without limits
    for what was asked, whatever it collides with. `parts` asks for just so many. `Impossible` when the wish makes
    no sense at all.
    """

    def __init__(self, load: Load, wish: Wish, dates_on: Load | None = None, parts: int | None = None) -> None:
        check_wish(load.season, wish)
        self.load, self.wish = load, wish
        self.dates_on = dates_on or load
        self.must_fit = dates_on is None
        self.parts = parts
        self._courses: dict[int, Course] = {}
        self._allowed: dict[int, Allowed] = {}
        self._found: dict[tuple[int, date], Remembered[Dates]] = {}
        check_places(load.season, self.allowed(wish.quantity).course)
        self.fewest = self._fewest_parts()

    def allowed(self, plants: int) -> Allowed:
        if plants not in self._allowed:
            self._allowed[plants] = Allowed(self.dates_on, self._course(plants))
        return self._allowed[plants]

    def _course(self, plants: int) -> Course:
        if plants not in self._courses:
            season = self.load.season
            self._courses[plants] = course_of(self.wish, plants, season.places, season.prices)
        return self._courses[plants]

    @property
    def legs(self) -> tuple[Leg, ...]:
        """The stages from the start to ready, as all plants together would go through them."""
        return self._course(self.wish.quantity).legs

    def afresh(self) -> Ways:
        """The same ways once the load has changed: what follows from the wish alone need not be found again."""
        twin = copy(self)
        twin._allowed, twin._found = {}, {}
        return twin

    def on(self, load: Load) -> Ways:
        """The same wish on another load of the same season, with other room and hands perhaps."""
        twin = self.afresh()
        twin.load = twin.dates_on = load
        twin.fewest = twin._fewest_parts()
        return twin

    # --- pickups ---

    def pickups(self) -> list[date]:
        """The days that `pickups_of` names."""
        return pickups_of(self.load.season, self.wish)

    def first(self, pickups: Iterable[date], hurried: bool = False) -> LinePlan | None:
        """The best way at the first of these pickups that has one."""
        return next((plan for day in pickups if (plan := self.best(day, hurried))), None)

    # --- one pickup ---

    def best(self, pickup: date, hurried: bool = False) -> LinePlan | None:
        """The best way to keep this pickup; `hurried`: in as few parts as do, though more might depart less."""
        best, least = None, math.inf
        for parts in self.numbers_of_parts():
            if least_departure(parts) >= least:
                break
            found = self._settled(pickup, parts)
            if found and found[1] < least:
                best, least = found
            if found and (hurried or not self.must_fit):
                break
        return best

    def every(self) -> Iterator[LinePlan]:
        """Every way, the preferred first: one for each start of a single part, one for each number of parts."""
        for pickup in self.pickups():
            found = [*self._single_parts(pickup), *self._several_parts(pickup)]
            for plan, _ in sorted(found, key=lambda each: (each[1], len(each[0].parts))):
                yield plan

    def _single_parts(self, pickup: date) -> Iterator[Way]:
        if 1 not in self.numbers_of_parts():
            return
        plants = self.wish.quantity
        for dates in self._dates(plants, pickup):
            part = Settled(self.load.copy(), self.allowed(plants), dates, self.must_fit)
            if part.fits or not self.must_fit:
                yield self._way(pickup, [part])

    def _several_parts(self, pickup: date) -> Iterator[Way]:
        for parts in self.numbers_of_parts():
            way = self._settled(pickup, parts) if parts > 1 else None
            if way:
                yield way

    def has_dates(self, pickup: date) -> bool:
        """Whether any dates lead to this pickup in one part."""
        return any(True for _ in self._dates(self.wish.quantity, pickup))

    def numbers_of_parts(self) -> list[int]:
        if self.wish.kind == "room":
            return [1]
        if self.parts:
            return [min(self.parts, self.wish.quantity)]
        most = min(self.fewest + MORE_PARTS, MOST_PARTS, self.wish.quantity)
        numbers = list(range(self.fewest, most + 1))
        return numbers if self.must_fit else numbers[:1] + list(range(self.fewest - 1, 0, -1))

    def _settled(self, pickup: date, parts: int) -> Way | None:
        """The pickup kept in so many parts on as many days."""
        sizes = part_sizes(self.wish.quantity, parts)
        if parts > 1 and self.must_fit and not self.may_stand(pickup, sizes):
            return None
        load, settled = self.load.copy(), list[Settled]()
        for plants in sizes:
            part = self._next_part(load, plants, pickup, {each.dates.start for each in settled})
            if part is None:
                return None
            settled.append(part)
            load = part.load
        return self._way(pickup, settled)

    def _way(self, pickup: date, settled: Sequence[Settled]) -> Way:
        return self.plan(pickup, settled), sum(part.dates.departure for part in settled)

    def plan(self, pickup: date, settled: Sequence[Settled]) -> LinePlan:
        """The line picked up on that day, from parts with their places and work."""
        plans = [part.part(number, len(settled)) for number, part in enumerate(settled, start=1)]
        return line_plan(self.wish, pickup, plans, self.load.season.prices)

    def _next_part(self, load: Load, plants: int, pickup: date, taken: set[int]) -> Settled | None:
        """The best part of that size which starts on a day of its own, settled on a copy of the load."""
        for dates in self._dates(plants, pickup):
            if dates.start not in taken and not (taken and self._lacks_room(load, plants, dates)):
                part = Settled(load.copy(), self.allowed(plants), dates, self.must_fit)
                if part.fits or not self.must_fit:
                    return part
        return None

    def may_stand(self, pickup: date, sizes: Sequence[int]) -> bool:
        return self._stand_together(pickup, sizes) and self._stand_in_turn(pickup, sizes)

    def _stand_together(self, pickup: date, sizes: Sequence[int]) -> bool:
        """A first look: on the night before the pickup all parts stand in their last stage, or wait for pickup."""
        courses = [self.allowed(plants).course for plants in sizes]
        night, last, waiting = self.load.index(pickup) - 1, courses[0].legs[-1:], courses[0].waiting
        if not last or waiting is None or night < 0 or last[0].nights.shortest < 1:
            return True
        free = 0.0
        for place in self.load.season.places:
            units = [leg.unit_in(place) for leg in (*last, waiting) if place.kinds & set(leg.stage.place_kinds)]
            if units:
                free += self.load.free_containers(self.load.row[place.key], min(units), night, night + 1)
        return sum(course.legs[-1].containers for course in courses) <= free

    def _stand_in_turn(self, pickup: date, sizes: Sequence[int]) -> bool:
        """A further look: on the nights from which the pickup can be reached, each stage has room for all parts.

        However they take turns there, each part takes its containers for the shortest nights at least.
        """
        courses = [self.allowed(plants).course for plants in sizes]
        course, allowed = courses[0], self.allowed(sizes[0])
        if course.waiting is None:
            return True
        leaves = self.load.index(pickup)
        first = last_collection_day(self.load, self.wish, leaves) - course.keeping
        for number, leg in reversed(list(enumerate(course.legs))):
            first -= leg.nights.longest
            there = slice(max(first, 0), max(leaves, 0))
            wanted = sum(each.legs[number].containers for each in courses) * leg.nights.shortest
            if wanted > sum(float(nights[there].sum()) for nights in allowed.free(leg).values()):
                return False
            leaves -= leg.nights.shortest
        return True

    def _lacks_room(self, load: Load, plants: int, dates: Dates) -> bool:
        """Whether the parts settled before left too little room for a stage; quicker than to settle and fail."""
        if not self.must_fit:
            return False
        places = self.load.season.places
        for turn in turns(self.allowed(plants), dates):
            if turn.nights:
                units = ((row, turn.leg.unit_in(places[row])) for row in turn.rows)
                free = (load.free_containers(row, unit, turn.first, turn.leaves) for row, unit in units)
                if sum(free) < turn.leg.containers:
                    return True
        return False

    def _dates(self, plants: int, pickup: date) -> Remembered[Dates]:
        """Found once for all parts of a size, and no further than needed."""
        key = (plants, pickup)
        if key not in self._found:
            self._found[key] = Remembered(dates_for(self.allowed(plants), self.load.index(pickup)))
        return self._found[key]

    # --- how many parts ---

    def _fewest_parts(self) -> int:
        """Parts without which no day has the hours, and no chamber the trays, that the batch needs at once."""
        course = self.allowed(self.wish.quantity).course
        if course.wish.kind == "room":
            return 1
        fewest = max([1, *self._days_of_hands(course), *self._chambers_full(course)])
        if fewest > min(MOST_PARTS, self.wish.quantity):
            raise too_many(f"{self.wish.quantity} plants would take {fewest} days of grafting or chambers full.")
        return fewest

    def _days_of_hands(self, course: Course) -> Iterator[int]:
        legs = [leg for side in course.sides for leg in side.legs] + list(course.legs)
        for leg in legs:
            for rule in leg.stage.works:
                sets_of = self.load.sets_of[rule.part]
                for skill, hours in hours_of(rule, leg.plants):
                    most = max((float(self.load.most_hours[i]) for i in sets_of[skill][:1]), default=0.0)
                    if most > 0:
                        yield math.ceil(hours / most - 1e-9)

    def _chambers_full(self, course: Course) -> Iterator[int]:
        for leg in course.legs:
            if leg.stage.kind == HEAL:
                places = leg.places(self.load.season.places)
                most = sum(math.floor(place.capacity / leg.unit_in(place) + 1e-6) for place in places)
                if most > 0:
                    yield math.ceil(leg.containers / most)


def pickups_of(season: Season, wish: Wish) -> list[date]:
    """Open days inside the latitude that are not past, nearest to the one asked first."""
    days = (wish.pickup + timedelta(days=by) for by in range(-max(wish.earlier, 0), max(wish.later, 0) + 1))
    may = [day for day in days if day >= season.today and season.calendar.is_open(day)]
    return sorted(may, key=lambda day: (abs((day - wish.pickup).days), day))


def least_departure(parts: int) -> int:
    """Parts are grafted on different days: if one keeps the usual nights, the others are 1, 1, 2, 2 … off."""
    return sum((number + 1) // 2 for number in range(parts))


def part_sizes(quantity: int, parts: int) -> list[int]:
    """As even as whole plants allow, the larger parts first."""
    return [quantity // parts + (number < quantity % parts) for number in range(parts)]


def line_plan(wish: Wish, pickup: date, parts: Iterable[PartPlan], prices: Prices) -> LinePlan:
    """The parts together, numbered in the order in which they start, with what they cost."""
    ordered = sorted(parts, key=lambda part: (part.graft_day or part.ready, part.number))
    numbered = tuple(_numbered(part, number) for number, part in enumerate(ordered, start=1))
    return LinePlan(wish, pickup, numbered, cost_of(wish, numbered, prices))


def _numbered(part: PartPlan, number: int) -> PartPlan:
    return part if part.number == number else replace(part, number=number)


def cost_of(wish: Wish, parts: Iterable[PartPlan], prices: Prices) -> float:
    """What parts of a line cost: work, room, and seed where its price is known."""
    return spent_on(wish, parts, prices).total
