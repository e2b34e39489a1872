"""Load by night and by day, against sums made the slow way."""

from __future__ import annotations

import itertools
import random
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_flow

from production.planning.conflicts import conflicts
from production.planning.hands import ANY_TIME, pools, skill_sets
from production.planning.load import Load
from production.planning.terms import HandsClaim, Person, RoomClaim, Span
from tests.planning import nursery
from tests.planning.nursery import MONDAY


def room(first: date, nights: int, load: float, owner: str = "a", place: str = "healing") -> RoomClaim:
    return RoomClaim(owner, f"Order {owner}", place, first, nights, load)


def hands(day: date, owner: str = "a", **hours: float) -> HandsClaim:
    return HandsClaim(owner, f"Order {owner}", day, tuple(hours.items()))


def used(load: Load, place: str, day: date) -> float:
    return float(load.used[load.row[place], load.index(day)])


def test_three_nights_from_monday_are_free_again_on_thursday() -> None:
    # common practice, no source: a stay of three nights that begins on a Monday ends on the Thursday, before dark
    load = Load(nursery.season(room=(room(MONDAY, 3, 8),)))
    nights = [used(load, "healing", MONDAY + timedelta(days=i)) for i in range(4)]
    assert nights == [8, 8, 8, 0]


def test_leaving_and_entering_on_one_date_counts_no_night_twice() -> None:
    load = Load(nursery.season(room=(room(MONDAY, 3, 8), room(MONDAY + timedelta(days=3), 2, 8, "b"))))
    assert conflicts(load) == ()


def test_conflict_names_run_peak_and_causes_largest_first() -> None:
    tuesday, wednesday = MONDAY + timedelta(days=1), MONDAY + timedelta(days=2)
    claims = (room(MONDAY, 3, 4, "a"), room(tuesday, 4, 6, "b"), room(wednesday, 1, 1, "c"))
    (conflict,) = conflicts(Load(nursery.season(room=claims)))
    assert (conflict.first, conflict.last) == (tuesday, wednesday)
    assert (conflict.peak, conflict.there, conflict.unit) == (11, 8, "positions")
    assert [(cause.label, cause.amount) for cause in conflict.causes] == [
        ("Order b", 6),
        ("Order a", 4),
        ("Order c", 1),
    ]


def test_only_conflicts_to_which_some_claims_contribute() -> None:
    claims = (room(MONDAY, 2, 9, "a"), room(MONDAY + timedelta(days=5), 1, 9, "b"))
    load = Load(nursery.season(room=claims))
    of_b = load.without_limits()
    of_b.add(claims[1:], ())
    assert [each.first for each in conflicts(load, of_b)] == [MONDAY + timedelta(days=5)]


def test_place_that_is_closed_has_no_room() -> None:
    closed = tuple(
        replace(place, open_spans=(Span(MONDAY + timedelta(days=2), MONDAY + timedelta(days=9)),))
        for place in nursery.places()
    )
    load = Load(nursery.season(places=closed, room=(room(MONDAY, 4, 1),)))
    (conflict,) = conflicts(load)
    assert (conflict.first, conflict.last, conflict.there) == (MONDAY, MONDAY + timedelta(days=1), 0)


def test_claims_before_today_do_not_count() -> None:
    load = Load(nursery.season(room=(room(MONDAY - timedelta(days=3), 5, 3),)))
    assert [used(load, "healing", MONDAY + timedelta(days=i)) for i in range(3)] == [3, 3, 0]


# --- hands ------------------------------------------------------------------------------------------------


def test_one_who_can_do_both_is_not_counted_twice() -> None:
    # Iris grafts and helps, Tom only helps: 6 + 6 hours of grafting and help are fine, 9 of grafting are not,
    # and neither are 8 of grafting with 9 of help, though each skill alone has its hours.
    fine = Load(nursery.season(hands=(hands(MONDAY, graft=6.0, crew=6.0),)))
    assert conflicts(fine) == ()
    (grafting,) = conflicts(Load(nursery.season(hands=(hands(MONDAY, graft=9.0),))))
    assert (grafting.key, grafting.peak, grafting.there) == ("graft", 9, 8)
    (both,) = conflicts(Load(nursery.season(hands=(hands(MONDAY, graft=8.0, crew=9.0),))))
    assert (both.key, both.peak, both.there) == ("crew+graft", 17, 16)


