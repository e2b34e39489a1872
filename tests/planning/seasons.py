"""Random nurseries, seasons and wishes: small enough to be tight, odd enough to find what nobody thought of."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from hypothesis import strategies as st

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


def span(first: int, last: int, longest: int) -> st.SearchStrategy[Span]:
    """A run of days that begins from `first` to `last` days after the Monday of these tests."""
    return st.builds(
        lambda start, days: Span(MONDAY + start * DAY, MONDAY + (start + days) * DAY),
        st.integers(first, last),
        st.integers(0, longest),
    )


# --- the nursery ------------------------------------------------------------------------------------------

calendars = st.builds(
    Calendar,
    st.just(nursery.WEEKDAYS_OPEN) | st.frozensets(st.integers(0, 6), min_size=4),
    st.frozensets(st.integers(0, 100).map(lambda n: MONDAY + n * DAY), max_size=6),
)


@st.composite
def warmth(draw: st.DrawFn, usual: float) -> Warmth:
    spells = draw(st.lists(st.tuples(span(0, 80, 20), st.floats(-5, 3).map(lambda off: usual + off)), max_size=1))
    return Warmth(usual + draw(st.floats(-3, 3)), tuple(spells))


@st.composite
def place(draw: st.DrawFn, key: str) -> Place:
    kind = key.split("_")[0]
    by_area = draw(st.booleans())
    positions = draw(st.integers(8, 40) | st.integers(1, 14))
    open_all_year = st.integers(0, 9).map(bool)
    return Place(
        key=key,
        name=key.replace("_", " "),
        kinds=frozenset({kind} | draw(st.frozensets(st.sampled_from(("bench", "staging")), max_size=1))),
        measure="area" if by_area else "positions",
        capacity=round(positions * 0.16, 2) if by_area else float(positions),
        warmth=draw(warmth(25.0 if kind == "germination" else 21.0)),
        open_spans=() if draw(open_all_year) else (draw(span(0, 30, 120)),),
    )


@st.composite
def person(draw: st.DrawFn, key: str) -> Person:
    hours = draw(st.floats(6, 9) | st.floats(1, 9))
    return Person(
        key=key,
        name=key.title(),
        skills=draw(st.just(frozenset({"graft", "crew"})) | st.frozensets(st.sampled_from(("graft", "crew")))),
        hours=tuple(hours if draw(st.integers(0, 6)) else 0.0 for _ in range(7)),  # type: ignore[arg-type]
        care_hours=draw(st.floats(0, 3)),
        away=tuple(draw(st.lists(span(0, 80, 10), max_size=1))),
    )


@st.composite
def room_claims(draw: st.DrawFn) -> tuple[RoomClaim, ...]:
    drawn = st.tuples(
        st.sampled_from(KEYS), st.integers(-10, 80), st.integers(1, 25), st.floats(0.1, 6), st.sampled_from("abc")
    )
    return tuple(
        RoomClaim(owner, f"Order {owner}", key, MONDAY + first * DAY, nights, load)
        for key, first, nights, load, owner in draw(st.lists(drawn, max_size=6))
    )


@st.composite
def hands_claims(draw: st.DrawFn) -> tuple[HandsClaim, ...]:
    drawn = st.tuples(
        st.integers(-3, 80), st.sampled_from(("graft", "crew")), st.floats(0.1, 8), st.sampled_from("abc")
    )
    return tuple(
        HandsClaim(owner, f"Order {owner}", MONDAY + day * DAY, ((skill, hours),), care=True)
        for day, skill, hours, owner in draw(st.lists(drawn, max_size=6))
    )


@st.composite
def seasons(draw: st.DrawFn) -> Season:
    return nursery.season(
        calendar=draw(calendars),
        places=tuple(draw(place(key)) for key in KEYS),
        people=tuple(draw(person(key)) for key in ("iris", "tom")),
        room=draw(room_claims()),
        hands=draw(hands_claims()),
    )


# --- protocols and varieties --------------------------------------------------------------------------------


@st.composite
def nights(draw: st.DrawFn, shortest: int, slack: int = 4) -> Nights:
    first = draw(st.integers(shortest, shortest + 2))
    usual = first + draw(st.integers(0, slack))
    return Nights(first, usual, usual + draw(st.integers(0, slack)))


@st.composite
def union(draw: st.DrawFn) -> tuple[Stage, ...]:
    """Healing, now and then a cover or a weaning, hardening, growing on; each with nights and works of its own."""
    trays = st.sampled_from((None, PLUG_72))
    graft = WorkRule(terms.GRAFT, (("graft", draw(st.sampled_from((40.0, 80.0)))),))
    out = WorkRule(terms.TAKE_OUT, (("crew", 1500.0),), at_end=True, care=draw(st.booleans()))
    prop = WorkRule(terms.PROP, (("crew", 3000.0),), after=draw(st.integers(0, 2)), care=True)
    notch = WorkRule(terms.NOTCH, (("graft", 300.0), ("crew", 900.0)), part="evening", at_end=True, care=True)
    pot = WorkRule(terms.POT, (("crew", 200.0),))
    top = WorkRule(terms.TOP, (("crew", 400.0),), after=draw(st.integers(0, 3)))
    hand_over = WorkRule(terms.HAND_OVER, (("crew", 500.0),))
    container = draw(trays)
    stages = [Stage("healing", terms.HEAL, "healing", ("healing",), container, draw(nights(3, 2)), (graft, out))]
    if draw(st.booleans()):
        kinds = draw(st.sampled_from((("hardening",), ("hardening", "bench"))))
        stages.append(Stage("cover", terms.COVER, "cover", kinds, container, draw(nights(0, 3)), (prop,)))
    if draw(st.booleans()):
        stages.append(Stage("notch", terms.WEANING, "notch", ("bench",), container, draw(nights(2, 2)), (notch,)))
    works = (pot, top, hand_over)[: draw(st.integers(1, 3))]
    stages.append(Stage("growing", terms.GROW_ON, "growing on", ("bench",), None, draw(nights(6, 6)), works))
    return tuple(stages)


@st.composite
def recipes(draw: st.DrawFn, method: str = "splice") -> Recipe:
    raised = draw(nights(10, 8))
    bounds = draw(st.sampled_from((nursery.NO_BOUND, Nights(0, 0, 40))))
    plain = nursery.side_stages("plain")
    return Recipe(
        key=method,
        name=method,
        method=method,
        rootstock=tuple(replace(stage, nights=bounds) for stage in nursery.side_stages("rootstock")),
        scion=tuple(replace(stage, container=PLUG_100) for stage in nursery.side_stages("scion")),
        plain=(plain[0], replace(plain[1], nights=raised)),
        union=draw(union()),
        topping=Nights(7, 8, 9),
        topped_room=draw(st.sampled_from((1.0, 1.5))),
        take=Rate(draw(st.floats(0.6, 0.98)), 100.0),
        kept=Rate(draw(st.floats(0.8, 1.0)), 100.0),
        keeping=draw(st.integers(4, 14) | st.integers(0, 14)),
    )


@st.composite
def materials(draw: st.DrawFn, key: str) -> Material:
    first = draw(st.floats(120, 260))
    last = first + draw(st.floats(30, 120))
    clock = Clock(
        emergence_sum=draw(st.floats(50, 120)),
        emergence_base=draw(st.floats(7, 14)),
        emergence_ceiling=31.0,
        growth_base=8.0,
        growth_ceiling=28.0,
        graftable_first=first,
        graftable_aim=draw(st.floats(first, last)),
        graftable_last=last,
    )
    share = st.builds(Rate, st.floats(0.6, 0.99), st.sampled_from((40.0, 200.0)))
    seed = draw(st.none() | st.none() | st.integers(-5, 30).map(lambda n: MONDAY + n * DAY))
    return Material(key, key, clock, draw(share), draw(share), seed)


# --- wishes -------------------------------------------------------------------------------------------------


@st.composite
def wishes(draw: st.DrawFn, key: str = "asked") -> Wish:
    kind = draw(st.sampled_from(("grafted", "grafted", "grafted", "plain", "room")))
    pickup = MONDAY + draw(st.integers(55, 100) | st.integers(0, 100)) * DAY
    common = {
        "key": key,
        "label": f"Order {key}",
        "earlier": draw(st.integers(0, 6)),
        "later": draw(st.integers(0, 6)),
        "collection": draw(st.integers(1, 3)),
    }
    if kind == "room":
        containers, stay = draw(st.integers(1, 6)), draw(st.integers(1, 20))
        room = terms.RoomWish(draw(st.sampled_from(("bench", "healing"))), PLUG_72, containers, stay)
        return nursery.room_wish(pickup=pickup, **{**common, "room": room})
    topped = kind == "grafted" and draw(st.booleans())
    details = {
        "recipe": draw(recipes()),
        "rootstock": draw(materials("rootstock")) if kind == "grafted" else None,
        "scion": draw(materials("scion")),
        "container": draw(st.sampled_from((POT_4, BIG_TRAY, PLUG_72))),
        "leaders": 2 if topped else 1,
        "topped": topped,
        "level": draw(st.sampled_from((0.8, 0.95))),
        "kind": kind,
    }
    return nursery.wish(draw(st.integers(1, 60) | st.integers(1, 250)), pickup, **common, **details)


several_wishes = st.integers(1, 3).flatmap(lambda n: st.tuples(*(wishes(f"line {i}") for i in range(n))))


def moved(value: object, days: int) -> object:
    """Everything with a date in it, so many days later: seasons, wishes and plans alike."""
    if isinstance(value, date):
        return value + days * DAY
    if isinstance(value, tuple | frozenset):
        return type(value)(moved(each, days) for each in value)
    if hasattr(value, "__dataclass_fields__"):
        return replace(value, **{name: moved(getattr(value, name), days) for name in value.__dataclass_fields__})
    return value
