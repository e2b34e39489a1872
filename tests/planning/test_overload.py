"""The referee's conflicts: by hand, against a maximum flow, and against the planner's own arrays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from itertools import product

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


def evening(owner: str, day: int, **hours: float) -> HandsClaim:
    return replace(hands(owner, day, care=True, **hours), part="evening")


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


def evening_cutter(hours: float = 2.0) -> Person:
    """Cuts eight hours a day, so many of them in the evening."""
    return replace(nursery.grafter(skills=("cut",)), evenings=(hours,) * 6 + (None,))


def test_an_evening_is_full_though_the_day_has_room() -> None:
    # By hand: two hours of the evening are there; of the eight of the day five are asked for.
    claims = (evening("1", 0, cut=1.5), evening("2", 0, cut=1.5), hands("3", 0, cut=2.0))
    season = nursery.season(people=(evening_cutter(),), hands=claims)
    for found in (conflicts(season), of_load(Load(season))):
        (full,) = found
        assert (full.key, full.name, full.part) == ("cut@evening", "cut", "evening")
        assert (full.peak, full.there) == (3.0, 2.0)
        assert [cause.owner for cause in full.causes] == ["1", "2"]
    told = replace(season, people=(evening_cutter(3.0),))
    assert not conflicts(told)
    assert not of_load(Load(told))


def test_evening_hours_do_for_work_of_any_time_and_not_the_other_way_round() -> None:
    any_time = nursery.season(people=(evening_cutter(),), hands=(hands("1", 0, cut=8.0),))
    assert not conflicts(any_time)
    (found,) = conflicts(replace(any_time, hands=(*any_time.hands, evening("2", 0, cut=0.5))))
    assert (found.key, found.part, found.peak, found.there) == ("cut", "day", 8.5, 8.0)


def test_without_hours_by_part_an_evening_is_as_long_as_the_day() -> None:
    season = nursery.season(hands=(evening("1", 0, graft=8.0),))
    assert not conflicts(season)
    (found,) = conflicts(nursery.season(hands=(evening("1", 0, graft=9.0),)))
    assert (found.key, found.part) == ("graft", "day")


def test_skills_wanted_in_one_part_may_lack_hours_with_others_wanted_at_any_time() -> None:
    """No set of skills in a set of parts of the day tells this: the sets must be of skills each in its part.

    Iris is there for two hours, in the evening, and does both; Tom is not there in the evening, and only cuts.
    """
    iris = Person("iris", "Iris", frozenset({"cut", "sow"}), (2.0,) * 7, evenings=(2.0,) * 7)
    tom = Person("tom", "Tom", frozenset({"cut"}), (8.0,) * 7, evenings=(0.0,) * 7)
    season = nursery.season(people=(iris, tom), hands=(evening("1", 0, cut=1.0), hands("2", 0, sow=1.5)))
    for (found,) in (conflicts(season), of_load(Load(season))):
        assert (found.key, found.name, found.part) == ("cut@evening+sow", "cut (evening), sow", "day")
        assert (found.peak, found.there) == (2.5, 2.0)


def test_a_closed_day_has_no_parts() -> None:
    # Care hours, two on a Sunday, do for the evening as for any time.
    season = nursery.season(people=(evening_cutter(0.0),), hands=(evening("1", 6, cut=2.0),))
    assert not conflicts(season)


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
PARTS = ("morning", "day", "evening")
quarters = st.integers(0, 40).map(lambda quarter: quarter / 4)


@st.composite
def said(draw: st.DrawFn, hours: float) -> tuple[float | None, float | None]:
    """How much of a day's hours lies in its morning and in its evening, or that nothing is said of them."""
    morning = draw(st.none() | st.integers(0, round(4 * hours)).map(lambda quarter: quarter / 4))
    left = hours - (morning or 0.0)
    return morning, draw(st.none() | st.integers(0, round(4 * left)).map(lambda quarter: quarter / 4))


@st.composite
def person(draw: st.DrawFn, key: str) -> Person:
    skills = draw(st.frozensets(st.sampled_from(SKILLS), min_size=1))
    weekdays = tuple(draw(quarters) for _ in range(7))
    away = (Span(MONDAY, MONDAY + DAY),) if draw(st.booleans()) else ()
    in_parts = draw(st.booleans())
    mornings, evenings = zip(*(draw(said(hours)) if in_parts else (None, None) for hours in weekdays), strict=True)
    return Person(key, key, skills, weekdays, draw(quarters), away, mornings, evenings)  # type: ignore[arg-type]


teams = st.integers(0, 3).flatmap(lambda n: st.tuples(*(person(f"person{i}") for i in range(n))))
hands_claims = st.lists(
    st.builds(
        lambda owner, day, hours, care, part: HandsClaim(
            owner, f"Order {owner}", MONDAY + day * DAY, hours, care, part
        ),
        st.sampled_from(("1", "2", "3")),
        st.integers(0, 8),
        st.lists(st.tuples(st.sampled_from(SKILLS), quarters), max_size=3).map(tuple),
        st.booleans(),
        st.sampled_from(PARTS),
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
    asks = list(product(SKILLS, PARTS))
    asked = [
        sum(h for c in season.hands if c.day == day and c.part == part for s, h in c.hours if s == skill)
        for skill, part in asks
    ]
    there = [(who, parts, hours) for who in season.people for parts, hours in dealt(season, who, day)]
    graph = np.zeros((2 + len(asks) + len(there),) * 2, int)
    for i, (skill, part) in enumerate(asks):
        graph[0, 2 + i] = round(4 * asked[i])
        for j, (who, parts, hours) in enumerate(there):
            graph[2 + i, 2 + len(asks) + j] = 10_000 if skill in who.skills and part in parts else 0
            graph[2 + len(asks) + j, 1] = round(4 * hours)
    return int(maximum_flow(csr_array(graph), 0, 1).flow_value) == round(4 * sum(asked))


def dealt(season: Season, who: Person, day: date) -> list[tuple[set[str], float]]:
    """The hours of a person on a day, each lot with the parts of the day for whose work it does."""
    if any(day in span for span in who.away):
        return []
    if not season.calendar.is_open(day):
        return [(set(PARTS), who.care_hours)]
    morning, evening = who.mornings[day.weekday()], who.evenings[day.weekday()]
    rest = set(PARTS) - {part for part, hours in (("morning", morning), ("evening", evening)) if hours is not None}
    return [
        ({"morning", "day"}, morning or 0.0),
        ({"evening", "day"}, evening or 0.0),
        (rest, who.hours[day.weekday()] - (morning or 0.0) - (evening or 0.0)),
    ]


@given(teams, hands_claims)
def test_hours_are_in_conflict_when_no_dealing_out_is_possible(team: tuple[Person, ...], claims: tuple) -> None:
    # Reference: scipy's maximum flow from skills, in parts of the day, to the hours of people who have them.
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