def test_closed_day_has_care_hours_only() -> None:
    sunday = MONDAY + timedelta(days=6)
    load = Load(nursery.season(hands=(hands(sunday, crew=3.0),)))
    assert conflicts(load) == ()
    (conflict,) = conflicts(Load(nursery.season(hands=(hands(sunday, crew=5.0),))))
    assert conflict.there == 4  # two people with two care hours each


def test_people_who_are_away_have_no_hours() -> None:
    iris, tom = nursery.people()
    iris = replace(iris, away=(Span(MONDAY, MONDAY + timedelta(days=4)),))
    load = Load(nursery.season(people=(iris, tom), hands=(hands(MONDAY, graft=1.0),)))
    assert [each.key for each in conflicts(load)] == ["graft"]


def test_skill_that_nobody_has_is_a_conflict() -> None:
    (conflict,) = conflicts(Load(nursery.season(hands=(hands(MONDAY, weld=1.0),))))
    assert (conflict.key, conflict.there) == ("weld", 0)


def test_conflict_leads_back_to_its_set_of_skills_though_it_names_only_those_asked_for() -> None:
    claims = (hands(MONDAY, crew=17.0), hands(MONDAY + timedelta(days=7), graft=1.0))
    load = Load(nursery.season(hands=claims))
    (conflict,) = conflicts(load)
    assert conflict.key == "crew"
    assert load.sets[load.set_of(conflict)].skills == ("crew", "graft")


def test_hands_conflict_runs_over_a_closed_day() -> None:
    saturday = MONDAY + timedelta(days=5)
    claims = (hands(saturday, graft=5.0), hands(saturday + timedelta(days=2), graft=9.0))
    (conflict,) = conflicts(Load(nursery.season(hands=claims)))
    assert (conflict.first, conflict.last) == (saturday, saturday + timedelta(days=2))


SKILLS = ("graft", "crew", "pot")


@given(
    held=st.lists(st.frozensets(st.sampled_from(SKILLS)), min_size=1, max_size=4),
    capacity=st.lists(st.integers(0, 5), min_size=4, max_size=4),
    asked=st.lists(st.integers(0, 6), min_size=3, max_size=3),
)
def test_hours_fit_exactly_when_people_can_be_given_them(
    held: list[frozenset[str]], capacity: list[int], asked: list[int]
) -> None:
    """Against a maximum flow of hours from people to skills (scipy), which is what Hall's condition means."""
    people = [Person(f"p{i}", f"p{i}", skills, (float(capacity[i]),) * 7) for i, skills in enumerate(held)]
    load = Load(nursery.season(people=tuple(people)), asks=nursery.asks(*SKILLS))
    hours = [(skill, float(wanted)) for skill, wanted in zip(SKILLS, asked, strict=True)]
    assert load.hours_fit(0, hours, ANY_TIME, care=False) == (greatest_flow(held, capacity, asked) == sum(asked))


def greatest_flow(held: list[frozenset[str]], capacity: list[int], asked: list[int]) -> int:
    size = 2 + len(held) + len(SKILLS)
    graph = np.zeros((size, size), dtype=np.int32)
    for person, skills in enumerate(held):
        graph[0, 2 + person] = capacity[person]
        for index, skill in enumerate(SKILLS):
            graph[2 + person, 2 + len(held) + index] = 100 if skill in skills else 0
    for index, wanted in enumerate(asked):
        graph[2 + len(held) + index, 1] = wanted
    return int(maximum_flow(csr_array(graph), 0, 1).flow_value)


@given(st.lists(st.frozensets(st.sampled_from("abcdef")), max_size=5))
def test_sets_of_skills_cover_every_set_worth_asking(held: list[frozenset[str]]) -> None:
    """For each set of skills there is a listed one that asks for no less of the same people."""
    people = [Person(f"p{i}", "", skills, (1.0,) * 7) for i, skills in enumerate(held)]
    sets = skill_sets(pools(people), nursery.asks(*"abcdef"))
    for size in range(1, 7):
        for some in itertools.combinations("abcdef", size):
            having = {p.key for p in people if p.skills & set(some)}
            held_by_some = {skill for skill in some if any(skill in p.skills for p in people)}
            assert not held_by_some or any(
                held_by_some <= set(each.skills) and each.holders == having for each in sets
            )


