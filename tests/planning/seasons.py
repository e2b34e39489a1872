"""Random nurseries, seasons and wishes: small enough to be tight, odd enough to find what nobody thought of.

All is drawn from one `random.Random`, so that a season is known by its seed and no two seeds look alike.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from random import Random

from production.planning import terms
from production.planning.terms import (
    Calendar,
    Clock,
    Container,
    HandsClaim,
    Material,
    Nights,
    Person,
    Place,
    Rate,
    Recipe,
    RoomClaim,
    Season,
    Span,
    Stage,
    Warmth,
    Wish,
    WorkRule,
)
from tests.planning import nursery
from tests.planning.nursery import MONDAY, PLUG_72, PLUG_100, POT_4

DAY = timedelta(days=1)
BIG_TRAY = Container("big", "tray of 6 big pots", 6, 2.0, 0.3)
KEYS = ("germination", "bench_a", "bench_b", "healing", "healing_b", "hardening", "staging")
DEGREES = {"germination": 25.0, "cold": 11.0}


def day(chance: Random, first: int, last: int) -> date:
    return MONDAY + chance.randint(first, last) * DAY


def span(chance: Random, first: int, last: int, longest: int) -> Span:
    """A run of days that begins from `first` to `last` days after the Monday of these tests."""
    start = day(chance, first, last)
    return Span(start, start + chance.randint(0, longest) * DAY)


# --- the nursery ------------------------------------------------------------------------------------------


def season(chance: Random) -> Season:
    return nursery.season(
        calendar=calendar(chance),
        places=tuple(place(chance, key) for key in (*KEYS, *(("cold",) if chance.random() < 0.5 else ()))),
        people=tuple(person(chance, key) for key in ("iris", "tom")),
        room=tuple(room_claim(chance) for _ in range(chance.randint(0, 6))),
        hands=tuple(hands_claim(chance) for _ in range(chance.randint(0, 6))),
    )


def calendar(chance: Random) -> Calendar:
    weekdays = chance.choice((nursery.WEEKDAYS_OPEN, frozenset(chance.sample(range(7), chance.randint(4, 7)))))
    return Calendar(weekdays, frozenset(day(chance, 0, 100) for _ in range(chance.randint(0, 6))))


def place(chance: Random, key: str) -> Place:
    kind = key.split("_")[0]
    by_area = chance.random() < 0.5
    positions = chance.choice((chance.randint(8, 40), chance.randint(1, 14)))
    also = chance.choice((set(), set(), {"bench"}, {"staging"}))
    return Place(
        key=key,
        name=key.replace("_", " "),
        kinds=frozenset({kind} | also),
        measure="area" if by_area else "positions",
        capacity=round(positions * 0.16, 2) if by_area else float(positions),
        warmth=warmth(chance, DEGREES.get(kind, 21.0)),
        open_spans=(span(chance, 0, 30, 120),) if chance.random() < 0.1 else (),
    )


def warmth(chance: Random, usual: float) -> Warmth:
    spell = (span(chance, 0, 80, 20), usual + chance.uniform(-5, 3))
    return Warmth(usual + chance.uniform(-3, 3), (spell,) if chance.random() < 0.3 else ())


def person(chance: Random, key: str) -> Person:
    hours = chance.choice((chance.uniform(6, 9), chance.uniform(1, 9)))
    skills = chance.choice(({"graft", "crew"}, {"graft", "crew"}, {"graft"}, {"crew"}, set()))
    return Person(
        key=key,
        name=key.title(),
        skills=frozenset(skills),
        hours=tuple(hours if chance.random() < 0.9 else 0.0 for _ in range(7)),  # type: ignore[arg-type]
        care_hours=chance.uniform(0, 3),
        away=(span(chance, 0, 80, 10),) if chance.random() < 0.3 else (),
    )


def room_claim(chance: Random) -> RoomClaim:
    owner = chance.choice("abc")
    nights, load = chance.randint(1, 25), chance.uniform(0.1, 6)
    return RoomClaim(owner, f"Order {owner}", chance.choice(KEYS), day(chance, -10, 80), nights, load)


def hands_claim(chance: Random) -> HandsClaim:
    owner, skill = chance.choice("abc"), chance.choice(("graft", "crew"))
    return HandsClaim(owner, f"Order {owner}", day(chance, -3, 80), ((skill, chance.uniform(0.1, 8)),), care=True)


# --- protocols and varieties --------------------------------------------------------------------------------


def nights(chance: Random, shortest: int, slack: int = 4) -> Nights:
    first = shortest + chance.randint(0, 2)
    usual = first + chance.randint(0, slack)
    return Nights(first, usual, usual + chance.randint(0, slack))


def union(chance: Random) -> tuple[Stage, ...]:
    """Healing, now and then a cover, weaning or cold holding, growing on; each with its nights and works."""
    graft = WorkRule(terms.GRAFT, (("graft", chance.choice((40.0, 80.0))),))
    out = WorkRule(terms.TAKE_OUT, (("crew", 1500.0),), at_end=True, care=chance.random() < 0.5)
    prop = WorkRule(terms.PROP, (("crew", 3000.0),), after=chance.randint(0, 2), care=True)
    notch = WorkRule(terms.NOTCH, (("graft", 300.0), ("crew", 900.0)), part="evening", at_end=True, care=True)
    last = (
        WorkRule(terms.POT, (("crew", 200.0),)),
        WorkRule(terms.TOP, (("crew", 400.0),), after=chance.randint(0, 3)),
        WorkRule(terms.HAND_OVER, (("crew", 500.0),)),
    )
    tray = chance.choice((None, PLUG_72))
    stages = [Stage("healing", terms.HEAL, "healing", ("healing",), tray, nights(chance, 3, 2), (graft, out))]
    if chance.random() < 0.5:
        kinds = chance.choice((("hardening",), ("hardening", "bench")))
        stages.append(Stage("cover", terms.COVER, "cover", kinds, tray, nights(chance, 0, 3), (prop,)))
    if chance.random() < 0.5:
        stages.append(Stage("notch", terms.WEANING, "notch", ("bench",), tray, nights(chance, 2, 2), (notch,)))
    if chance.random() < 0.4:
        stages.append(cold_hold(chance, tray))
    works = last[: chance.randint(1, 3)]
    stages.append(Stage("growing", terms.GROW_ON, "growing on", ("bench",), None, nights(chance, 6, 6), works))
    return tuple(stages)


def cold_hold(chance: Random, tray: Container | None) -> Stage:
    look = WorkRule(terms.CHECK, (("crew", 2000.0),), at_end=True, care=True)
    works = chance.choice(((), (look,)))
    return Stage(
        "cold", terms.COLD_HOLD, "held cold", ("cold",), tray, Nights(0, 0, chance.choice((7, 21))), works
    )


def held_before_the_graft(chance: Random, side: str) -> tuple[Stage, ...]:
    if chance.random() < 0.7:
        return ()
    held = cold_hold(chance, PLUG_72)
    return (replace(held, key=f"{side}-cold", nights=Nights(0, 0, chance.choice((3, 10)))),)


def recipe(chance: Random) -> Recipe:
    bounds = chance.choice((nursery.NO_BOUND, Nights(0, 0, 40)))
    germinating, raising = nursery.side_stages("plain")
    return Recipe(
        key="splice",
        name="splice",
        method="splice",
        rootstock=(
            *(replace(stage, nights=bounds) for stage in nursery.side_stages("rootstock")),
            *held_before_the_graft(chance, "rootstock"),
        ),
        scion=(
            *(replace(stage, container=PLUG_100) for stage in nursery.side_stages("scion")),
            *held_before_the_graft(chance, "scion"),
        ),
        plain=(germinating, replace(raising, nights=nights(chance, 10, 8))),
        union=union(chance),
        rootstock_sowings=chance.choice((1, 1, 1, 1, 2)),
        scion_sowings=chance.choice((1, 1, 1, 1, 2, 3)),
        sown_apart=chance.randint(1, 4),
        topping=Nights(7, 8, 9),
        topped_room=chance.choice((1.0, 1.5)),
        take=Rate(chance.uniform(0.6, 0.98), 100.0),
        kept=Rate(chance.uniform(0.8, 1.0), 100.0),
        keeping=chance.choice((14, chance.randint(0, 14))),
    )


def material(chance: Random, key: str) -> Material:
    first = chance.uniform(120, 260)
    last = first + chance.uniform(30, 120)
    clock = Clock(
        emergence_sum=chance.uniform(50, 120),
        emergence_base=chance.uniform(7, 14),
        emergence_ceiling=31.0,
        growth_base=8.0,
        growth_ceiling=28.0,
        graftable_first=first,
        graftable_aim=chance.uniform(first, last),
        graftable_last=last,
    )
    emerged, usable = (Rate(chance.uniform(0.6, 0.99), chance.choice((40.0, 200.0))) for _ in range(2))
    return Material(key, key, clock, emerged, usable, day(chance, -5, 45) if chance.random() < 0.3 else None)


# --- wishes -------------------------------------------------------------------------------------------------


def wishes(chance: Random, most: int = 3) -> tuple[Wish, ...]:
    return tuple(wish(chance, f"line {number}") for number in range(chance.randint(1, most)))


def wish(chance: Random, key: str = "asked") -> Wish:
    kind = chance.choice(("grafted", "grafted", "grafted", "plain", "room"))
    pickup = day(chance, *chance.choice(((55, 100), (55, 100), (0, 100))))
    common = {
        "key": key,
        "label": f"Order {key}",
        "earlier": chance.randint(0, 6),
        "later": chance.randint(0, 6),
        "collection": chance.choice((1, 1, 2, 3)),
    }
    if kind == "room":
        wished = terms.RoomWish(
            chance.choice(("bench", "healing")), PLUG_72, chance.randint(1, 6), chance.randint(1, 20)
        )
        return nursery.room_wish(pickup=pickup, **{**common, "room": wished})
    topped = kind == "grafted" and chance.random() < 0.4
    details = {
        "recipe": recipe(chance),
        "rootstock": material(chance, "rootstock") if kind == "grafted" else None,
        "scion": material(chance, "scion"),
        "container": chance.choice((POT_4, BIG_TRAY, PLUG_72)),
        "leaders": 2 if topped else 1,
        "topped": topped,
        "level": chance.choice((0.8, 0.95)),
        "kind": kind,
    }
    quantity = chance.choice((chance.randint(1, 60), chance.randint(1, 60), chance.randint(1, 250)))
    return nursery.wish(quantity, pickup, **common, **details)


def moved(value: object, days: int) -> object:
    """Everything with a date in it, so many days later: seasons, wishes and plans alike."""
    if isinstance(value, date):
        return value + days * DAY
    if isinstance(value, tuple | frozenset):
        return type(value)(moved(each, days) for each in value)
    if hasattr(value, "__dataclass_fields__"):
        return replace(value, **{name: moved(getattr(value, name), days) for name in value.__dataclass_fields__})
    return value
