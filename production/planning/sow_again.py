"""Falling short: how many seeds to sow again, of which side, and until which day it still helps."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date

from production.planning.forecast import NONE_LOST, chance_of_enough
from production.planning.terms import (
    Material,
    PartFacts,
    PartPlan,
    Rate,
    Sizing,
    SowingFacts,
    Subject,
    Wish,
)
from production.planning.wording import day_words

# More than so many times the seeds once planned is no help but another order.
MOST_TIMES = 4
# A chance that would grow by no more than this is as good as it gets.
NO_MORE = 0.002


# The last day on which seed of each side, sown again, would come in time; None: no day any more.
LastDays = dict[Subject, date | None]


@dataclass(frozen=True, slots=True)
class SowAgain:
    """Seeds of one side to sow again by a day, and the chance of enough plants before and with them.

    `reached` is false where all the seeds worth sowing do not bring the chance to the level: then the other side,
    or the number of grafts, is what is short. `together` is true where both sides are short, and each must be sown
    again with the other. `by` is None when no day is left.
    """

    subject: Subject
    seeds: int
    by: date | None
    before: float
    chance: float
    reached: bool
    together: bool = False


def sow_again(
    wanted: int,
    level: float,
    facts: PartFacts,
    sizing: Sizing,
    last_days: LastDays,
    scion: Material,
    kept: Rate,
    rootstock: Material | None = None,
    take: Rate = NONE_LOST,
) -> tuple[SowAgain, ...]:
    """For each side in `last_days`: the fewest seeds that bring the chance to `level`.

    Where neither side alone is enough, seeds of both together, if that is. Empty once the part is grafted, or
    while the chance is at the level without. As many grafts as were planned are made at most.
    """
    part = _Part(wanted, facts, sizing, scion, kept, rootstock, take)
    if part.past_grafting or part.chance({}) >= level:
        return ()
    ways = tuple(part.again(subject, by, level) for subject, by in last_days.items())
    if any(way.reached for way in ways) or len(ways) < 2:
        return ways
    return part.both_again(last_days, level) or ways


@dataclass(frozen=True, slots=True)
class _Part:
    wanted: int
    facts: PartFacts
    sizing: Sizing
    scion: Material
    kept: Rate
    rootstock: Material | None
    take: Rate

    @property
    def past_grafting(self) -> bool:
        return any(count is not None for count in (self.facts.grafted, self.facts.taken, self.facts.ready))

    def planned(self, subject: Subject) -> int:
        return self.sizing.rootstock_seeds if subject == "rootstock" else self.sizing.scion_seeds

    def chance(self, again: dict[Subject, int]) -> float:
        """The chance of enough plants with so many seeds sown again of each side."""
        sowings = self.facts.sowings
        for subject, seeds in again.items():
            sowings = _with(sowings, subject, seeds, self.planned(subject))
        facts = replace(self.facts, sowings=sowings)
        return chance_of_enough(self.wanted, facts, self.sizing, self.scion, self.kept, self.rootstock, self.take)

    def again(self, subject: Subject, by: date | None, level: float) -> SowAgain:
        most = MOST_TIMES * self.planned(subject)
        seeds, reached = _fewest(lambda number: self.chance({subject: number}), level, most)
        return SowAgain(subject, seeds, by, self.chance({}), self.chance({subject: seeds}), reached)

    def both_again(self, last_days: LastDays, level: float) -> tuple[SowAgain, ...]:
        """Seeds of all sides at once, in the proportion they were planned; none if that does not help either."""
        largest = max(self.planned(subject) for subject in last_days)

        def seeds(number: int) -> dict[Subject, int]:
            return {subject: -(-number * self.planned(subject) // largest) for subject in last_days}

        number, reached = _fewest(lambda number: self.chance(seeds(number)), level, MOST_TIMES * largest)
        if not reached:
            return ()
        found, before, chance = seeds(number), self.chance({}), self.chance(seeds(number))
        return tuple(SowAgain(each, found[each], by, before, chance, True, True) for each, by in last_days.items())


def words_for(wish: Wish, part: PartPlan, facts: PartFacts, last_days: LastDays, today: date) -> str:
    """Until when sowing again helps a part that runs short, and how many seeds would do."""
    known = [day for day in last_days.values() if day is not None]
    if not known or min(known) < today:
        return "Sowing again would come too late for the day promised."
    until = f"Sowing again helps until {day_words(min(known), today)}"
    recipe, scion, rootstock = wish.recipe, wish.scion, wish.rootstock
    if recipe is None or scion is None:
        return f"{until}."
    grown = (scion, recipe.kept, rootstock, recipe.take if rootstock else NONE_LOST)
    ways = [
        way for way in sow_again(part.plants, wish.level, facts, part.sizing, last_days, *grown) if way.reached
    ]
    if not ways:
        return f"{until}."
    joined = " and " if ways[0].together else ", or "
    names: dict[Subject, str] = {"scion": scion.name, "plain": scion.name}
    if rootstock:
        names["rootstock"] = rootstock.name
    fewest = sorted(ways, key=lambda way: way.seeds)
    seeds = joined.join(f"{way.seeds} more seeds of {names[way.subject]}" for way in fewest)
    return f"{until}: {seeds} would bring the chance of enough to {wish.level:.0%}."


def _with(sowings: tuple[SowingFacts, ...], subject: Subject, seeds: int, planned: int) -> tuple[SowingFacts, ...]:
    """The sowings and one more; what of that side is not yet counted out stays as planned."""
    told = [_with_number(sowing) for sowing in sowings if sowing.subject == subject]
    missing = 0
    if not told or None in told:
        missing = max(planned - sum(number or 0 for number in told), 0)
    known = tuple(s for s in sowings if s.subject != subject or _with_number(s) is not None)
    return (*known, SowingFacts(subject, seeds=missing), SowingFacts(subject, seeds=seeds))


def _with_number(sowing: SowingFacts) -> int | None:
    """The seeds of a sowing, nought where only its seedlings are known; None where nothing is."""
    nothing = (sowing.seeds, sowing.emerged, sowing.usable) == (None, None, None)
    return None if nothing else sowing.seeds or 0


def _fewest(chance: Callable[[int], float], level: float, most: int) -> tuple[int, bool]:
    """The fewest seeds with which the chance reaches the level, or else comes as near to it as it ever does."""
    best = chance(most)
    aim = level if best >= level else best - NO_MORE
    low, high = 0, most
    while low < high:
        half = (low + high) // 2
        low, high = (low, half) if chance(half) >= aim else (half + 1, high)
    return high, best >= level
