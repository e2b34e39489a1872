"""How many pairs the two sides of a part will give: from stems measured, spread, or sown. Stores nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import mean, stdev
from typing import Any, cast

from django.utils.translation import gettext as _

from orders.models import Variety
from orders.refusals import Refused

from .. import bridge
from ..models import Part, Sowing
from ..planning import clocks, stems, terms
from .batch import batches
from .tally import SowingTally, tally_of

ENOUGH_SEASONS = 500  # for comparing sowings; somebody waits
FARTHEST = 4  # days between two sowings that are compared


@dataclass(frozen=True, slots=True)
class StemAnswer:
    """`pairs` of stems that are measured, with the stems left over; `expected` of those that are only reckoned."""

    pairs: int | None = None
    rootstocks_left: int = 0
    scions_left: int = 0
    expected: stems.Pairs | None = None
    most: int = 0  # stems of the scarcer side: there are no more pairs than these
    successions: tuple[stems.Succession, ...] = ()

    @property
    def once(self) -> stems.Succession | None:
        return self.successions[0] if self.successions else None

    @property
    def best(self) -> stems.Succession | None:
        """The sowings apart that give most on a bad day, where that is more than of one sowing."""
        once = self.once
        if once is None:
            return None
        best = max(self.successions, key=lambda each: (each.pairs.bad_day, each.pairs.mean, -each.apart))
        return best if best.pairs.bad_day > once.pairs.bad_day else None

    @property
    def gain(self) -> int:
        return self.best.pairs.bad_day - self.once.pairs.bad_day if self.best and self.once else 0


def pairs_of(by: str, asked: Mapping[str, Any], part: Part) -> StemAnswer:
    """The answer to the cleaned values of one of `forms.stems`. Refused where a clock gives no honest number."""
    if by == "measured":
        return measured(asked)
    if by == "spread":
        return spread(asked)
    return sown(asked, part)


def grafted_part(code: str, number: int) -> Part | None:
    """A part of a grafted batch with all that its stems are reckoned from."""
    batch = batches().filter(code=code, rootstock__isnull=False).first()
    return next((part for part in batch.parts.all() if part.number == number), None) if batch else None


# --- measured, and known by mean and spread ------------------------------------------------------------------


def measured(asked: Mapping[str, Any]) -> StemAnswer:
    """Pairs of the stems given; and of all there are, where those are a sample of them."""
    roots, scions, tolerance = asked["rootstocks"], asked["scions"], _tolerance(asked)
    pairs = len(stems.match(roots, scions, tolerance))
    there = (asked["rootstock_stems"], asked["scion_stems"])
    left = (len(roots) - pairs, len(scions) - pairs)
    if not all(there):
        return StemAnswer(pairs, *left, most=min(len(roots), len(scions)))
    expected = stems.expected_pairs(_sampled(there[0], roots), _sampled(there[1], scions), tolerance)
    return StemAnswer(pairs, *left, expected, most=min(there))


def _sampled(there: int, sample: Sequence[float]) -> stems.StemSide:
    """All stems of a side, of which some were measured: the mean of a sample is itself not sure."""
    spread = stdev(sample)
    return stems.StemSide((stems.Stand(there, mean(sample), spread),), together=spread / len(sample) ** 0.5)


def spread(asked: Mapping[str, Any]) -> StemAnswer:
    expected = stems.expected_pairs(_spread(asked, "rootstock"), _spread(asked, "scion"), _tolerance(asked))
    return StemAnswer(expected=expected, most=min(asked["rootstock_stems"], asked["scion_stems"]))


def _spread(asked: Mapping[str, Any], side: str) -> stems.StemSide:
    stand = stems.Stand(asked[f"{side}_stems"], asked[f"{side}_mean"], asked[f"{side}_spread"])
    return stems.StemSide((stand,))


def _tolerance(asked: Mapping[str, Any]) -> stems.Tolerance:
    return stems.Tolerance(asked["thicker"], asked["thinner"])


# --- sown ----------------------------------------------------------------------------------------------------


def sown(asked: Mapping[str, Any], part: Part) -> StemAnswer:
    """Pairs on the grafting day by the clocks of both varieties, and what a second sowing of a side would buy."""
    day, share = asked["graft_day"], asked["tolerance"] / 100
    sowings = {side: asked[f"{side}_sowings"] for side in ("rootstock", "scion")}
    tolerance = stems.Tolerance(share, share)
    try:
        raised = {side: _raised(part, side, asked) for side in sowings}
        sides = [stems.side_sown(raised[side], sowings[side], day) for side in sowings]
        there = {side: sum(stems for _day, stems in sowings[side]) for side in sowings}
        return StemAnswer(
            expected=stems.expected_pairs(sides[0], sides[1], tolerance),
            most=min(there.values()),
            successions=stems.successions(
                (raised["rootstock"], _middle(sowings["rootstock"])),
                (raised["scion"], _middle(sowings["scion"])),
                (there["rootstock"], there["scion"]),
                day,
                tolerance,
                divide=cast("terms.Side", asked["divide"]),
                farthest=FARTHEST,
                most_seasons=ENOUGH_SEASONS,
            ),
        )
    except (clocks.OutsideModel, ValueError) as outside:
        raise Refused(
            str(outside),
            mend=_("Set the temperatures of the places, or the clock of the variety."),
            field="graft_day",
        ) from None


def _raised(part: Part, side: str, asked: Mapping[str, Any]) -> stems.Raised:
    """How a side is raised where its seedlings stand; days that stems differ by, as sums of a usual day there."""
    sowing = next((each for each in part.sowings.all() if each.subject == side), None)
    variety = sowing.variety if sowing else _variety(part, side)
    clock = bridge.material_of(variety, lot=None, seed_on_hand=None).clock
    germination, raising = _warmth(part, side)
    a_day = clocks.growth_gain(clock, raising.on(asked["graft_day"]))
    return stems.Raised(clock, germination, raising, asked["plants_differ"] * a_day, asked["sides_differ"] * a_day)


def _variety(part: Part, side: str) -> Variety:
    variety = part.batch.rootstock if side == "rootstock" else part.batch.scion
    assert variety
    return variety


def _warmth(part: Part, side: str) -> tuple[terms.Warmth, terms.Warmth]:
    found: dict[str, terms.Warmth] = {}
    for stay in part.stays.all():
        if stay.subject == side:
            found.setdefault(stay.stage_kind, bridge.place_of(stay.place).warmth)
    if not {terms.GERMINATING, terms.RAISING} <= set(found):
        raise Refused(
            _("The seedlings of this batch stand nowhere, so that nothing is known of their warmth."),
            mend=_("Measure stems instead."),
        )
    return found[terms.GERMINATING], found[terms.RAISING]


def _middle(sowings: Sequence[tuple[date, int]]) -> date:
    """The day about which so many stems were sown."""
    there = sum(stems for _day, stems in sowings)
    days = sum(day.toordinal() * stems for day, stems in sowings)
    return date.min + timedelta(days=round(days / there) - 1)


def sowings_of(part: Part) -> dict[str, list[tuple[date, int]]]:
    """By side, each sowing with the usable stems that are counted or to be expected of it."""
    found: dict[str, list[tuple[date, int]]] = {"rootstock": [], "scion": []}
    for counted in tally_of(part).sowings:
        if counted.sowing.subject in found:
            day = counted.sowing.sown_on or counted.sowing.day
            found[counted.sowing.subject].append((day, max(_usable(counted), 1)))
    return found


def _usable(counted: SowingTally) -> int:
    sowing: Sowing = counted.sowing
    if counted.usable is not None:
        return counted.seedlings
    if counted.emerged is not None:
        return round(counted.seedlings * sowing.variety.usable_share)
    seeds = sowing.seeds if counted.sown is None else counted.sown
    return round(seeds * sowing.variety.emerged_share * sowing.variety.usable_share)
