"""The stages from which starting protocols are put together, with their work. Rates are plants per person-hour."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from ..planning import terms
from . import PRACTICE

SKILLS: dict[str, Promise] = {
    "sowing": _("Sowing"),
    "grafting": _("Grafting"),
    "care": _("Potting and care"),
}

Nights = tuple[int, int, int]  # shortest, usual, longest
Words = str | Promise

BLADES = _("Count the blades out and in; a fresh one often. Disinfect as the label says.")


@dataclass(frozen=True, slots=True)
class StartingWork:
    kind: str
    skill: str
    per_hour: float
    part: str = "day"
    after: int = 0
    at_end: bool = False
    care: bool = False
    note: Words = ""


@dataclass(frozen=True, slots=True)
class StartingStage:
    kind: str
    name: Words
    place_kinds: tuple[str, ...]
    container: str | None  # a key of CONTAINERS; None: the line's own pot or tray
    nights: Nights
    works: tuple[StartingWork, ...] = ()
    temperature: float | None = None
    humidity: float | None = None
    light: Words = ""
    basis: Words = PRACTICE
    published: Words = ""


SOW = StartingWork(terms.SOW, "sowing", 1400, note=_("One seed a cell."))
COUNT_EMERGED = StartingWork(terms.COUNT_EMERGED, "care", 2500, part="morning", at_end=True, care=True)
COUNT_USABLE = StartingWork(
    terms.COUNT_USABLE,
    "grafting",
    1500,
    part="morning",
    at_end=True,
    note=_("No feeding in the days before grafting; sort by stem."),
)
POT = StartingWork(terms.POT, "care", 250, note=_("Keep the union above the soil."))
COUNT_READY = StartingWork(terms.COUNT_READY, "care", 1500, part="morning", at_end=True)
HAND_OVER = StartingWork(terms.HAND_OVER, "care", 600)
TOP = StartingWork(terms.TOP, "care", 400, note=_("Above the cotyledons. Disinfect as the label says."))


def graft(per_hour: float, note: Words = BLADES) -> StartingWork:
    return StartingWork(terms.GRAFT, "grafting", per_hour, note=note)


def germinating() -> StartingStage:
    return StartingStage(
        terms.GERMINATING,
        _("Germinating"),
        (terms.GERMINATION, terms.BENCH),
        "tray_72",
        (1, 6, 40),
        (SOW, COUNT_EMERGED),
        temperature=25.0,
        basis=_(
            "Nights follow from the crop's clock; these only bound them. Common practice, no source: one "
            "seed a cell, 72-cell trays. Sowing rate derived from 35 + 144 seconds a flat (Rutgers "
            "bedding-plant budget), if it has 72 cells."
        ),
        published=_("Germinate at 30 °C (a university guide to transplants)."),
    )


def raising(nights: Nights = (3, 15, 75)) -> StartingStage:
    """Raising one side up to the graft; its nights follow from the clock."""
    return StartingStage(
        terms.RAISING,
        _("Raising"),
        (terms.BENCH,),
        "tray_72",
        nights,
        (COUNT_USABLE,),
        temperature=21.0,
        basis=_(
            "Nights follow from the crop's clock; these only bound them. Common practice, no source: 72-cell "
            "trays; a scion may be held back in 100-cell trays; no feeding in the days before grafting."
        ),
        published=_("Grow at 24 °C by day and 18 °C by night; light 10 to 15 mol/m² a day (e-GRO, 2021)."),
    )


def raising_plain(nights: Nights) -> StartingStage:
    """Raising a plain line: by nights, for nothing waits for its stem."""
    return StartingStage(
        terms.RAISING, _("Raising"), (terms.BENCH,), "tray_72", nights, (COUNT_USABLE,), temperature=21.0
    )


def healing(
    nights: Nights, graft_work: StartingWork, *, potted: bool, basis: Words, published: Words
) -> StartingStage:
    """Nights in the healing chamber. Potted: side grafts go into the line's own pot on the grafting day."""
    take_out = StartingWork(
        terms.TAKE_OUT, "care", 2000, part="evening", at_end=True, care=True, note=_("Before dark.")
    )
    return StartingStage(
        terms.HEAL,
        _("Healing"),
        (terms.HEALING,),
        None if potted else "tray_72",
        nights,
        (graft_work, POT, take_out) if potted else (graft_work, take_out),
        temperature=29.0,  # about 85 °F
        humidity=90.0,
        light=_("Out of the sun"),
        basis=basis,
        published=published,
    )


