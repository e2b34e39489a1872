"""The referee's conflicts: by hand, against a maximum flow, and against the planner's own arrays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_flow

from production.planning.check import conflicts
from production.planning.claims import place_claims
from production.planning.conflicts import conflicts as of_load
from production.planning.load import Load
from production.planning.promise import plan_as_asked
from production.planning.terms import Cause, Conflict, HandsClaim, Person, RoomClaim, Season, Span
from tests.planning import nursery
from tests.planning.nursery import MONDAY

DAY = timedelta(days=1)


def room(owner: str, first: int, nights: int, load: float, place: str = "healing") -> RoomClaim:
    return RoomClaim(owner, f"Order {owner}", place, MONDAY + first * DAY, nights, load)


def hands(owner: str, day: int, care: bool = False, **hours: float) -> HandsClaim:
    return HandsClaim(owner, f"Order {owner}", MONDAY + day * DAY, tuple(hours.items()), care)


# --- by hand -----------------------------------------------------------------------------------------------


def test_leaving_and_entering_on_one_day_is_no_conflict() -> None:
    season = nursery.season(room=(room("1", 0, 3, 8), room("2", 3, 3, 8)))
    assert conflicts(season) == []


def test_a_run_of_nights_has_its_peak_and_its_causes_largest_first() -> None:
    # By hand, 8 trays in the chamber: nights 0–1 hold 5, 2–3 hold 5 + 6 = 11, 4 holds 5 + 6 + 1 = 12, 5 holds 7.
    season = nursery.season(room=(room("1", 0, 5, 5), room("2", 2, 4, 6), room("3", 4, 2, 1)))
    (found,) = conflicts(season)
    assert (found.resource, found.key, found.unit) == ("place", "healing", "positions")
    assert (found.first, found.last) == (MONDAY + 2 * DAY, MONDAY + 4 * DAY)
    assert (found.peak, found.there) == (12, 8)
    assert found.causes == (Cause("2", "Order 2", 6), Cause("1", "Order 1", 5), Cause("3", "Order 3", 1))


def test_the_first_of_equal_nights_is_the_worst_whatever_floats_make_of_their_sums() -> None:
    # 0.1 + 0.2 + 7.9 and 8.2 are one load, though the later sum comes out a little larger than the first.
    season = nursery.season(
        places=nursery.places(healing=8.0, hardening=8.0),
        room=(
            room("1", 0, 1, 8.2),
            *(room(f"{n}", 1, 1, load) for n, load in enumerate((0.1, 0.2, 7.9), start=2)),
        ),
    )
    assert 0.1 + 0.2 + 7.9 > 8.2
    (found,) = conflicts(season)
    assert (found.peak, found.first) == (8.2, MONDAY)


def test_nights_that_fit_part_two_runs() -> None:
    season = nursery.season(room=(room("1", 0, 2, 9), room("1", 3, 2, 9)))
    assert [(each.first, each.last) for each in conflicts(season)] == [
        (MONDAY, MONDAY + DAY),
        (MONDAY + 3 * DAY, MONDAY + 4 * DAY),
    ]


def test_a_closed_place_has_no_room() -> None:
    shut = tuple(
        replace(place, open_spans=(Span(MONDAY, MONDAY + DAY),)) if place.key == "healing" else place
        for place in nursery.places()
    )
    (found,) = conflicts(nursery.season(places=shut, room=(room("1", 0, 4, 1),)))
    assert (found.first, found.last, found.there) == (MONDAY + 2 * DAY, MONDAY + 3 * DAY, 0)


def test_nights_before_today_are_no_conflict_any_more() -> None:
    (found,) = conflicts(nursery.season(room=(room("1", -5, 7, 9),)))
    assert (found.first, found.last) == (MONDAY, MONDAY + DAY)


def test_two_skills_of_one_person_count_together() -> None:
    # Iris grafts and pots for 8 hours a day and nobody else does either: 5 + 4 hours are one too many.
    season = nursery.season(people=(nursery.grafter(),), hands=(hands("1", 0, graft=5.0), hands("2", 0, crew=4.0)))
    (found,) = conflicts(season)
    assert (found.key, found.peak, found.there) == ("crew+graft", 9.0, 8.0)
    assert conflicts(replace(season, people=nursery.people())) == []


def test_a_set_that_only_repeats_what_a_smaller_one_lacks_is_left_out() -> None:
    season = nursery.season(people=(nursery.grafter(),), hands=(hands("1", 0, graft=9.0),))
    assert [each.key for each in conflicts(season)] == ["graft"]


def test_a_skill_that_nobody_has_is_a_conflict() -> None:
    (found,) = conflicts(nursery.season(hands=(hands("1", 0, welding=0.5),)))
    assert (found.key, found.peak, found.there) == ("welding", 0.5, 0.0)


def test_on_closed_days_care_hours_count() -> None:
    # Two people care 2 hours each on a Sunday.
    season = nursery.season(hands=(hands("1", 6, care=True, crew=4.0),))
    assert conflicts(season) == []
    (found,) = conflicts(nursery.season(hands=(hands("1", 6, care=True, crew=5.0),)))
    assert (found.first.weekday(), found.peak, found.there) == (6, 5.0, 4.0)


def test_who_is_away_has_no_hours() -> None:
    away = replace(nursery.grafter(), away=(Span(MONDAY, MONDAY),))
    season = nursery.season(people=(away,), hands=(hands("1", 0, graft=1.0), hands("1", 1, graft=8.0)))
    assert [(each.first, each.there) for each in conflicts(season)] == [(MONDAY, 0.0)]


def test_a_plan_counts_beside_what_is_claimed() -> None:
    season = nursery.season()
    plan = plan_as_asked(season, nursery.wish())
    healing = next(stay for stay in plan.stays if stay.stage == "healing")
    full = RoomClaim("1", "Order 9", "healing", healing.first, healing.nights, 8)
    (found,) = conflicts(replace(season, room=(full,)), [plan])
    assert [cause.label for cause in found.causes] == ["Order 9", "Order 1, line 1"]
    assert (found.first, found.last) == (healing.first, healing.leaves - DAY)


# --- against other computations ----------------------------------------------------------------------------

SKILLS = ("graft", "pot", "crew")
quarters = st.integers(0, 40).map(lambda quarter: quarter / 4)


@st.composite
def person(draw: st.DrawFn, key: str) -> Person:
    skills = draw(st.frozensets(st.sampled_from(SKILLS), min_size=1))
    weekdays = tuple(draw(quarters) for _ in range(7))
    away = (Span(MONDAY, MONDAY + DAY),) if draw(st.booleans()) else ()
    return Person(key, key, skills, weekdays, draw(quarters), away)  # type: ignore[arg-type]


teams = st.integers(0, 3).flatmap(lambda n: st.tuples(*(person(f"person{i}") for i in range(n))))
hands_claims = st.lists(
    st.builds(
        lambda owner, day, hours, care: HandsClaim(owner, f"Order {owner}", MONDAY + day * DAY, hours, care),
        st.sampled_from(("1", "2", "3")),
        st.integers(0, 8),
        st.lists(st.tuples(st.sampled_from(SKILLS), quarters), max_size=3).map(tuple),
        st.booleans(),
    ),
    max_size=6,
).map(tuple)
room_claims = st.lists(
    st.builds(
        room,
        st.sampled_from(("1", "2", "3")),
        st.integers(-4, 12),
        st.integers(0, 9),
        st.integers(1, 6).map(float),
        st.sampled_from(("healing", "hardening")),
    ),
    max_size=8,
).map(tuple)


def hours_by_flow(season: Season, day: date) -> bool:
    """Whether the hours asked on a day can be dealt out to people: a maximum flow in quarters of an hour."""
    asked = [sum(h for c in season.hands if c.day == day for s, h in c.hours if s == skill) for skill in SKILLS]
    closed = not season.calendar.is_open(day)
    there = [
        0.0 if any(day in span for span in p.away) else p.care_hours if closed else p.hours[day.weekday()]
        for p in season.people
    ]
    skills, people = len(SKILLS), len(there)
    graph = np.zeros((2 + skills + people,) * 2, int)
    for i, skill in enumerate(SKILLS):
        graph[0, 2 + i] = round(4 * asked[i])
        for j, who in enumerate(season.people):
            graph[2 + i, 2 + skills + j] = 10_000 if skill in who.skills else 0
            graph[2 + skills + j, 1] = round(4 * there[j])
    return int(maximum_flow(csr_array(graph), 0, 1).flow_value) == round(4 * sum(asked))


@given(teams, hands_claims)
def test_hours_are_in_conflict_when_no_dealing_out_is_possible(team: tuple[Person, ...], claims: tuple) -> None:
    # Reference: scipy's maximum flow from skills to the people who have them.
    season = nursery.season(people=team, hands=claims)
    days = overasked(conflicts(season))
    for day in {claim.day for claim in claims}:
        if hours_by_flow(season, day):
            assert not any(each.first == day or each.last == day for each in conflicts(season))
        else:
            assert day in days


@given(teams, room_claims, hands_claims)
def test_the_planner_sees_the_same_places_nights_and_causes(
    team: tuple[Person, ...], rooms: tuple, claims: tuple
) -> None:
    season = nursery.season(people=team, room=rooms, hands=claims)
    ours, theirs = conflicts(season), of_load(Load(season))
    assert [each for each in ours if each.resource == "place"] == [
        each for each in theirs if each.resource == "place"
    ]
    open_days = {claim.day for claim in claims if season.calendar.is_open(claim.day)}
    assert open_days & overasked(ours) == open_days & overasked(theirs)


def overasked(found: Sequence[Conflict]) -> set[date]:
    """Days in the runs of hands; which skills a run is named after is each one's own affair."""
    runs = ((each.first, (each.last - each.first).days + 1) for each in found if each.resource == "hands")
    return {first + n * DAY for first, days in runs for n in range(days)}


def test_the_claims_of_a_plan_weigh_what_the_plan_weighs() -> None:
    season = nursery.season(places=nursery.places(healing=1.0, hardening=1.0))
    plan = plan_as_asked(season, nursery.wish(200))
    claims_room, claims_hands = place_claims(plan, plan.wish.key)
    assert conflicts(season, [plan])
    assert conflicts(season, [plan]) == conflicts(replace(season, room=claims_room, hands=claims_hands))
