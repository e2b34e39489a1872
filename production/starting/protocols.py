"""Starting protocols: how each crop is grafted by each method, and how it is grown without a graft."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from django.utils.translation import gettext_lazy as _

from ..planning import terms
from . import PRACTICE
from .stages import (
    BLADES,
    COUNT_READY,
    HAND_OVER,
    POT,
    TOP,
    Nights,
    StartingStage,
    StartingWork,
    Words,
    cold_hold,
    cover,
    germinating,
    graft,
    growing_on,
    hardening,
    healing,
    raising,
    raising_plain,
    weaning,
)

SPLICE_AN_HOUR = 80
SIDE_AN_HOUR = 65  # 60 to 70 alone
# With a helper 90 an hour: the grower names the helper's skill on the protocol's page.

HEALING_SPLICE = _("Common practice, no source: 4 nights and out before the fifth; 90 % humidity, 85 °F (29 °C).")
HEALING_SIDE = _("Common practice, no source: 3 nights and out before the fourth; 90 % humidity, 85 °F (29 °C).")
HEALING_LONGER = _("Common practice, no source: a couple of nights more than tomato, 3 more at most.")
PUBLISHED_TOMATO = _(
    "Joined in 5 to 8 days, healed in 14; 95 % humidity, then less; 27 to 29 °C; no light on days 0 and 1, "
    "rising to about 100 µmol. Long darkness costs take: 97 % without, 84 % after 4 dark days."
)
PUBLISHED_WATERMELON = _(
    "9 days with 90 % survival (maritime US); best union 98 % at 28 °C and 100 % humidity; none recovered in "
    "7 days at 20 °C."
)
PUBLISHED_CUCUMBER = _("90 to 95 % humidity, about 25 °C; light up to 237 µmol raised its gas exchange.")


@dataclass(frozen=True, slots=True)
class StartingProtocol:
    crop: str
    method: str
    take: float
    stages: Mapping[str, tuple[StartingStage, ...]]  # by track: rootstock, scion, union, plain
    basis: Words
    published: Words = ""
    keeping: int = 14


def _grafted(
    crop: str,
    method: str,
    *,
    take: float,
    union: tuple[StartingStage, ...],
    basis: Words,
    published: Words = "",
    keeping: int = 14,
    cold: StartingStage | None = None,
) -> StartingProtocol:
    held = replace(cold or COLD_SOLANACEOUS, container="tray_72")
    side = (germinating(), raising(), held)
    stages = {"rootstock": side, "scion": side, "union": union}
    return StartingProtocol(crop, method, take, stages, basis, published, keeping)


COLD_SOLANACEOUS = cold_hold(
    28,
    _(
        "Tomato and its kin 4 weeks at 12 °C and 13 µmol; tomato also at 10 °C and 5 µmol (PLoS ONE e0170614, "
        "2017)."
    ),
)
COLD_CUCURBIT = cold_hold(
    14,
    _(
        "Cucurbits 2 to 4 weeks at 12 °C and 13 µmol (PLoS ONE e0170614, 2017); the shorter is taken, since they "
        "are easily chilled."
    ),
)


def _out_of_the_chamber(
    heal: StartingStage, grow: StartingStage, cold: StartingStage = COLD_SOLANACEOUS
) -> tuple[StartingStage, ...]:
    """Splice and one-cotyledon grafts heal in cells and are potted when they come from under the cover."""
    return (heal, cover(), hardening(POT), cold, grow)


def _weaned(heal: StartingStage, grow: StartingStage) -> tuple[StartingStage, ...]:
    taken = StartingWork(terms.COUNT_TAKEN, "care", 1500, part="morning", after=1)
    return (heal, *weaning(), hardening(taken), COLD_SOLANACEOUS, grow)


def _plain(
    crop: str, raise_for: Nights, grow_for: Nights, published: Words = "", keeping: int = 14
) -> StartingProtocol:
    stages = {
        "plain": (germinating(), raising_plain(raise_for)),
        "union": (
            growing_on(grow_for, POT, TOP, basis=PRACTICE, published=published),
            hardening(COUNT_READY, HAND_OVER),
        ),
    }
    return StartingProtocol(crop, "plain", 1.0, stages, PRACTICE, published, keeping)


SEVEN_WEEKS = _(
    "Derived: about 7 weeks from seed to planting (grafted tomato, a Canary Islands nursery) less the stages "
    "before. Two leaders by topping: 7 to 9 days more, common practice, no source."
)
TWO_LEADERS = _(
    "Two leaders: as much yield from the first true-leaf nodes with little work, from the cotyledon nodes with "
    "intensive care (Hortic Bras, 2017). From memory: topping takes 7 to 14 days and about twice the bench."
)
SIX_TO_EIGHT = _("Not grafted: 6 to 8 weeks from seed (a university guide to transplants).")
EIGHT_TO_TEN = _("Not grafted: 8 to 10 weeks from seed (a university guide to transplants).")


def _tomato_splice() -> StartingProtocol:
    heal = healing(
        (4, 4, 4), graft(SPLICE_AN_HOUR), potted=False, basis=HEALING_SPLICE, published=PUBLISHED_TOMATO
    )
    grow = growing_on((14, 17, 24), TOP, COUNT_READY, HAND_OVER, basis=SEVEN_WEEKS, published=TWO_LEADERS)
    return _grafted(
        "tomato",
        "splice",
        take=0.95,
        union=_out_of_the_chamber(heal, grow),
        basis=_(
            "Common practice, no source: 80 grafts an hour alone; rootstock and scion sown on about the same "
            "day, in succession over a few days. Take: an extension guide."
        ),
        published=_(
            "Take 98 % over several chambers (HortTechnology 21:752, 2011), 95 % in an extension guide. A "
            "vigorous hybrid rootstock was sown 7 to 10 days before its scion on one farm (SARE report, "
            "2010)."
        ),
    )


def _tomato_side() -> StartingProtocol:
    with_helper = _("90 an hour if a helper prepares the plants. Count the blades out and in.")
    heal = healing(
        (3, 3, 3),
        graft(SIDE_AN_HOUR, with_helper),
        potted=True,
        basis=HEALING_SIDE,
        published=_("No chamber in one trade guide, for both root systems live on (watermelon)."),
    )
    grow = growing_on((14, 17, 24), TOP, COUNT_READY, HAND_OVER, basis=SEVEN_WEEKS, published=TWO_LEADERS)
    return _grafted(
        "tomato",
        "side",
        take=0.95,
        union=_weaned(heal, grow),
        basis=_(
            "Common practice, no source: 60 to 70 grafts an hour alone, about 90 with a helper who prepares the "
            "plants; potted when grafted."
        ),
    )


def _eggplant_splice() -> StartingProtocol:
    heal = healing(
        (6, 6, 7), graft(SPLICE_AN_HOUR), potted=False, basis=HEALING_LONGER, published=PUBLISHED_TOMATO
    )
    grow = growing_on((14, 18, 28), TOP, COUNT_READY, HAND_OVER, basis=PRACTICE, published=TWO_LEADERS)
    return _grafted(
        "eggplant",
        "splice",
        take=0.82,
        union=_out_of_the_chamber(heal, grow),
        basis=_(
            "Common practice, no source: 80 grafts an hour alone. Take: the published value, for practice is "
            "silent."
        ),
        published=_(
            "Take 82 % (HortTechnology 21:752, 2011). 2.4 worker-days a thousand by hand, which is about 52 "
            "an hour."
        ),
    )


def _pepper_splice() -> StartingProtocol:
    heal = healing(
        (4, 4, 4), graft(SPLICE_AN_HOUR), potted=False, basis=HEALING_SPLICE, published=PUBLISHED_TOMATO
    )
    grow = growing_on((14, 21, 28), TOP, COUNT_READY, HAND_OVER, basis=PRACTICE, published=TWO_LEADERS)
    return _grafted(
        "pepper",
        "splice",
        take=0.9,
        union=_out_of_the_chamber(heal, grow),
        basis=_(
            "Common practice, no source: 80 grafts an hour alone; healing as for tomato. Take: the published "
            "value, for practice is silent."
        ),
        published=_(
            "Over 90 % with stems of 2.1 to 2.7 mm, better than 1.5 to 2.0; graft above the cotyledons to cut off "
            "adventitious roots (II Int Symp Veg Grafting)."
        ),
    )


def _cucurbit(
    crop: str,
    *,
    take: float,
    heal_for: Nights,
    grow_for: Nights,
    basis: Words,
    heals: tuple[Words, Words],
    published: Words,
) -> StartingProtocol:
    """One-cotyledon grafts; `heals` is basis and published value of the healing nights."""
    heal = healing(heal_for, graft(SPLICE_AN_HOUR, BLADES), potted=False, basis=heals[0], published=heals[1])
    grow = growing_on(grow_for, COUNT_READY, HAND_OVER, basis=PRACTICE)
    return _grafted(
        crop,
        "one_cotyledon",
        take=take,
        union=_out_of_the_chamber(heal, grow, COLD_CUCURBIT),
        basis=basis,
        published=published,
        keeping=7,
        cold=COLD_CUCURBIT,
    )


SAME_PACE = _(
    "Common practice, no source: 80 grafts an hour, taken over from splice grafts. Take: the published value, for "
    "practice is silent."
)


def _cucurbits() -> tuple[StartingProtocol, ...]:
    return (
        _cucurbit(
            "cucumber",
            take=0.76,
            heal_for=(6, 6, 7),
            grow_for=(5, 8, 14),
            basis=SAME_PACE,
            heals=(HEALING_LONGER, PUBLISHED_CUCUMBER),
            published=_(
                "Take after 14 days: one-cotyledon 76 %, hole insertion 67.8 %, tube 55.6 % (IJAEFS, 2022). "
                "Scion sown about 3 days before the rootstock."
            ),
        ),
        _cucurbit(
            "melon",
            take=0.92,
            heal_for=(6, 6, 7),
            grow_for=(5, 9, 14),
            basis=SAME_PACE,
            heals=(_("Taken over from cucumber; no source of its own."), PUBLISHED_WATERMELON),
            published=_("Take 92 to 99 % on six rootstocks (a study in Oman; method not seen)."),
        ),
        _cucurbit(
            "watermelon",
            take=0.9,
            heal_for=(7, 9, 9),
            grow_for=(7, 12, 18),
            basis=SAME_PACE,
            heals=(_("Published: 9 days with 90 % survival. Practice is silent."), PUBLISHED_WATERMELON),
            published=_(
                "Take 90 % (9 days of healing, maritime US). By hand between 218 and 469 an hour by machine "
                "trials, about 60 by a supplier's page (cleft). Planted 28 to 29 days after grafting in "
                "field trials."
            ),
        ),
    )


def _plain_protocols() -> tuple[StartingProtocol, ...]:
    return (
        _plain("tomato", (10, 14, 21), (12, 17, 28), SIX_TO_EIGHT),
        _plain("eggplant", (16, 21, 28), (15, 22, 35), EIGHT_TO_TEN),
        _plain("pepper", (16, 21, 28), (15, 22, 35), EIGHT_TO_TEN),
        *(
            _plain(crop, (7, 9, 14), (7, 10, 14), keeping=7)
            for crop in ("cucumber", "melon", "watermelon", "squash")
        ),
    )


def starting_protocols() -> tuple[StartingProtocol, ...]:
    return (
        _tomato_splice(),
        _tomato_side(),
        _eggplant_splice(),
        _pepper_splice(),
        *_cucurbits(),
        *_plain_protocols(),
    )
