"""How long a promise takes beside a season of forty lines: `uv run python -m tests.bench.promise`.

Processor time, so that others on the machine do not matter. Aims: a yes under 50 ms, a no with the nearest days
under 300 ms.
"""

from __future__ import annotations

import random
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

from production.planning.claims import place_claims
from production.planning.promise import promise
from production.planning.terms import RoomClaim, Season, Wish
from tests.planning import nursery


def season_of(lines: int, chance: random.Random) -> Season:
    """What a season looks like after so many wishes were asked in a row; those that did not fit are not in it."""
    season = nursery.season()
    for answer in promise(season, [_wish(number, chance) for number in range(lines)]):
        if answer.fits and answer.plan:
            room, hands = place_claims(answer.plan, answer.wish.key)
            season = replace(season, room=season.room + room, hands=season.hands + hands)
    return season


def _wish(number: int, chance: random.Random) -> Wish:
    pickup = nursery.MONDAY + timedelta(days=chance.randrange(55, 120))
    recipe = nursery.side_graft() if chance.random() < 0.3 else nursery.splice()
    quantity = chance.choice([20, 40, 60, 80, 120])
    label = f"Order {number}, line 1"
    return nursery.wish(quantity, pickup, key=f"line {number}", label=label, recipe=recipe, earlier=2, later=3)


def measured(season: Season) -> Iterator[tuple[str, float]]:
    for quantity in (20, 60, 120, 300, 600):
        for by in range(50, 130, 6):
            wish = nursery.wish(quantity, nursery.MONDAY + timedelta(days=by))
            begun = time.process_time()
            (answer,) = promise(season, [wish])
            yield "yes" if answer.fits else "no", (time.process_time() - begun) * 1000


def hopeless(season: Season) -> Iterator[tuple[str, float]]:
    """What no day for two months either way can take: each full place in turn, and far too many plants."""
    empty = nursery.season()
    full = [_full(season, key) for key in ("germination", "healing", "hardening", "bench_b", "staging")]
    for ground, quantity in [*((each, 300) for each in full), (empty, 1000)]:
        for recipe in (nursery.splice(), nursery.side_graft()):
            wish = nursery.wish(quantity, nursery.MONDAY + timedelta(days=100), recipe=recipe)
            begun = time.process_time()
            (answer,) = promise(ground, [wish])
            spent = (time.process_time() - begun) * 1000
            if not (answer.fits or answer.earlier or answer.later):
                yield "hopeless", spent


def _full(season: Season, key: str) -> Season:
    taken = RoomClaim("full", "Full", key, season.today, 180, season.place(key).capacity)
    return replace(season, room=(*season.room, taken))


def main() -> None:
    season = season_of(40, random.Random(4))
    found = [*measured(season), *hopeless(season)]
    for kind in ("yes", "no", "hopeless"):
        times = sorted(ms for said, ms in found if said == kind)
        middle, worst = times[len(times) // 2], times[-1]
        sys.stdout.write(f"{kind}: {len(times)} answers, median {middle:.0f} ms, worst {worst:.0f} ms\n")


if __name__ == "__main__":
    main()
