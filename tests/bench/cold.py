"""What cold holding takes off the peak week of grafting, beside what was published: `python -m tests.bench.cold`.

Published: over six patterns of demand, holding seedlings in the cold took 31 to 50 % off the labour of the peak
week (Kubota et al. 2017, PLoS ONE e0170614). Ours are other patterns, committed before the first run
(cold_patterns.py).

Not by levelling, but by a plain choice of grafting days: small lines are placed by the planner one by one, the
latest pickup first, each on the day asked for, and the hours of the grafters are lowered as far as all of them
still find their place. All else there is plenty of. Four ways of growing are compared:

- usual: every stage lasts its usual nights, whatever that asks of the grafters;
- cold: the same, but grafts may be held cold for up to four weeks, which comes nearest to what was published;
- slack: no cold, but growing on and the wait for pickup may give, as in the protocol of the tests;
- both: slack, and cold for the rest.

Measured on 26 November 2026 over the six patterns: cold -50, -78, -60, -55, -55, -61 %; slack -45 to -75 %; both
-60 to -82 %. More than was published, since nothing but the hands of the grafters has a limit or a price here, and
since some of these patterns have steeper peaks. (The very first run, with coarse lines of 100: both -50 to -75 %.)
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, timedelta

from production.planning.calendar import week_of
from production.planning.claims import place_claims
from production.planning.load import Load
from production.planning.options import Ways
from production.planning.promise import plan_as_asked
from production.planning.terms import COLD_HOLD, GRAFT, LinePlan, Nights, Recipe, Season, Stage, Wish
from tests.bench.cold_patterns import PATTERNS
from tests.planning import nursery

PUBLISHED = "-31 to -50 %"
FIRST_PICKUP = nursery.MONDAY + timedelta(days=140)
PLENTY = 100_000.0
EACH = 10  # plants a line; with lines of 100 or of 25, tried first, days came in steps too coarse to compare
FINENESS = 0.1  # hours a day


def wishes(pattern: Sequence[int], recipe: Recipe) -> Iterator[Wish]:
    """Lines of one size, over the open days of their week."""
    for week, hundreds in enumerate(pattern):
        lines = hundreds * 100 // EACH
        for number in range(lines):
            pickup = FIRST_PICKUP + timedelta(days=7 * week + number * 6 // lines)
            key = f"{week}-{number}"
            yield nursery.wish(EACH, pickup, key=key, label=f"Order {key}", recipe=recipe)


def season(hours: float) -> Season:
    """One grafter with these hours a day, six days a week; of all else there is plenty, on Sundays too."""
    names = ("germination", "bench_a", "bench_b", "healing", "hardening", "staging", "cold")
    grafter = replace(nursery.grafter(skills=("graft",)), hours=(hours,) * 6 + (0.0,))
    crew = nursery.grafter("crew", hours=PLENTY, skills=("crew",))
    places = nursery.places(**dict.fromkeys(names, PLENTY))
    crew = replace(crew, hours=(PLENTY,) * 7, care_hours=PLENTY)
    return nursery.season(
        calendar=nursery.calendar(weekdays=frozenset(range(7))), places=places, people=(grafter, crew)
    )


def placed(pattern: Sequence[int], recipe: Recipe, hours: float) -> list[LinePlan] | None:
    """All lines one after the other, the latest first; None if one of them finds no day."""
    load = Load(season(hours), asks=nursery.asks("graft", "crew"))
    plans = []
    for wish in sorted(wishes(pattern, recipe), key=lambda wish: wish.pickup, reverse=True):
        plan = Ways(load, wish, parts=1).best(wish.pickup)
        if plan is None:
            return None
        load.take(*place_claims(plan, wish.key))
        plans.append(plan)
    return plans


def levelled(pattern: Sequence[int], recipe: Recipe) -> list[LinePlan]:
    """The plans at the fewest hours a day that are enough."""
    low, high = 0.0, 60.0
    best = placed(pattern, recipe, high)
    assert best is not None
    while high - low > FINENESS:
        half = (low + high) / 2
        found = placed(pattern, recipe, half)
        if found is None:
            low = half
        else:
            high, best = half, found
    return best


def rigid(recipe: Recipe) -> Recipe:
    """No stage gives, but for cold holding, and no plant waits for its pickup."""
    held = tuple(
        stage if stage.kind == COLD_HOLD else replace(stage, nights=_usual(stage)) for stage in recipe.union
    )
    return replace(recipe, union=held, keeping=0)


def _usual(stage: Stage) -> Nights:
    return Nights(stage.nights.usual, stage.nights.usual, stage.nights.usual)


def as_usual(pattern: Sequence[int]) -> list[LinePlan]:
    free = season(PLENTY)
    return [plan_as_asked(free, wish) for wish in wishes(pattern, nursery.splice())]


def peak_week(plans: Sequence[LinePlan]) -> float:
    """Hours of grafting in the week that asks most."""
    weeks: Counter[date] = Counter()
    for plan in plans:
        for work in plan.works:
            if work.kind == GRAFT:
                weeks[week_of(work.day)] += work.total_hours  # type: ignore[assignment]
    return float(max(weeks.values()))


def main() -> None:
    slack, both = nursery.splice(), nursery.with_cold_hold(nursery.splice())
    ways = {"cold": rigid(both), "slack": slack, "both": both}
    sys.stdout.write(f"{'hours of the peak week':22} {'usual':>8} {'cold':>14} {'slack':>14} {'both':>14}\n")
    for name, pattern in PATTERNS.items():
        usual = peak_week(as_usual(pattern))
        peaks = (peak_week(levelled(pattern, recipe)) for recipe in ways.values())
        said = " ".join(f"{peak:7.1f} {peak / usual - 1:6.0%}" for peak in peaks)
        sys.stdout.write(f"{name:22} {usual:8.1f} {said}\n")
        sys.stdout.flush()
    sys.stdout.write(f"published for cold holding: {PUBLISHED}\n")


if __name__ == "__main__":
    main()
