"""What a part will deliver, judged from the counts so far; and until when sowing again still helps.

A stage that has been counted is a number and no longer a chance; what is still to come keeps its share, sharpened
by what the same seed has already shown.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from math import isinf

import numpy as np

from production.planning.calendar import previous_open
from production.planning.chances import Array, combine, distribution, finishing, from_above
from production.planning.clocks import FARTHEST, OutsideModel, emergence_date, sowing_day_for
from production.planning.terms import (
    Calendar,
    Clock,
    Material,
    Outlook,
    PartFacts,
    Rate,
    Sizing,
    SowingFacts,
    Subject,
    Warmth,
)

NONE_LOST = Rate(1.0)

# A distribution is taken at so many numbers between the nearly sure and the nearly impossible, and between them
# by straight lines, where there are more.
POINTS = 600
NEARLY = 1e-9


def learned(rate: Rate, came: int, of: int) -> Rate:
    """The share after a count: so many came of so many. A count weighs one plant's worth for each plant."""
    if not 0 <= came <= of:
        raise ValueError(f"{came} cannot come of {of}")
    if isinf(rate.weight) or of == 0:
        return rate
    return Rate((rate.mean * rate.weight + came) / (rate.weight + of), rate.weight + of)


def outlook(
    wanted: int,
    facts: PartFacts,
    sizing: Sizing,
    scion: Material,
    kept: Rate,
    rootstock: Material | None = None,
    take: Rate = NONE_LOST,
) -> Outlook:
    """What one part is expected to deliver, of `wanted` plants, after the counts in `facts`.

    `sizing` is what the part was planned with: its numbers stand for what is not yet sown or grafted. A plain
    line has no rootstock and no take; its single variety is given as `scion`, its sowings are those of 'plain'.
    The latest count along the chain decides: ready, then taken (less what was lost since), then grafted, then the
    usable and emerged seedlings and the seeds of each side.
    """
    return _reckoned(wanted, *_standing(facts, sizing, scion, kept, rootstock, take))


def deliverable(
    facts: PartFacts,
    sizing: Sizing,
    scion: Material,
    kept: Rate,
    rootstock: Material | None = None,
    take: Rate = NONE_LOST,
) -> Array:
    """P(at least m plants can be handed over) for m = 0, 1, …, of one part after its counts, as in `outlook`."""
    there, after = _standing(facts, sizing, scion, kept, rootstock, take)

    def chance(plants: int) -> float:
        return _chance_through(plants, there, after)

    sure, most = (_most_with(chance, level, there.size) for level in (1 - NEARLY, NEARLY))
    numbers = np.unique(np.linspace(sure, most, min(most - sure + 1, POINTS)).astype(int))
    chances = [chance(int(number)) for number in numbers]
    return np.asarray(np.interp(np.arange(most + 1), numbers, chances))


def chance_of_enough(
    wanted: int,
    facts: PartFacts,
    sizing: Sizing,
    scion: Material,
    kept: Rate,
    rootstock: Material | None = None,
    take: Rate = NONE_LOST,
) -> float:
    """The chance alone of `outlook`, many times quicker."""
    return _chance_through(wanted, *_standing(facts, sizing, scion, kept, rootstock, take))


def counted(facts: PartFacts) -> tuple[int, bool] | None:
    """Plants that a count after the graft has left, and whether they are ready; None before they are taken."""
    if facts.ready is not None:
        return facts.ready, True
    if facts.taken is not None:
        return max(facts.taken - facts.lost_after_take, 0), False
    return None


def _standing(
    facts: PartFacts, sizing: Sizing, scion: Material, kept: Rate, rootstock: Material | None, take: Rate
) -> tuple[Array, Rate]:
    """P(at least m plants are there now, or will be grafted), and the share of them still to come through."""
    left = counted(facts)
    if left is not None:
        return _surely(left[0]), NONE_LOST if left[1] else kept
    if facts.grafted is not None:
        return _surely(facts.grafted), combine(take, kept)
    if rootstock is None:
        return stems_from(facts.sowings, "plain", scion, sizing.scion_seeds), kept
    rootstocks = stems_from(facts.sowings, "rootstock", rootstock, sizing.rootstock_seeds)
    scions = stems_from(facts.sowings, "scion", scion, sizing.scion_seeds)
    pairs = min(sizing.grafts + 1, rootstocks.size, scions.size)
    return rootstocks[:pairs] * scions[:pairs], combine(take, kept)


