"""Whatever the nursery and the wishes: what is shown is possible, what is promised fits, more room never hurts.

The judge is the referee, which shares no code with the planner. Everyday runs try the same few seasons each time;
`pytest --hypothesis-profile=search tests/planning/test_random_seasons.py` tries hundreds of new ones.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from random import Random

import pytest
from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st

from production.planning.check import conflicts, faults, near
from production.planning.claims import place_claims
from production.planning.load import Load
from production.planning.promise import promise
from production.planning.terms import Answer, LinePlan, Season, Wish
from tests.planning import seasons
from tests.planning.seasons import moved

YEAR = 52 * 7

SEARCHING = settings.get_current_profile_name() == "search"
# A seed does not get simpler by being smaller, so that a failing one is told as it is.
tried = settings(
    max_examples=settings().max_examples if SEARCHING else 15,
    derandomize=not SEARCHING,
    database=None,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)
seeds = st.integers(0, 2**64 - 1)


def drawn(seed: int, most: int = 3) -> tuple[Season, tuple[Wish, ...], Random]:
    """A season, what is wished in it, and the chance that made them."""
    chance = Random(seed)
    return seasons.season(chance), seasons.wishes(chance, most), chance


def shown(answers: Sequence[Answer]) -> Iterator[LinePlan]:
    """Every plan of these answers; the nearest pickups as if they had been asked for."""
    for answer in answers:
        if answer.plan:
            yield answer.plan
        for plan in (answer.earlier, answer.later):
            if plan:
                yield replace(plan, wish=replace(plan.wish, pickup=plan.pickup))


def promised(answers: Sequence[Answer]) -> list[LinePlan]:
    return [answer.plan for answer in answers if answer.fits and answer.plan]


def blamed(season: Season, plans: Sequence[LinePlan]) -> set[str]:
    """The owners that are named as causes of a conflict."""
    return {cause.owner for each in conflicts(season, plans) for cause in each.causes}


def asked(season: Season, wish: Wish) -> Answer:
    (answer,) = promise(season, [wish])
    return answer


@tried
@given(seeds)
def test_nothing_that_is_shown_is_impossible(seed: int) -> None:
    season, wanted, _ = drawn(seed)
    assert faults(season, list(shown(promise(season, wanted)))) == []


@tried
@given(seeds)
def test_a_promise_neither_makes_a_conflict_nor_worsens_one(seed: int) -> None:
    season, wanted, _ = drawn(seed)
    plans = promised(promise(season, wanted))
    assert not blamed(season, plans) & {plan.wish.key for plan in plans}


@tried
@given(seeds)
def test_what_is_refused_for_want_of_room_does_collide(seed: int) -> None:
    """And the nearest pickups that are offered instead do not."""
    season, wanted, _ = drawn(seed)
    before: list[LinePlan] = []
    for answer in promise(season, wanted):
        assert [answer.fits, answer.impossible is not None, bool(answer.conflicts)].count(True) == 1
        if answer.conflicts:
            assert answer.plan
            assert answer.wish.key in blamed(season, [*before, answer.plan])
        for plan in (answer.earlier, answer.later):
            if plan:
                assert plan.wish.key not in blamed(season, [*before, plan])
        before += promised([answer])


@tried
@given(seeds)
def test_more_room_or_more_hands_never_make_a_yes_a_no(seed: int) -> None:
    season, (wish,), chance = drawn(seed, most=1)
    assume(asked(season, wish).fits)
    more = [bigger(season, place.key) for place in season.places]
    more += [longer(season, person.key) for person in season.people]
    more += [season.without(frozenset(owner)) for owner in "abc"]
    for better in chance.sample(more, 4):
        assert asked(better, wish).fits


def bigger(season: Season, key: str) -> Season:
    places = (replace(p, capacity=p.capacity + 3) if p.key == key else p for p in season.places)
    return replace(season, places=tuple(places))


def longer(season: Season, key: str) -> Season:
    people = (
        replace(p, hours=tuple(h + 2 for h in p.hours), care_hours=p.care_hours + 1) if p.key == key else p  # type: ignore[arg-type]
        for p in season.people
    )
    return replace(season, people=tuple(people))


@tried
@given(seeds)
def test_the_order_of_claims_does_not_matter(seed: int) -> None:
    season, wanted, chance = drawn(seed)
    room, hands = list(season.room), list(season.hands)
    chance.shuffle(room)
    chance.shuffle(hands)
    shuffled = replace(season, room=tuple(room), hands=tuple(hands))
    assert promise(shuffled, wanted) == promise(season, wanted)


@tried
@given(seeds)
def test_a_plan_moves_with_the_season_by_whole_weeks(seed: int) -> None:
    season, wanted, _ = drawn(seed)
    now = [without_words(answer) for answer in promise(season, wanted)]
    then = [without_words(answer) for answer in promise(moved(season, YEAR), moved(wanted, YEAR))]
    assert then == [moved(answer, YEAR) for answer in now]


def without_words(answer: Answer) -> Answer:
    """Words name days, and a day of another year is worded with its year."""

    def silent(plan: LinePlan | None) -> LinePlan | None:
        return plan and replace(plan, parts=tuple(replace(part, reasons=()) for part in plan.parts))

    return replace(
        answer,
        plan=silent(answer.plan),
        earlier=silent(answer.earlier),
        later=silent(answer.later),
        impossible=answer.impossible and replace(answer.impossible, reason="", mend=""),
    )


@tried
@given(seeds)
def test_asking_changes_nothing_and_asking_twice_gives_one_answer(seed: int) -> None:
    season, wanted, _ = drawn(seed)
    before = moved(season, 0)
    assert promise(season, wanted) == promise(season, wanted)
    assert season == before


@tried
@given(seeds)
def test_a_look_at_their_own_nights_tells_which_plans_take_part_in_a_conflict(seed: int) -> None:
    season, wanted, chance = drawn(seed)
    plans = [answer.plan for answer in promise(season, wanted) if answer.plan]
    some = frozenset(plan.wish.key for plan in plans if chance.random() < 0.7)
    theirs = {cause.owner for each in conflicts(season, plans, some) for cause in each.causes}
    assert theirs & some == blamed(season, plans) & some
    cut = near(season, plans)
    found = [each for each in conflicts(cut, plans, some) if {cause.owner for cause in each.causes} & some]
    whole = [each for each in conflicts(season, plans, some) if {cause.owner for cause in each.causes} & some]
    assert found == whole


@tried
@given(seeds)
def test_no_night_is_lost_or_counted_twice(seed: int) -> None:
    """What a plan asks for, night by night, is what it says of itself, and what its claims and the load count."""
    season, wanted, _ = drawn(seed)
    empty = replace(season, room=(), hands=())
    for plan in shown(promise(season, wanted)):
        room, hands = place_claims(plan, plan.wish.key)
        load = Load(empty)
        load.add(room, hands)
        stands: dict[tuple[str, int], float] = defaultdict(float)
        for stay in plan.stays:
            for night in range(stay.nights):
                stands[stay.place, (stay.first - season.today).days + night] += stay.load
        counted = {place: float(load.used[row].sum()) for place, row in load.row.items()}
        assert counted == pytest.approx(
            {place: sum(amount for (where, _), amount in stands.items() if where == place) for place in load.row}
        )
        for (place, night), amount in stands.items():
            assert load.used[load.row[place], night] == pytest.approx(amount)
        for part in plan.parts:
            for subject in {stay.subject for stay in part.stays}:
                borders = sorted({(stay.first, stay.leaves) for stay in part.stays if stay.subject == subject})
                sown = {sowing.day for sowing in part.sowings if sowing.subject == subject}
                firsts, ends = ({border[at] for border in borders} for at in (0, 1))
                assert len(ends - firsts) == 1
                assert firsts - ends <= (sown or {min(firsts)})
                assert len(sown) > 1 or all(leaves == first for (_, leaves), (first, _) in pairwise(borders))


@tried
@given(seeds)
def test_lines_that_all_fit_do_so_in_any_order(seed: int) -> None:
    """Told in another order they may be planned otherwise; whether all of them fit does not depend on it."""
    season, wanted, chance = drawn(seed)
    answers = promise(season, wanted)
    assume(len(wanted) > 1 and all(answer.proved or answer.fits for answer in answers))
    shuffled = promise(season, chance.sample(wanted, len(wanted)))
    assume(all(answer.proved or answer.fits for answer in shuffled))
    assert all(each.fits for each in shuffled) == all(each.fits for each in answers)
