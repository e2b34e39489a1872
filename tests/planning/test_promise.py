"""What the nursery may promise beside everything it has taken already."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from production.planning import check, terms
from production.planning.claims import place_claims
from production.planning.conflicts import conflicts
from production.planning.load import Load
from production.planning.promise import plan_as_asked, promise
from production.planning.terms import Calendar, HandsClaim, Person, RoomClaim, Season, StayPlan, Wish
from tests.planning import nursery
from tests.planning.nursery import MONDAY
from tests.planning.test_ways_out import rigid


def answer(season: Season, wish: Wish) -> terms.Answer:
    (only,) = promise(season, [wish])
    return only


def taken(season: Season, wishes: Sequence[Wish]) -> Season:
    """The season after promising these wishes."""
    for each in promise(season, wishes):
        assert each.plan
        assert each.fits
        room, hands = place_claims(each.plan, each.wish.key)
        season = replace(season, room=season.room + room, hands=season.hands + hands)
    return season


def full(place: str, first: int = 0, nights: int = 200, load: float = 1000) -> RoomClaim:
    return RoomClaim("other", "Order 9, line 1", place, MONDAY + timedelta(days=first), nights, load)


def busy(day: int, **hours: float) -> HandsClaim:
    return HandsClaim("other", "Order 9, line 1", MONDAY + timedelta(days=day), tuple(hours.items()))


def chamber(plan: terms.LinePlan) -> StayPlan:
    return next(stay for stay in plan.stays if stay.stage_kind == terms.HEAL)


# --- yes --------------------------------------------------------------------------------------------------


def test_empty_nursery_says_yes_with_the_plan_as_asked() -> None:
    season = nursery.season()
    said = answer(season, nursery.wish())
    assert said.fits
    assert said.plan == plan_as_asked(season, nursery.wish())


def test_slack_dodges_a_full_chamber() -> None:
    season = nursery.season()
    usual = chamber(plan_as_asked(season, nursery.wish()))
    first = (usual.first - MONDAY).days
    season = replace(season, room=(full("healing", first - 1, 3, 8),))
    said = answer(season, nursery.wish())
    assert said.fits
    assert said.plan
    assert said.plan.pickup == nursery.wish().pickup
    assert chamber(said.plan).first >= MONDAY + timedelta(days=first + 2)


def test_stand_is_divided_over_benches_in_whole_trays() -> None:
    season = nursery.season(places=nursery.places(bench_a=5, bench_b=5))
    said = answer(season, nursery.wish())
    assert said.fits
    assert said.plan
    growing = [stay for stay in said.plan.stays if stay.stage == "growing"]
    assert sorted(stay.containers for stay in growing) == [3, 5]
    assert {stay.place for stay in growing} == {"bench_a", "bench_b"}


def test_latitude_is_used_and_the_nearest_day_taken() -> None:
    wish = nursery.wish()
    season = nursery.season(hands=(busy((wish.pickup - MONDAY).days, crew=16.0),))
    handing_over = terms.WorkRule(terms.HAND_OVER, (("crew", 100.0),))
    recipe = wish.recipe
    assert recipe
    *others, growing = recipe.union
    union = (*others, replace(growing, works=(*growing.works, handing_over)))
    wish = replace(wish, recipe=replace(recipe, union=union))
    assert not answer(season, wish).fits
    moved = answer(season, replace(wish, earlier=4, later=4))
    assert moved.fits
    assert moved.plan
    assert abs((moved.plan.pickup - wish.pickup).days) == 1


def test_batch_is_divided_when_a_day_has_not_the_hours() -> None:
    one_hour = (Person("iris", "Iris", frozenset({"graft", "crew"}), (1.0,) * 7, care_hours=1.0),)
    said = answer(nursery.season(people=one_hour), nursery.wish(100))
    assert said.fits
    assert said.plan
    assert len(said.plan.parts) > 1
    assert sum(part.plants for part in said.plan.parts) == 100
    assert len({part.graft_day for part in said.plan.parts}) == len(said.plan.parts)


def test_seedlings_that_are_never_potted_wait_in_their_plug_trays() -> None:
    recipe = replace(nursery.plain(), union=())
    one_hour = nursery.season(people=(nursery.grafter(hours=1.0),))
    said = answer(one_hour, nursery.plain_wish(700, recipe=recipe, collection=2))
    assert said.fits
    assert said.plan
    assert len(said.plan.parts) == 2
    assert {stay.container for stay in said.plan.stays} == {"plug-72"}
    assert {stay.stage_kind for stay in said.plan.stays} == {terms.GERMINATING, terms.RAISING, terms.WAITING}


def test_wishes_are_judged_together_in_their_order() -> None:
    season = nursery.season(places=nursery.places(healing=2))
    first, second = (nursery.wish(pickup=MONDAY + timedelta(days=72), key=key) for key in ("first", "second"))
    stages = tuple(_without_slack(stage) for stage in nursery.splice().union)
    fixed = replace(nursery.splice(), union=stages, keeping=0)
    every_day = Person("iris", "Iris", frozenset({"graft", "crew"}), (8.0,) * 7)
    season = replace(season, calendar=nursery.calendar(weekdays=frozenset(range(7))), people=(every_day,))
    said = promise(season, [replace(first, recipe=fixed), replace(second, recipe=fixed)])
    assert [each.fits for each in said] == [True, False]
    assert {cause.owner for conflict in said[1].conflicts for cause in conflict.causes} == {"first", "second"}


def _without_slack(stage: terms.Stage) -> terms.Stage:
    usual = stage.nights.usual
    return replace(stage, nights=terms.Nights(usual, usual, usual))


# --- no ---------------------------------------------------------------------------------------------------


LATE = nursery.wish(pickup=MONDAY + timedelta(days=112))


def test_no_carries_plan_conflicts_and_the_nearest_days_that_fit() -> None:
    usual = chamber(plan_as_asked(nursery.season(), LATE))
    first = (usual.first - MONDAY).days
    season = nursery.season(room=(full("healing", first - 24, 40, 8),))
    said = answer(season, LATE)
    assert not said.fits
    assert said.plan
    assert said.impossible is None
    assert [conflict.key for conflict in said.conflicts] == ["healing"]
    assert [cause.label for cause in said.conflicts[0].causes] == ["Order 9, line 1", "Order 1, line 1"]
    for other in (said.earlier, said.later):
        assert other
        same = answer(season, replace(LATE, pickup=other.pickup)).plan
        assert same
        assert same.stays == other.stays
    assert said.earlier
    assert said.later
    assert said.earlier.pickup < LATE.pickup < said.later.pickup


def test_nearest_days_are_the_nearest() -> None:
    usual = chamber(plan_as_asked(nursery.season(), LATE))
    season = nursery.season(room=(full("healing", (usual.first - MONDAY).days - 24, 40, 8),))
    said = answer(season, LATE)
    assert said.earlier
    assert said.later
    day = said.earlier.pickup + timedelta(days=1)
    while day < said.later.pickup:
        assert not answer(season, replace(LATE, pickup=day)).fits
        day += timedelta(days=1)


def test_conflicts_of_others_are_not_its_fault() -> None:
    # the chamber is overfull in the week before the plants come, and an hour is missing on a day they need none
    usual = chamber(plan_as_asked(nursery.season(), nursery.wish()))
    before = (usual.first - MONDAY).days
    season = nursery.season(room=(full("healing", before - 7, 7, 20),), hands=(busy(before - 3, graft=30.0),))
    assert conflicts(Load(season))
    assert answer(season, nursery.wish()).fits


def test_impossible_wish_gets_the_first_day_that_fits() -> None:
    said = answer(nursery.season(), nursery.wish(pickup=MONDAY + timedelta(days=8)))
    assert not said.fits
    assert said.impossible
    assert said.later
    assert said.later.pickup == said.impossible.earliest


def test_impossible_and_full_gets_a_later_day_than_the_earliest() -> None:
    season = nursery.season(room=(full("healing", 0, 60),))
    said = answer(season, nursery.wish(pickup=MONDAY + timedelta(days=8)))
    assert said.impossible
    assert said.impossible.earliest
    assert said.later
    assert said.later.pickup > said.impossible.earliest


def test_senseless_wish_is_told_so() -> None:
    said = answer(nursery.season(), nursery.wish(0))
    assert said.impossible
    assert (said.impossible.field, said.plan, said.later) == ("quantity", None, None)


def test_work_nobody_has_the_skill_for_is_a_conflict_of_hands() -> None:
    said = answer(nursery.season(people=(nursery.grafter(skills=("crew",)),)), nursery.wish())
    assert not said.fits
    assert [(each.resource, each.key) for each in said.conflicts] == [("hands", "graft")]


# --- always -----------------------------------------------------------------------------------------------

wishes = st.builds(
    lambda number, quantity, by, kind, collection, latitude: {
        "grafted": nursery.wish,
        "side": lambda q, **k: nursery.wish(q, recipe=nursery.side_graft(), **k),
        "plain": nursery.plain_wish,
        "room": lambda q, **k: nursery.room_wish(1 + q // 20, **k),
    }[kind](
        quantity,
        pickup=MONDAY + timedelta(days=by),
        key=f"line {number}",
        label=f"Line {number}",
        collection=collection,
        earlier=latitude,
        later=latitude,
    ),
    number=st.integers(0, 10**6),
    quantity=st.integers(1, 220),
    by=st.integers(55, 80),
    kind=st.sampled_from(["grafted", "side", "plain", "room"]),
    collection=st.integers(1, 3),
    latitude=st.integers(0, 2),
)
many = st.lists(wishes, min_size=1, max_size=4, unique_by=lambda wish: wish.key)
rooms = st.builds(
    full, place=st.sampled_from(["healing", "bench_a", "bench_b"]), first=st.integers(20, 70),
    nights=st.integers(1, 20), load=st.integers(1, 20).map(float),
)  # fmt: skip
days_of_work = st.builds(busy, day=st.integers(20, 70), graft=st.floats(0, 9), crew=st.floats(0, 9))
seasons = st.builds(
    lambda room, hands: nursery.season(room=tuple(room), hands=tuple(hands), places=nursery.places(bench_b=20)),
    room=st.lists(rooms, max_size=5),
    hands=st.lists(days_of_work, max_size=5),
)


def overload(season: Season) -> dict[tuple[str, str, int], float]:
    """What is asked beyond what there is, by place and night or by set of skills and day."""
    load = Load(season, asks=nursery.asks("graft", "crew"))
    over = {("place", key): load.used[row] - load.capacity[row] for key, row in load.row.items()}
    over |= {("hands", "+".join(s.skills)): load.asked[i] - load.hours[i] for i, s in enumerate(load.sets)}
    return {
        (*key, day): float(excess[day]) for key, excess in over.items() for day in (excess > 1e-6).nonzero()[0]
    }


@settings(max_examples=25)
@given(seasons, many)
def test_promise_neither_makes_nor_worsens_a_conflict(season: Season, asked: list[Wish]) -> None:
    before = overload(season)
    for each in promise(season, asked):
        if each.fits and each.plan:
            room, hands = place_claims(each.plan, each.wish.key)
            season = replace(season, room=season.room + room, hands=season.hands + hands)
    after = overload(season)
    assert all(excess <= before.get(where, 0.0) + 1e-6 for where, excess in after.items())


@settings(max_examples=25)
@given(seasons, many)
def test_the_referee_finds_nothing_impossible_and_no_conflict_of_the_promise(
    season: Season, asked: list[Wish]
) -> None:
    said = promise(season, asked)
    for each in said:
        plans = [plan for plan in (each.plan, each.earlier, each.later) if plan]
        as_asked = [replace(plan, wish=replace(plan.wish, pickup=plan.pickup)) for plan in plans]
        assert not check.faults(season, as_asked)
    promised = [each.plan for each in said if each.fits and each.plan]
    owners = {plan.wish.key for plan in promised}
    for conflict in check.conflicts(season, promised):
        assert not owners & {cause.owner for cause in conflict.causes}


@settings(max_examples=25)
@given(seasons, wishes, st.sampled_from(["healing", "bench_a", "bench_b", "hardening", "germination"]))
def test_more_room_never_turns_a_yes_into_a_no(season: Season, wish: Wish, place: str) -> None:
    roomier = replace(
        season,
        places=tuple(replace(p, capacity=p.capacity + 7) if p.key == place else p for p in season.places),
    )
    if answer(season, wish).fits:
        assert answer(roomier, wish).fits


@settings(max_examples=25)
@given(seasons, wishes, st.randoms())
def test_order_of_what_is_taken_does_not_matter(season: Season, wish: Wish, chance) -> None:
    room, hands = list(season.room), list(season.hands)
    chance.shuffle(room)
    chance.shuffle(hands)
    shuffled = answer(replace(season, room=tuple(room), hands=tuple(hands)), wish)
    assert shuffled == answer(season, wish)


@settings(max_examples=25)
@given(seasons, wishes)
def test_a_no_says_what_stands_in_the_way(season: Season, wish: Wish) -> None:
    said = answer(season, wish)
    if not said.fits and said.impossible is None:
        assert said.plan
        assert said.conflicts
        for conflict in said.conflicts:
            assert conflict.peak > conflict.there
            assert wish.key in {cause.owner for cause in conflict.causes}
            assert [c.amount for c in conflict.causes] == sorted((c.amount for c in conflict.causes), reverse=True)


@settings(max_examples=25)
@given(seasons, wishes)
def test_nights_are_conserved(season: Season, wish: Wish) -> None:
    """All plants of a stage stand somewhere on each of its nights, and each stage follows the one before."""
    plan = answer(season, wish).plan
    for part in plan.parts if plan else ():
        standing: dict[str, list[tuple[str, StayPlan]]] = {}
        for stay in part.stays:
            standing.setdefault(stay.subject, []).append((stay.stage, stay))
        for stays in standing.values():
            borders = sorted({(stay.first, stay.leaves, stage) for stage, stay in stays})
            assert all(a[1] == b[0] for a, b in itertools.pairwise(borders))


def test_a_plan_that_the_referee_refutes_is_never_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    """With a calendar that the planner reads wrongly, nothing is promised."""
    monkeypatch.setattr(
        Load, "days_for", lambda self, hours, part, care, days=slice(None): np.ones(self.size, bool)[days]
    )
    monkeypatch.setattr(Load, "hours_fit", lambda self, day, hours, part, care: True)
    monkeypatch.setattr(Load, "all_fit", lambda self, day, works, care: True)
    said = answer(nursery.season(calendar=nursery.calendar(weekdays=frozenset({0}))), nursery.wish())
    assert not said.fits
    assert said.impossible
    assert (said.impossible.field, said.plan) == ("plan", None)


def test_a_promise_leaves_the_season_as_it_was() -> None:
    season = taken(nursery.season(), [nursery.wish(key="first")])
    room, hands = season.room, season.hands
    promise(season, [nursery.wish(), nursery.wish(500, key="second")])
    assert (season.room, season.hands) == (room, hands)


@pytest.mark.parametrize("wish", [nursery.wish(), nursery.plain_wish(), nursery.room_wish()])
def test_claims_carry_the_whole_plan(wish: Wish) -> None:
    plan = plan_as_asked(nursery.season(), wish)
    room, hands = place_claims(plan, "k")
    assert sum(c.load * c.nights for c in room) == pytest.approx(sum(s.load * s.nights for s in plan.stays))
    assert sum(h for c in hands for _, h in c.hours) == pytest.approx(sum(w.total_hours for w in plan.works))


def test_a_day_that_only_closed_days_forbid_is_not_called_too_soon():
    """Rigid stages count back from Monday to a Friday, on which nobody works here."""
    calendar = Calendar(open_weekdays=frozenset({0, 1, 2, 3}), closed=frozenset())
    monday = MONDAY + timedelta(days=98)
    wish = nursery.wish(60, monday, recipe=rigid(nursery.splice()), earlier=0, later=0)
    said = answer(replace(nursery.season(), calendar=calendar), wish).impossible
    assert said
    assert "closed day" in said.reason
    assert "sooner" not in str(said)
    assert "Choose Thu 4 June or Tue 9 June" in said.mend
    assert said.earliest == monday + timedelta(days=1)
