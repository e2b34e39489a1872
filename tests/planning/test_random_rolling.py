"""Plants that live through random weeks: work late or not recorded, fewer up than hoped, plans rolled day by day.

Each morning and evening the part is planned again from what was recorded, and the referee, told that the line is
under way, finds nothing impossible in what is still to come. `pytest --hypothesis-profile=search` tries hundreds.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date
from random import Random

from hypothesis import assume, given

from production.planning import terms
from production.planning.check import Fault, faults
from production.planning.promise import promise
from production.planning.rolling import roll
from production.planning.terms import (
    Done,
    Entered,
    LinePlan,
    PartFacts,
    PartPlan,
    Season,
    SowingFacts,
    StayPlan,
    WorkPlan,
)
from tests.planning.seasons import DAY
from tests.planning.test_random_seasons import drawn, seeds, tried

MOST_DAYS = 150


@dataclass
class Life:
    """One part of a plan, lived day by day: what was recorded of it, and its plan as last rolled."""

    season: Season
    line: LinePlan
    part: PartPlan
    chance: Random
    diligence: float  # chance that work is recorded on its day
    facts: PartFacts = field(default_factory=PartFacts)

    @property
    def plan(self) -> LinePlan:
        wish = replace(self.line.wish, quantity=self.part.plants, pickup=self.line.pickup)
        return LinePlan(wish, self.line.pickup, (self.part,))

    def roll(self, today: date) -> list[Fault]:
        """Plan again on that day; what the referee finds in it."""
        self.season = replace(self.season, today=today)
        self.part = roll(self.season, self.part, self.plan.wish, self.facts, self.line.pickup).part
        key = self.line.wish.key
        return faults(self.season, [self.plan], begun=frozenset({key}), recorded={key: self.facts})

    def record(self, today: date) -> None:
        """Some of the work of this day, and the borders that need no carrying."""
        for work in self.part.works:
            if (
                work.day == today
                and self._key(work) not in self.facts.done
                and self.chance.random() < self.diligence
            ):
                self._done(work, today)
        for stay in sorted(self.part.stays, key=lambda stay: stay.first):
            if stay.first <= today and self._comes_by_itself(stay):
                self._enter(stay.stage, today)

    def _key(self, work: WorkPlan) -> Done:
        return Done(work.kind, work.subject, work.stage, work.sowing)

    def _done(self, work: WorkPlan, today: date) -> None:
        """Record a piece of work, unless what it rests on was not recorded."""
        fact = self._fact(work)
        if work.kind == terms.SOW:
            self._know(work, sown=today, seeds=max(1, work.plants - self.chance.choice((0, 0, 5))))
        elif work.kind in (terms.COUNT_EMERGED, terms.COUNT_USABLE):
            if fact is None or fact.seeds is None:
                return
            up = round(fact.seeds * self.chance.choice((0.3, 0.6, 0.8, 0.9, 1.0)))
            if work.kind == terms.COUNT_EMERGED:
                self._know(work, emerged=up, emerged_on=today)
            else:
                self._know(work, usable=up if fact.emerged is None else min(up, fact.emerged))
        elif work.kind == terms.GRAFT and self.line.wish.kind == "grafted":
            if len(self.facts.sowings) < len(self.part.sowings):
                return
            self.facts = replace(self.facts, grafted_on=today, grafted=max(1, work.plants))
            self._enter(work.stage, today)
        elif work.kind == terms.COUNT_TAKEN:
            self.facts = replace(self.facts, taken=round(work.plants * self.chance.choice((0.5, 0.9, 1.0))))
        elif work.kind == terms.COUNT_READY:
            if not self._in_last_leg(today):
                return
            self.facts = replace(self.facts, ready=round(work.plants * 0.9), ready_on=today)
        self.facts = replace(self.facts, done=(*self.facts.done, self._key(work)))

    def _in_last_leg(self, today: date) -> bool:
        return self._entered.get(self._stages[-1], today) < today

    @property
    def _entered(self) -> dict[str, date]:
        return {each.stage: each.day for each in self.facts.entered}

    @property
    def _stages(self) -> list[str]:
        assert self.line.wish.recipe
        return [stage.key for stage in self.line.wish.recipe.union]

    def _comes_by_itself(self, stay: StayPlan) -> bool:
        """Into a later stage of the union once grafted, or of a plain line once its seedlings are up."""
        if stay.stage not in self._stages or stay.stage in self._entered:
            return False
        if self.line.wish.kind == "grafted" and self.facts.grafted_on is None:
            return False
        if self.line.wish.kind == "plain" and not all(f.emerged is not None for f in self.facts.sowings):
            return False
        return bool(self.facts.sowings) and self.chance.random() < self.diligence

    def _enter(self, stage: str, today: date) -> None:
        self.facts = replace(self.facts, entered=(*self.facts.entered, Entered(stage, today)))

    def _fact(self, work: WorkPlan) -> SowingFacts | None:
        of_it = (work.subject, work.sowing)
        return next((f for f in self.facts.sowings if (f.subject, f.number) == of_it), None)

    def _know(self, work: WorkPlan, **known: object) -> None:
        fact = self._fact(work) or SowingFacts(work.subject, number=work.sowing)
        others = tuple(f for f in self.facts.sowings if (f.subject, f.number) != (work.subject, work.sowing))
        self.facts = replace(self.facts, sowings=(*others, replace(fact, **known)))


@tried
@given(seeds)
def test_whatever_is_recorded_the_plan_rolled_on_holds_nothing_impossible(seed: int) -> None:
    season, (wish,), chance = drawn(seed, most=1)
    (answer,) = promise(season, [wish])
    assume(answer.plan and answer.plan.parts and wish.kind != "room")
    assert answer.plan
    life = Life(season, answer.plan, answer.plan.parts[0], chance, diligence=chance.choice((0.3, 0.7, 0.95)))
    today = max(season.today, life.part.works[0].day - 3 * DAY)
    for _day in range(MOST_DAYS):
        assert life.roll(today) == []
        life.record(today)
        assert life.roll(today) == []
        if life.facts.ready is not None:
            return
        today += DAY