def cover() -> StartingStage:
    prop = StartingWork(terms.PROP, "care", 2000, part="morning", care=True, note=_("Watch for wilting."))
    taken = StartingWork(terms.COUNT_TAKEN, "care", 1500, part="morning", at_end=True)
    return StartingStage(
        terms.COVER,
        _("Under a propped cover"),
        (terms.BENCH,),
        "tray_72",
        (1, 2, 3),
        (prop, taken),
        light=_("Shade"),
        basis=_("Common practice, no source: about 2 days under a propped cover."),
        published=_(
            "Assembled from several sources: air twice a day from day 4 or 5, open by day from day 6 or 7."
        ),
    )


def weaning() -> tuple[StartingStage, StartingStage]:
    """A side graft loses its scion's own root in two steps: up to the notch, and from there to the final cut."""
    notch = StartingWork(
        terms.NOTCH,
        "grafting",
        400,
        part="evening",
        at_end=True,
        care=True,
        note=_("Half through the scion's stem below the union; better in cloudy weather. Count the blades."),
    )
    cut = StartingWork(
        terms.FINAL_CUT, "grafting", 400, part="evening", at_end=True, care=True, note=_("Count the blades.")
    )
    stake = StartingWork(terms.STAKE, "care", 300, part="evening", at_end=True, care=True)
    basis = _(
        "Common practice, no source: 2 to 4 days after the chamber, in the evening, a notch half through; "
        "two days later the final cut, also in the evening, then a stake. Done about 7 days after grafting."
    )
    return (
        StartingStage(
            terms.WEANING, _("Weaning, to the notch"), (terms.BENCH,), None, (2, 2, 4), (notch,), basis=basis
        ),
        StartingStage(
            terms.WEANING,
            _("Weaning, to the final cut"),
            (terms.BENCH,),
            None,
            (2, 2, 2),
            (cut, stake),
            basis=basis,
        ),
    )


def hardening(*works: StartingWork) -> StartingStage:
    return StartingStage(
        terms.HARDEN,
        _("Hardening"),
        (terms.HARDENING, terms.BENCH),
        None,
        (3, 5, 7),
        works,
        basis=_("Published: 3 to 6 days, or about 7 in other guides. Practice is silent."),
        published=_(
            "3 to 6 days; about 7 days (two university guides). Tomato at 10 to 16 °C, pepper and eggplant "
            "at 16 to 18 °C."
        ),
    )


def cold_hold(longest: int, published: Words) -> StartingStage:
    """Kept for need: used where the usual nights do not fit, and the nursery has a cold place."""
    return StartingStage(
        terms.COLD_HOLD,
        _("Held cold"),
        (terms.COLD,),
        None,
        (0, 0, longest),
        temperature=12.0,
        light=_("A little light, about 13 µmol"),
        basis=_(
            "Published longest stay; practice is silent. Used only where the usual nights do not fit, and only in "
            "a cold store; without one this stage is left out."
        ),
        published=published,
    )


def growing_on(nights: Nights, *works: StartingWork, basis: Words, published: Words = "") -> StartingStage:
    return StartingStage(
        terms.GROW_ON,
        _("Growing on"),
        (terms.BENCH,),
        None,
        nights,
        works,
        temperature=21.0,
        basis=basis,
        published=published,
    )