# --- arrays -----------------------------------------------------------------------------------------------

claims_of_room = st.builds(
    room,
    first=st.integers(-5, 20).map(lambda days: MONDAY + timedelta(days=days)),
    nights=st.integers(0, 9),
    load=st.integers(1, 9).map(float),
    owner=st.sampled_from("abc"),
    place=st.sampled_from(("healing", "bench_a")),
)


@given(st.lists(claims_of_room, max_size=12))
def test_load_is_the_sum_of_what_stands_there_each_night(claims: list[RoomClaim]) -> None:
    load = Load(nursery.season(room=tuple(claims)))
    for place, by in itertools.product(("healing", "bench_a"), range(30)):
        night = MONDAY + timedelta(days=by)
        standing = sum(c.load for c in claims if c.place == place and c.first <= night < c.leaves)
        assert used(load, place, night) == pytest.approx(standing)


@given(st.lists(claims_of_room, max_size=12), st.randoms())
def test_order_of_claims_does_not_matter(claims: list[RoomClaim], chance: random.Random) -> None:
    shuffled = list(claims)
    chance.shuffle(shuffled)
    assert conflicts(Load(nursery.season(room=tuple(claims)))) == conflicts(
        Load(nursery.season(room=tuple(shuffled)))
    )


def test_many_claims_at_once_are_the_sum_of_each_by_itself() -> None:
    """Added in bulk, added one by one, and taken off again in bulk: the same load, and then none."""
    chance = random.Random(7)
    days = [MONDAY + timedelta(days=chance.randint(-9, 900)) for _ in range(400)]
    rooms = [
        room(day, chance.randint(0, 30), chance.uniform(0, 4), place=chance.choice(("healing", "bench_a", "gone")))
        for day in days
    ]
    works = [hands(day, graft=chance.uniform(0, 3), **{chance.choice(("crew", "weld")): 1.0}) for day in days]
    one_by_one, at_once = (Load(nursery.season(), asks=nursery.asks("graft", "crew")) for _ in range(2))
    for stay, work in zip(rooms, works, strict=True):
        one_by_one.add([stay], [work])
    at_once.add(rooms, works)
    np.testing.assert_allclose(at_once.used, one_by_one.used, atol=1e-9)
    np.testing.assert_allclose(at_once.asked, one_by_one.asked, atol=1e-9)
    at_once.add(rooms, works, sign=-1)
    np.testing.assert_allclose(at_once.used, 0.0, atol=1e-9)
    np.testing.assert_allclose(at_once.asked, 0.0, atol=1e-9)


def test_copy_leaves_the_first_alone() -> None:
    load = Load(nursery.season())
    load.copy().take([room(MONDAY, 2, 5)], [hands(MONDAY, graft=2.0)])
    assert not load.used.any()
    assert not load.asked.any()
    assert not any(claimed.room or claimed.hands for claimed in load.claimed)


@pytest.mark.parametrize("first", [-5, 0, 3, 40])
def test_a_few_days_of_a_load_are_those_of_the_whole_load(first: int) -> None:
    claims = (room(MONDAY - timedelta(days=2), 6, 4), room(MONDAY + timedelta(days=5), 9, 3, "b", "bench_a"))
    works = [hands(MONDAY + timedelta(days=n), "b", grafting=1.0 + n, sowing=0.5) for n in range(12)]
    whole = Load(nursery.season(room=claims, hands=tuple(works)))
    days = nursery.season(today=MONDAY + timedelta(days=first))
    part = Load(days, days.today + timedelta(days=6), whole.asks)
    part.go_on_as(whole)
    assert part.sets == whole.sets
    for n, day in enumerate(part.days):
        at = whole.index(day)
        of_day = (whole.used[:, at], whole.asked[:, at]) if at >= 0 else (0, 0)
        assert np.allclose(part.used[:, n], of_day[0])
        assert np.allclose(part.asked[:, n], of_day[1])
