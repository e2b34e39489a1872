"""Whatever the nursery and the wishes: what is shown is possible, what is promised fits, more room never hurts.

The judge is the referee, which shares no code with the planner. Everyday runs try the same few seasons each time;
`pytest --hypothesis-profile=search tests/planning/test_random_seasons.py` tries hundreds of new ones.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from production.planning.check import conflicts, faults
from production.planning.promise import promise
from production.planning.terms import Answer, LinePlan, Season, Wish
from tests.planning.nursery import MONDAY
from tests.planning.seasons import moved, seasons, several_wishes, wishes

YEAR = 52 * 7

SEARCHING = settings.get_current_profile_name() == "search"
tried = settings(
    max_examples=settings().max_examples if SEARCHING else 8,
    derandomize=not SEARCHING,
    database=None,
    suppress_health_check=list(HealthCheck),
)


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
@given(seasons(), several_wishes)
def test_nothing_that_is_shown_is_impossible(season: Season, wanted: tuple[Wish, ...]) -> None:
    answers = promise(season, wanted)
    assert faults(season, list(shown(answers))) == []


@tried
@given(seasons(), several_wishes)
def test_a_promise_neither_makes_a_conflict_nor_worsens_one(season: Season, wanted: tuple[Wish, ...]) -> None:
    plans = promised(promise(season, wanted))
    assert not blamed(season, plans) & {plan.wish.key for plan in plans}


@tried
@given(seasons(), several_wishes)
def test_what_is_refused_for_want_of_room_does_collide(season: Season, wanted: tuple[Wish, ...]) -> None:
    """And the nearest pickups that are offered instead do not."""
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
@given(seasons(), wishes(), st.data())
def test_more_room_or_more_hands_never_make_a_yes_a_no(season: Season, wish: Wish, data: st.DataObject) -> None:
    assume(asked(season, wish).fits)
    more = data.draw(
        st.sampled_from(
            [
                *(bigger(season, place.key) for place in season.places),
                *(longer(season, person.key) for person in season.people),
                *(season.without(frozenset(owner)) for owner in "abc"),
            ]
        )
    )
    assert asked(more, wish).fits


def bigger(season: Season, key: str) -> Season:
    return replace(
        season,
        places=tuple(replace(p, capacity=p.capacity + 3) if p.key == key else p for p in season.places),
    )


def longer(season: Season, key: str) -> Season:
    more = tuple(
        replace(p, hours=tuple(h + 2 for h in p.hours), care_hours=p.care_hours + 1) if p.key == key else p
        for p in season.people
    )
    return replace(season, people=more)  # type: ignore[arg-type]


@tried
@given(seasons(), several_wishes, st.randoms(use_true_random=False))
def test_the_order_of_claims_does_not_matter(season: Season, wanted: tuple[Wish, ...], chance) -> None:
    room, hands = list(season.room), list(season.hands)
    chance.shuffle(room)
    chance.shuffle(hands)
    shuffled = replace(season, room=tuple(room), hands=tuple(hands))
    assert promise(shuffled, wanted) == promise(season, wanted)


@tried
@given(seasons(), several_wishes)
def test_a_plan_moves_with_the_season_by_whole_weeks(season: Season, wanted: tuple[Wish, ...]) -> None:
    now = [without_words(answer) for answer in promise(season, wanted)]
    then = [without_words(answer) for answer in promise(moved(season, YEAR), moved(wanted, YEAR))]
    assert then == [moved(answer, YEAR) for answer in now]


def without_words(answer: Answer) -> Answer:
    """Words name days, and a day of another year is worded with its year."""

    def silent(plan: LinePlan | None) -> LinePlan | None:
        return plan and replace(plan, parts=tuple(replace(part, reasons=()) for part in plan.parts))

    impossible = answer.impossible and replace(answer.impossible, reason="", mend="")
    return replace(
        answer,
        plan=silent(answer.plan),
        earlier=silent(answer.earlier),
        later=silent(answer.later),
        impossible=impossible,
    )


@tried
@given(seasons(), wishes())
def test_asking_changes_nothing_and_asking_twice_gives_one_answer(season: Season, wish: Wish) -> None:
    before = moved(season, 0)
    assert asked(season, wish) == asked(season, wish)
    assert season == before
    assert season.today == MONDAY
