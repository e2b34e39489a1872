"""A small invented nursery for tests of the planning core, built by plain functions.

Practice values (rates, nights, trays) are common practice without a source; clocks of emergence are the fit to the
published emergence table (Harrington & Minges 1954); the sums of growth are invented.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta

from production.planning import terms
from production.planning.hands import ANY_TIME, Ask
from production.planning.terms import (
    Calendar,
    Clock,
    Container,
    Material,
    Nights,
    Person,
    Place,
    Prices,
    Rate,
    Recipe,
    Season,
    Stage,
    Warmth,
    Wish,
    WorkRule,
)

MONDAY = date(2026, 3, 2)  # 'today' of these tests

PLUG_72 = Container("plug-72", "72-cell tray", 72, 1, 0.1506)
PLUG_100 = Container("plug-100", "100-cell tray", 100, 1, 0.1506)
POT_4 = Container("pot-4", "tray of 10 four-inch pots", 10, 1, 0.1548)

TOMATO = Clock(
    emergence_sum=102.4,
    emergence_base=7.62,
    emergence_ceiling=30.0,
    growth_base=8.0,
    growth_ceiling=30.0,
    graftable_first=170.0,
    graftable_aim=200.0,
    graftable_last=260.0,
)
SLOW_ROOTSTOCK = replace(TOMATO, graftable_first=210.0, graftable_aim=245.0, graftable_last=310.0)

WEEKDAYS_OPEN = frozenset(range(6))  # Sunday is closed


def calendar(*closed: date, weekdays: frozenset[int] = WEEKDAYS_OPEN) -> Calendar:
    return Calendar(weekdays, frozenset(closed))


def places(**capacity: float) -> tuple[Place, ...]:
    """Germination, two benches, healing, hardening and staging; `healing=4` changes the capacity of one.

    A cold store only if it is asked for: `cold=10`.
    """
    each = {
        "germination": 12.0,
        "bench_a": 60.0,
        "bench_b": 60.0,
        "healing": 8.0,
        "hardening": 12.0,
        "staging": 40.0,
        **capacity,
    }
    warmth = {"germination": 25.0, "healing": 27.0, "cold": 11.0}
    return tuple(
        Place(
            key=key,
            name=key.replace("_", " "),
            kinds=frozenset({key.split("_")[0]}),
            measure="positions",
            capacity=size,
            warmth=Warmth(warmth.get(key, 21.0)),
        )
        for key, size in each.items()
        if size
    )


def grafter(key: str = "iris", hours: float = 8.0, skills: tuple[str, ...] = ("graft", "crew")) -> Person:
    daily = (hours, hours, hours, hours, hours, hours / 2, 0.0)
    return Person(key, key.title(), frozenset(skills), daily, care_hours=2.0)


def asks(*skills: str) -> list[Ask]:
    """These skills, at any time of the day."""
    return [(skill, ANY_TIME) for skill in skills]


def people() -> tuple[Person, ...]:
    return grafter(), grafter("tom", skills=("crew",))


def season(**changes: object) -> Season:
    fields: dict[str, object] = {
        "today": MONDAY,
        "calendar": calendar(),
        "places": places(),
        "people": people(),
        "prices": Prices(hour=24.0, metre_week=3.0),
        **changes,
    }
    return Season(**fields)  # type: ignore[arg-type]


# --- varieties and protocols --------------------------------------------------------------------------------


def rootstock(**changes: object) -> Material:
    material = Material("rootstock", "a rootstock", SLOW_ROOTSTOCK, Rate(0.92), Rate(0.9))
    return replace(material, **changes)  # type: ignore[arg-type]


def scion(**changes: object) -> Material:
    material = Material("scion", "a scion", TOMATO, Rate(0.95), Rate(0.92))
    return replace(material, **changes)  # type: ignore[arg-type]


def side_stages(subject: str) -> tuple[Stage, Stage]:
    sow = WorkRule(terms.SOW, (("crew", 600.0),))
    return (
        Stage(
            f"{subject}-germinating", terms.GERMINATING, "germinating", ("germination",), PLUG_72, NO_BOUND, (sow,)
        ),
        Stage(f"{subject}-raising", terms.RAISING, "raising", ("bench",), PLUG_72, NO_BOUND),
    )


NO_BOUND = Nights(0, 0, 0)
POTTING = WorkRule(terms.POT, (("crew", 200.0),))
COUNT = WorkRule(terms.COUNT_TAKEN, (("crew", 1000.0),), care=True)


def splice() -> Recipe:
    """Tomato by splice: 4 nights in the chamber, about 2 under a propped cover, potted, grown on."""
    graft = WorkRule(terms.GRAFT, (("graft", 80.0),))
    out = WorkRule(terms.TAKE_OUT, (("crew", 1500.0),), at_end=True, care=True)
    prop = WorkRule(terms.PROP, (("crew", 3000.0),), after=1, care=True)
    return Recipe(
        key="tomato-splice",
        name="Tomato, splice",
        method="splice",
        rootstock=side_stages("rootstock"),
        scion=side_stages("scion"),
        union=(
            Stage("healing", terms.HEAL, "healing", ("healing",), PLUG_72, Nights(4, 4, 6), (graft, out)),
            Stage("cover", terms.COVER, "under the cover", ("hardening",), PLUG_72, Nights(2, 2, 4), (prop,)),
            Stage("growing", terms.GROW_ON, "growing on", ("bench",), None, Nights(12, 15, 21), (POTTING, COUNT)),
        ),
        take=Rate(0.9, 120.0),
        kept=Rate(0.97, 120.0),
    )


def with_cold_hold(recipe: Recipe, longest: int = 28) -> Recipe:
    """Grafts may stand in the cold for so many nights before they grow on."""
    hold = Stage("cold", terms.COLD_HOLD, "Held cold", ("cold",), PLUG_72, Nights(0, 0, longest))
    return replace(recipe, union=(*recipe.union[:-1], hold, recipe.union[-1]))


def with_seedlings_held(recipe: Recipe, longest: int = 28) -> Recipe:
    """Rootstocks and scions may stand in the cold for so many nights before they are grafted."""

    def held(side: str) -> Stage:
        return Stage(f"{side}-cold", terms.COLD_HOLD, "Held cold", ("cold",), PLUG_72, Nights(0, 0, longest))

    return replace(recipe, rootstock=(*recipe.rootstock, held("rootstock")), scion=(*recipe.scion, held("scion")))


def side_graft() -> Recipe:
    """Tomato by side graft: potted when grafted, 3 nights, a notch 2 to 4 nights later, the final cut 2 after."""
    graft = WorkRule(terms.GRAFT, (("graft", 90.0), ("crew", 90.0)), note="with a helper who prepares")
    notch = WorkRule(terms.NOTCH, (("graft", 300.0),), part="evening", at_end=True, care=True)
    final = WorkRule(terms.FINAL_CUT, (("graft", 300.0),), part="evening", at_end=True, care=True)
    stake = WorkRule(terms.STAKE, (("crew", 200.0),), part="evening", at_end=True, care=True)
    bench = ("bench",)
    return Recipe(
        key="tomato-side",
        name="Tomato, side graft",
        method="side",
        rootstock=side_stages("rootstock"),
        scion=side_stages("scion"),
        union=(
            Stage("healing", terms.HEAL, "healing", ("healing",), None, Nights(3, 3, 5), (graft,)),
            Stage("to-notch", terms.WEANING, "weaning to the notch", bench, None, Nights(2, 2, 4), (notch,)),
            Stage("to-cut", terms.WEANING, "weaning to the cut", bench, None, Nights(2, 2, 3), (final, stake)),
            Stage("growing", terms.GROW_ON, "growing on", bench, None, Nights(10, 14, 20)),
        ),
        take=Rate(0.95, 120.0),
        kept=Rate(0.97, 120.0),
    )


def plain() -> Recipe:
    """Seedlings without a graft: raised in plug trays, potted and grown on."""
    germinating, raising = side_stages("plain")
    return Recipe(
        key="tomato-plain",
        name="Tomato, plain",
        method="plain",
        rootstock=(),
        scion=(),
        plain=(germinating, replace(raising, nights=Nights(14, 18, 24))),
        union=(Stage("growing", terms.GROW_ON, "growing on", ("bench",), None, Nights(10, 14, 20), (POTTING,)),),
    )


# --- wishes -------------------------------------------------------------------------------------------------


def wish(quantity: int = 60, pickup: date = MONDAY + timedelta(days=70), **changes: object) -> Wish:
    """Tomato by splice, potted, to be collected on one Monday ten weeks from now."""
    fields: dict[str, object] = {
        "key": "asked",
        "label": "Order 1, line 1",
        "kind": "grafted",
        "quantity": quantity,
        "pickup": pickup,
        "recipe": splice(),
        "rootstock": rootstock(),
        "scion": scion(),
        "container": POT_4,
        **changes,
    }
    return Wish(**fields)  # type: ignore[arg-type]


def plain_wish(quantity: int = 60, pickup: date = MONDAY + timedelta(days=70), **changes: object) -> Wish:
    return wish(quantity, pickup, **{"kind": "plain", "recipe": plain(), "rootstock": None, **changes})


def room_wish(
    containers: int = 4, nights: int = 10, pickup: date = MONDAY + timedelta(days=30), **changes: object
) -> Wish:
    room = terms.RoomWish("bench", PLUG_72, containers, nights)
    return wish(0, pickup, **{"kind": "room", "recipe": None, "room": room, **changes})


def by_key(season_: Season) -> Mapping[str, Place]:
    return {place.key: place for place in season_.places}
