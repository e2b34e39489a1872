"""What is judged: a fault, and one part of a plan beside all that it must keep to."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property

from production.planning.terms import (
    BENCH,
    GROW_ON,
    STAGING,
    TOP,
    WAITING,
    Container,
    Done,
    LinePlan,
    Material,
    Nights,
    PartFacts,
    PartPlan,
    Place,
    Season,
    SowingPlan,
    Stage,
    StayPlan,
    Subject,
    WorkPlan,
    WorkRule,
)

EASE = 1e-6  # what floats may differ by, far below a tray, a degree or a minute
ONE_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Fault:
    """One rule that a plan breaks: which line and part, where, on which night or day, by how much, in words.

    `amount` is in the unit of the rule: nights, plants, seeds, containers, °C·d, hours or load.
    """

    rule: str
    line: str
    words: str
    part: int | None = None
    place: str | None = None
    day: date | None = None
    amount: float | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """A stage as the plants of this part must go through it."""

    subject: Subject
    key: str
    name: str
    kinds: tuple[str, ...]
    container: Container | None
    nights: Nights
    works: tuple[WorkRule, ...] = ()
    room: float = 1.0  # of one plant, against what its container says


@dataclass(frozen=True)
class Case:
    """One part of one plan. What began before today is history if the line has begun, and else a fault.

    What is recorded in `facts` is history whenever it was, and only ever of a line that has begun.
    """

    season: Season
    plan: LinePlan
    part: PartPlan
    begun: bool
    facts: PartFacts

    def fault(
        self,
        rule: str,
        words: str,
        *,
        place: str | None = None,
        day: date | None = None,
        amount: float | None = None,
    ) -> Fault:
        return Fault(rule, self.plan.wish.label, words, self.part.number, place, day, amount)

    def is_history(self, day: date) -> bool:
        return self.begun and day < self.season.today

    def is_sown(self, sowing: SowingPlan) -> bool:
        of_it = (sowing.subject, sowing.number)
        sown = any((known.subject, known.number) == of_it and known.sown for known in self.facts.sowings)
        return sown or self.is_history(sowing.day)

    def is_grafted(self, day: date) -> bool:
        return self.facts.grafted_on is not None or self.is_history(day)

    def is_entered(self, stage: str, first: date, sowing: int) -> bool:
        """Whether plants are there already: before the graft, those of the sowing of that number."""
        entered = any((each.stage, each.sowing) == (stage, sowing) for each in self.facts.entered)
        return entered or stage in self._behind or self.is_history(first)

    @cached_property
    def _behind(self) -> set[str]:
        """The steps after the start that the plants came to, by the records, and those before them."""
        entered, after = {each.stage for each in self.facts.entered}, [step.key for step in self.after]
        if self.facts.ready_on:
            return {*after, *({WAITING} & entered)}
        course = [*after, WAITING]
        reached = max((number for number, key in enumerate(course, start=1) if key in entered), default=0)
        return set(course[:reached])

    @cached_property
    def is_in_last_stage(self) -> bool:
        return bool(self.after) and self.after[-1].key in self._behind

    def is_done(self, work: WorkPlan) -> bool:
        of_it = (work.kind, work.subject, work.stage, self.sowing_of(work))
        done = any(
            (each.kind, each.subject, each.stage, self.sowing_of(each)) == of_it for each in self.facts.done
        )
        return done or self.is_history(work.day)

    @cached_property
    def counted(self) -> bool:
        """Whether counts may have changed how many plants there are."""
        if self.facts != PartFacts():
            return True
        days = [sowing.day for sowing in self.part.sowings] + [stay.first for stay in self.part.stays]
        return any(self.is_history(day) for day in days)

    def place(self, key: str) -> Place | None:
        return next((place for place in self.season.places if place.key == key), None)

    # --- the course that these plants must take ---

    @cached_property
    def topped(self) -> bool:
        return self.plan.wish.topped and self.plan.wish.leaders == 2

    @cached_property
    def materials(self) -> dict[Subject, Material]:
        """By side, what must be sown."""
        wish = self.plan.wish
        if wish.kind == "plain" and wish.scion:
            return {"plain": wish.scion}
        if wish.kind == "grafted" and wish.rootstock and wish.scion:
            return {"rootstock": wish.rootstock, "scion": wish.scion}
        return {}

    @cached_property
    def sides(self) -> dict[Subject, tuple[Step, ...]]:
        """By side: germinating, raising, and cold holding where the protocol has it."""
        recipe = self.plan.wish.recipe
        if recipe is None:
            return {}
        stages = {"rootstock": recipe.rootstock, "scion": recipe.scion, "plain": recipe.plain}
        return {side: tuple(self._step(stage, side) for stage in stages[side]) for side in self.materials}

    @cached_property
    def after(self) -> tuple[Step, ...]:
        """From the graft (or, of a plain line, from raising) until ready."""
        recipe = self.plan.wish.recipe
        if recipe is None:
            return ()
        subject: Subject = "plain" if self.plan.wish.kind == "plain" else "union"
        grows = [index for index, stage in enumerate(recipe.union) if stage.kind == GROW_ON]
        topped = (grows or [len(recipe.union) - 1])[-1] if self.topped else -1
        return tuple(self._step(stage, subject, index == topped) for index, stage in enumerate(recipe.union))

    @cached_property
    def waiting(self) -> Step:
        """From ready to the last day of collection: in staging if the nursery has any, else on a bench."""
        staging = any(STAGING in place.kinds for place in self.season.places)
        last = self.after[-1] if self.after else next(iter(self.sides.values()))[-1]
        keeping = self.plan.wish.recipe.keeping if self.plan.wish.recipe else 0
        kinds = (STAGING,) if staging else (BENCH,)
        return Step(last.subject, WAITING, "waiting for pickup", kinds, last.container, Nights(0, 0, keeping))

    def _step(self, stage: Stage, subject: Subject, topped: bool = False) -> Step:
        recipe = self.plan.wish.recipe
        nights, room = stage.nights, 1.0
        if topped and recipe:
            more, room = recipe.topping, recipe.topped_room
            nights = Nights(
                nights.shortest + more.shortest, nights.usual + more.usual, nights.longest + more.longest
            )
        works = tuple(rule for rule in stage.works if rule.kind != TOP or self.topped)
        container = stage.container or self.plan.wish.container
        return Step(subject, stage.key, stage.name, stage.place_kinds, container, nights, works, room)

    def step_of(self, subject: Subject, stage: str) -> Step | None:
        for step in (*self.sides.get(subject, ()), *self.after, self.waiting):
            if (step.subject, step.key) == (subject, stage):
                return step
        return None

    def is_of_a_side(self, subject: Subject, stage: str) -> bool:
        """Whether a stage is one that each sowing goes through by itself."""
        return any(step.key == stage for step in self.sides.get(subject, ()))

    def sowing_of(self, what: StayPlan | WorkPlan | Done) -> int:
        """The number of its sowing, where it is one of a side; what it says elsewhere has no meaning."""
        return what.sowing if self.is_of_a_side(what.subject, what.stage) else 1

    # --- what the plan says ---

    def raised(self, sowing: SowingPlan) -> date | None:
        """The day on which raising of a sowing ends: the start, or the day on which it goes into the cold."""
        _germinating, raising, *holding = self.sides[sowing.subject]
        if not holding:
            return self.start
        return max((stay.leaves for stay in self.stays(raising, sowing.emerges, sowing)), default=sowing.emerges)

    @cached_property
    def start(self) -> date | None:
        """The day on which both sides end: grafting, or the end of raising of a plain line."""
        if self.plan.wish.kind == "grafted":
            return self.part.graft_day
        later = [stay.first for step in self.after for stay in self.stays(step)]
        return min(later, default=self.part.ready)

    def sowings(self, subject: Subject) -> Iterator[SowingPlan]:
        return (sowing for sowing in self.part.sowings if sowing.subject == subject)

    def stays(self, step: Step, first: date | None = None, sowing: SowingPlan | None = None) -> list[StayPlan]:
        """All stands of a step, or those that begin on one day; of a side, those of one sowing."""
        return [
            stay
            for stay in self.part.stays
            if (stay.subject, stay.stage) == (step.subject, step.key)
            and first in (None, stay.first)
            and (sowing is None or stay.sowing == sowing.number)
        ]

    def hand_over_day(self) -> date:
        """The pickup; of a line that has begun, the next day open where it is missed or was closed since."""
        day = self.plan.pickup
        return self.open_from(max(day, self.part.ready, self.season.today)) if self.begun else day

    def last_collection_day(self) -> date:
        """The last of so many open days from the pickup on, and not before the plants can be handed over."""
        day, left = self.plan.pickup, self.plan.wish.collection - 1
        day = self.open_from(day) if self.begun else day
        for _ in range(366):
            if left <= 0:
                break
            day += ONE_DAY
            left -= self.season.calendar.is_open(day)
        return max(day, self.hand_over_day())

    def open_from(self, day: date) -> date:
        days = (day + ONE_DAY * n for n in range(366))
        return next((each for each in days if self.season.calendar.is_open(each)), day)


def whole(plants: int, each: int) -> int:
    """Containers for so many plants."""
    return -(-plants // each)


def said(day: date) -> str:
    """A day in words: Tue 21 April 2026."""
    return f"{day:%a} {day.day} {day:%B %Y}"