def stems_from(sowings: tuple[SowingFacts, ...], subject: Subject, material: Material, planned: int) -> Array:
    """P(at least m usable stems) for m = 0, 1, …, of one side, from its sowings as far as they have been counted.

    `planned` seeds stand for a side without sowings; sowings without any number share what is left of it.
    """
    usable, emerged, waiting = so_far(sowings, subject, planned)
    emergence, use = learned_from(sowings, subject, material)
    chances = np.convolve(distribution(emerged, use), distribution(waiting, combine(emergence, use)))
    return np.concatenate((np.ones(usable), from_above(chances)))


def so_far(sowings: tuple[SowingFacts, ...], subject: Subject, planned: int) -> tuple[int, int, int]:
    """Of one side: stems counted usable, seedlings counted only as emerged, and seeds not counted since."""
    mine = [sowing for sowing in sowings if sowing.subject == subject]
    usable = sum(s.usable for s in mine if s.usable is not None)
    emerged = sum(s.emerged for s in mine if s.usable is None and s.emerged is not None)
    waiting = sum(s.seeds for s in mine if s.usable is None and s.emerged is None and s.seeds is not None)
    if not mine or any((s.seeds, s.emerged, s.usable) == (None, None, None) for s in mine):
        waiting += max(planned - sum(s.seeds or 0 for s in mine), 0)
    return usable, emerged, waiting


def learned_from(sowings: tuple[SowingFacts, ...], subject: Subject, material: Material) -> tuple[Rate, Rate]:
    """The shares of emergence and of usable stems, sharpened by these sowings of the same seed."""
    emergence, use = material.emerged, material.usable
    for sowing in sowings:
        if sowing.subject != subject or sowing.emerged is None:
            continue
        if sowing.seeds is not None:
            emergence = learned(emergence, min(sowing.emerged, sowing.seeds), sowing.seeds)
        if sowing.usable is not None:
            use = learned(use, min(sowing.usable, sowing.emerged), sowing.emerged)
    return emergence, use


def _surely(plants: int) -> Array:
    return np.ones(plants + 1)


def _reckoned(wanted: int, there: Array, after: Rate) -> Outlook:
    """The outlook when P(at least m plants are there) is `there[m]`, and each comes through with share `after`."""

    def chance(plants: int) -> float:
        return _chance_through(plants, there, after)

    return Outlook(
        expected=after.mean * float(there[1:].sum()),
        low=_most_with(chance, 0.9, there.size),
        high=_most_with(chance, 0.1, there.size),
        chance=chance(wanted),
    )


def _chance_through(plants: int, there: Array, after: Rate) -> float:
    """P(at least `plants` come through): the one that makes them up must be among those that are there."""
    if plants <= 0:
        return 1.0
    if plants >= there.size:
        return 0.0
    return min(float(finishing(plants, after, there.size - 1) @ there[plants:]), 1.0)


def _most_with(chance: Callable[[int], float], level: float, most: int) -> int:
    """The largest number of plants, below `most`, of which the chance is above `level`."""
    low, high = 0, most
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if chance(middle) > level else (low, middle)
    return low


def last_useful_sowing(
    clock: Clock, last_graft_day: date, germination_warmth: Warmth, raising_warmth: Warmth, calendar: Calendar
) -> date | None:
    """The last open day on which seed can be sown and still be fit to graft by `last_graft_day`; None if none is.

    `last_graft_day` is the last that the pickup, the nights after it and the other side's stems allow.
    """
    try:
        window = sowing_day_for(clock, last_graft_day, germination_warmth, raising_warmth)
    except OutsideModel:
        return None
    return previous_open(calendar, window.latest)


def last_sowing_up_by(clock: Clock, up: date, germination_warmth: Warmth, calendar: Calendar) -> date | None:
    """The last open day on which seed can be sown and still emerge by the day `up`; None if none is."""
    for back in range(1, FARTHEST):
        sown = up - timedelta(days=back)
        try:
            if calendar.is_open(sown) and emergence_date(clock, sown, germination_warmth) <= up:
                return sown
        except OutsideModel:
            continue
    return None
