"""Plants that already live: the past stays as it was recorded, and the rest of the plan moves with it.

What was not recorded by the end of its day is planned for today. A counted emergence sets the clock anew; the
graft waits until both sides are fit; what was lost in time is taken from the last nights, growing on, down to
the shortest, so that the day promised is kept if it can be.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date, timedelta

from . import windows
from .allowed import Allowed, Rows, Sown
from .as_recorded import as_it_is, facts_of, leg_of, planned_of
from .backward import Dates, last_collection_day
from .calendar import nearest_open, next_open
from .clocks import Graftable, OutsideModel, graftable_window
from .course import course_of
from .forecast import last_sowing_up_by, last_useful_sowing, outlook
from .hands import ANY_TIME
from .legs import Leg, SideCourse
from .load import Load
from .onward import Onward, at_entry
from .overdue import still_to_do
from .settle import Settled
from .sow_again import words_for
from .terms import (
    GRAFT,
    Material,
    Outlook,
    PartFacts,
    PartPlan,
    Rolled,
    Season,
    SowingFacts,
    SowingPlan,
    StayPlan,
    Wish,
)
from .wording import day_words
from .works import hours_of, in_order

DOUBTFUL = 0.5  # a chance below this is said, as is an expectation below what is wanted


def roll(season: Season, plan: PartPlan, wish: Wish, facts: PartFacts, pickup: date) -> Rolled:
    """A part planned again on `season.today` from what has happened to it.

    `season` must not hold the part's own claims; `wish` is the line at the size of the part, `pickup` the day that
    was promised. Places and hands may be overrun: living plants stand somewhere, and work is done late rather than
    never. Raises Impossible when the protocol can no longer be read for this part.
    """
    if wish.kind == "room" or not plan.sowings + plan.stays:
        return Rolled(plan, Outlook(plan.sizing.expected, plan.plants, plan.plants, 1.0))
    rolling = _Rolling(season, plan, wish, facts, pickup)
    found = rolling.outlook()
    return Rolled(
        part=rolling.part(),
        outlook=found,
        late_by=max((rolling.ready - rolling.last_promised).days, 0),
        troubles=tuple(rolling.troubles(found)),
    )


@dataclass(frozen=True, slots=True)
class _SideNow:
    """One side as it stands: when it was or will be sown, was or will be up, and can be grafted.

    It can be raised until the day `raised_by`, and after that only be held cold, up to the day `last`.
    """

    course: SideCourse
    sown: date
    emerges: date
    first: date
    last: date
    rows: tuple[Rows, ...]  # germinating, raising, holding
    raised_by: date = date.max

    def raised(self, start: date) -> date:
        """When raising ends for that start: as late as the stem allows, if it can be held cold after that."""
        return max(min(start, self.raised_by), self.emerges) if self.course.holding else start


class _Rolling:
    """The dates of one part, worked out from its facts; everything in days, until the load wants indexes."""

    def __init__(self, season: Season, plan: PartPlan, wish: Wish, facts: PartFacts, pickup: date) -> None:
        self.season, self.plan, self.wish, self.facts, self.pickup = season, plan, wish, facts, pickup
        self.today = season.today
        self.entered = {each.stage: each.day for each in facts.entered}
        self.entered_by = {(each.stage, each.sowing): each.day for each in facts.entered}
        self.course = as_it_is(course_of(wish, plan.plants, season.places, season.prices), plan, facts)
        began = min([s.day for s in plan.sowings] + [s.first for s in plan.stays] + [self.today])
        self.load = Load(replace(season, today=began), max(pickup, self.today) + timedelta(days=400))
        self.allowed = Allowed(self.load, self.course)
        self.said: list[str] = []
        self.sides = [self._side(side) for side in self.course.sides]
        self.start = self._start()
        onward = Onward(season, self.course, plan, facts, pickup, self._last_collection())
        self.borders = onward.borders(self._starts())
        self.start = self.borders[0]

    @property
    def ready(self) -> date:
        return self.borders[-1]

    @property
    def last_promised(self) -> date:
        """The last day of those on which the customer was told to come."""
        pickup = self.load.index(self.pickup)
        return self.load.days[last_collection_day(self.load, self.wish, pickup)] if pickup >= 0 else self.pickup

    # --- sides ---

    def _side(self, side: SideCourse, day: date | None = None) -> _SideNow:
        """A side as recorded, or as planned (on that `day`, where one is given)."""
        facts = facts_of(side, self.facts) or SowingFacts(side.subject, number=side.number)
        planned = planned_of(side, self.plan)
        sown = facts.sown or day or self._sowing_day(side, planned)
        rows = tuple(self._rows(leg) for leg in side.legs)
        germination, raising = (self.season.places[found[0]].warmth for found in rows[:2])
        try:
            emerges = facts.emerged_on or max(windows.emerges(side, sown, germination), self._not_yet(facts))
            if side.subject == "plain":
                first = emerges + timedelta(days=side.raising.nights.usual)
                return _SideNow(side, sown, emerges, first, date.max, rows)
            window = graftable_window(side.material.clock, sown, germination, raising, emerges)
            raised_by = self._into_the_cold(side, window)
            last = raised_by + timedelta(days=side.longest_hold)
            return _SideNow(side, sown, emerges, window.first, last, rows, raised_by)
        except OutsideModel as outside:
            self.said.append(str(outside))
            emerges = facts.emerged_on or (planned.emerges if planned else sown)
            return _SideNow(side, sown, max(emerges, sown), self.today, date.max, rows)

    def _into_the_cold(self, side: SideCourse, window: Graftable) -> date:
        """The last day of raising: as recorded, as planned if the stem is fit then, or as the stem allows."""
        if side.holding is None:
            return window.last
        if (side.holding.stage.key, side.number) in self.entered_by:
            return self.entered_by[side.holding.stage.key, side.number]
        planned = (stay.first for stay in self.plan.stays if leg_of(stay) == side.holding.key)
        return next((day for day in planned if day in window and day >= self.today), window.last)

    def _sowing_day(self, side: SideCourse, planned: SowingPlan | None) -> date:
        if planned and (self.facts.grafted_on or self.facts.ready_on):
            return planned.day  # standing plants whose sowing nobody recorded
        held_back = side.material.seed_on_hand or self.today
        earliest = max(planned.day if planned else self.today, self.today, held_back)
        return next_open(self.season.calendar, earliest)

    def _not_yet(self, facts: SowingFacts) -> date:
        """Sown and not counted up: they are not up before today."""
        counted = facts.emerged is not None or facts.usable is not None
        return self.today if facts.sown and not counted else date.min

    def _rows(self, leg: Leg) -> Rows:
        """Where the plants of this sowing stand or were to stand; else where they may."""
        own = [stay for stay in self.plan.stays if leg_of(stay) == leg.key]
        kept = tuple(self.load.row[stay.place] for stay in own if stay.place in self.load.row)
        return kept or self.allowed.rows(leg)

    # --- the start ---

    def _start(self) -> date:
        """The grafting day; of a plain line the day on which raising ends."""
        if self.course.wish.kind == "plain":
            return self._raised()
        if self.facts.grafted_on:
            return self.facts.grafted_on
        fit = [side.first for side in self._that_match()]
        day = next_open(self.season.calendar, max([self.plan.graft_day or self.today, self.today, *fit]))
        self.sides = [self._sown_to_match(side, day) for side in self.sides]
        last = min(side.last for side in self._that_match())
        if day > last:
            self._say_outgrown(day)
            return day
        return next((d for d in self._days(day, last) if self._may_graft(d)), day)

    def _that_match(self) -> list[_SideNow]:
        """The sides, without sowings that are fit only when the first of their side is past it.

        Only of a side that is sown: what is still to be sown can be sown to match.
        """
        kept = list(self.sides)
        for subject in ("rootstock", "scion"):
            own = sorted((side for side in kept if side.course.subject == subject), key=lambda side: side.first)
            if all((facts := facts_of(side.course, self.facts)) and facts.sown for side in own):
                kept = [side for side in kept if side.course.subject != subject or side.first <= own[0].last]
        return kept

    def _sown_to_match(self, side: _SideNow, graft: date) -> _SideNow:
        """A side still to be sown, which would have outgrown the other by the graft, is sown later for it."""
        facts = facts_of(side.course, self.facts)
        if facts and facts.sown:
            return side
        germination, raising = (self.season.places[found[0]].warmth for found in side.rows[:2])
        with suppress(OutsideModel):
            window = windows.sowing_window(side.course, graft, germination, raising)
            if window and side.sown < window[0]:
                first, aim, last = window
                day = nearest_open(self.season.calendar, aim, first, last)
                return self._side(side.course, day) if day else side
        return side

    def _raised(self) -> date:
        first = self.course.legs[0].stage.key if self.course.legs else ""
        if first in self.entered:
            return self.entered[first]
        stays = [stay for stay in self.plan.stays if stay.stage == self.course.sides[0].raising.stage.key]
        planned = max((stay.leaves for stay in stays), default=self.today)
        shortest = self.sides[0].emerges + timedelta(days=self.course.sides[0].raising.nights.shortest)
        day, soonest = max(planned, shortest, self.today), max(shortest, self.today)
        if not self._start_needs_open():
            return day
        calendar = self.season.calendar
        return nearest_open(calendar, day, soonest, self._raised_at_longest()) or next_open(calendar, day)

    def _raised_at_longest(self) -> date:
        return self.sides[0].emerges + timedelta(days=self.course.sides[0].raising.nights.longest)

    def _start_needs_open(self) -> bool:
        rules = [rule for side in self.course.sides for rule in side.raising.stage.works if rule.at_end]
        rules += [rule for leg in self.course.legs[:1] for rule in at_entry(leg)]
        return any(not rule.care for rule in rules)

    def _days(self, first: date, last: date) -> Iterator[date]:
        most = min((last - first).days, 30)
        return (first + timedelta(days=number) for number in range(most + 1))

    def _may_graft(self, day: date) -> bool:
        rules = [rule for rule in self.course.legs[0].stage.works if rule.kind == GRAFT]
        hours = hours_of(rules[0], self.course.legs[0].plants) if rules else ()
        part = rules[0].part if rules else ANY_TIME
        return bool(self.load.days_for(hours, part, care=False)[self.load.index(day)])

    def _say_outgrown(self, day: date) -> None:
        for side in self._that_match():
            if side.last < day:
                until, from_day = day_words(side.last, self.today), day_words(day, self.today)
                self.said.append(
                    f"The {side.course.subject} is fit to graft until {until} only, both not before {from_day}."
                )

    # --- after the start ---

    def _starts(self) -> Iterator[date]:
        """The start that was found, and later ones in case no nights lead from it to a pickup."""
        yield self.start
        if self.facts.grafted_on or self.course.legs[0].stage.key in self.entered:
            return
        grafted = self.course.wish.kind == "grafted"
        last = min(side.last for side in self._that_match()) if grafted else self._raised_at_longest()
        days = self._days(self.start + timedelta(days=1), last)
        yield from (day for day in days if self.season.calendar.is_open(day))

    # --- the plan ---

    def part(self) -> PartPlan:
        settled = Settled(self.load, self.allowed, self._dates(), must_fit=False).part(self.plan.number, 1)
        stays = tuple(self._where_it_stands(stay) for stay in settled.stays)
        works = still_to_do(settled.works, self.course, self.facts, self.season.calendar, self.today)
        return replace(
            settled,
            plants=self.plan.plants,
            sizing=self.course.sizing,
            ready=self.ready,
            stays=stays,
            works=in_order([*works]),
        )

    def _dates(self) -> Dates:
        at = self.load.index
        sown = tuple(
            Sown(at(side.sown), at(side.emerges), at(side.raised(self.start)), 0, *side.rows)
            for side in self._sides_that_still_matter()
        )
        pickup = at(next_open(self.season.calendar, max(self.pickup, self.ready, self.today)))
        last = max(at(self._last_collection()), pickup)
        if self.ready > self.last_promised:
            last = last_collection_day(self.load, self.wish, pickup)
        return Dates(sown, tuple(at(day) for day in self.borders), pickup, last, 0)

    def _last_collection(self) -> date:
        """The last day on which plants that are ready in time will be collected, if not that they are late."""
        pickup = self.load.index(next_open(self.season.calendar, self.pickup))
        return self.load.days[last_collection_day(self.load, self.wish, pickup)] if pickup >= 0 else self.pickup

    def _sides_that_still_matter(self) -> list[_SideNow]:
        """Both sides, none of them up after it was grafted, whatever was written down."""
        return [replace(side, emerges=min(side.emerges, max(self.start, side.sown))) for side in self.sides]

    def _where_it_stands(self, stay: StayPlan) -> StayPlan:
        """Plants that were recorded somewhere stand there until they are recorded elsewhere."""
        if (stay.stage, stay.sowing) not in self.entered_by:
            return stay
        known = [each for each in self.plan.stays if leg_of(each) == leg_of(stay)]
        return replace(stay, place=known[0].place) if len(known) == 1 else stay

    # --- what will come of it ---

    def outlook(self) -> Outlook:
        recipe = self.wish.recipe
        scion = self.wish.scion
        assert recipe is not None
        assert scion is not None
        if self.wish.kind == "plain":
            return outlook(self.plan.plants, self.facts, self.plan.sizing, scion, recipe.kept)
        return outlook(
            self.plan.plants,
            self.facts,
            self.plan.sizing,
            scion,
            recipe.kept,
            rootstock=self.wish.rootstock,
            take=recipe.take,
        )

    def troubles(self, found: Outlook) -> Iterator[str]:
        yield from self.said
        if not self.season.calendar.is_open(self.pickup) and self.pickup >= self.today:
            yield f"{day_words(self.pickup, self.today)}, the day promised, is closed."
        if self.ready > self.last_promised:
            yield f"Ready on {day_words(self.ready, self.today)}, after the last day promised."
        if found.expected >= self.plan.plants and found.chance >= DOUBTFUL:
            return
        yield f"About {round(found.expected)} of {self.plan.plants} plants are to be expected."
        if self.facts.grafted_on is None and self.facts.ready is None:
            yield self._sowing_again()

    def _sowing_again(self) -> str:
        shortest = sum(leg.nights.shortest for leg in self.course.legs)
        last_start = self.last_promised - timedelta(days=shortest)
        last_days = {side.course.subject: self._last_sowing(side, last_start) for side in self.sides}
        return words_for(self.wish, self.plan, self.facts, last_days, self.today)

    def _last_sowing(self, side: _SideNow, last_start: date) -> date | None:
        clock, calendar = _material(side).clock, self.season.calendar
        germination, raising = (self.season.places[rows[0]].warmth for rows in side.rows[:2])
        if side.course.subject == "plain":
            up = last_start - timedelta(days=side.course.raising.nights.shortest)
            return last_sowing_up_by(clock, up, germination, calendar)
        return last_useful_sowing(clock, last_start, germination, raising, calendar)


def _material(side: _SideNow) -> Material:
    return side.course.material
