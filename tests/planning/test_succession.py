"""Sides that are sown several times, so that stems of several ages are there on the day of grafting.

Nights, rates and trays are common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from itertools import pairwise

import pytest

from production.planning import check, terms
from production.planning.calendar import next_open
from production.planning.promise import plan_as_asked, promise
from production.planning.rolling import roll
from production.planning.terms import Entered, Impossible, LinePlan, PartFacts, RoomClaim, SowingFacts, SowingPlan
from tests.planning import nursery

SEASON = nursery.season()
APART = 2
A_DAY = timedelta(days=1)
RECIPE = replace(nursery.splice(), scion_sowings=3, rootstock_sowings=2, sown_apart=APART)
WISH = nursery.wish(300, recipe=RECIPE)


def planned(wish: terms.Wish = WISH) -> LinePlan:
    (answer,) = promise(SEASON, [wish])
    assert answer.plan
    assert answer.fits
    assert check.faults(SEASON, [answer.plan]) == []
    return answer.plan


def sowings(plan: LinePlan, side: str) -> list[SowingPlan]:
    return [each for part in plan.parts[:1] for each in part.sowings if each.subject == side]


def test_the_seeds_are_divided_over_the_sowings_as_whole_seeds() -> None:
    plan = planned()
    sizing = plan.parts[0].sizing
    for side, times, seeds in (("scion", 3, sizing.scion_seeds), ("rootstock", 2, sizing.rootstock_seeds)):
        each = [sowing.seeds for sowing in sowings(plan, side)]
        assert len(each) == times
        assert sum(each) == seeds
        assert max(each) - min(each) <= 1


def test_they_lie_so_many_days_apart_or_on_the_next_open_day() -> None:
    for side in ("scion", "rootstock"):
        days = [sowing.day for sowing in sowings(planned(), side)]
        for before, day in pairwise(days):
            assert day == next_open(SEASON.calendar, before + timedelta(days=APART))


def test_the_graft_lies_in_the_window_of_each_of_them() -> None:
    plan = planned()
    for sowing in (*sowings(plan, "scion"), *sowings(plan, "rootstock")):
        assert sowing.graftable_from
        assert sowing.graftable_to
        assert sowing.graftable_from <= plan.parts[0].graft_day <= sowing.graftable_to


def test_each_has_its_own_stay_and_work() -> None:
    plan = planned()
    part = plan.parts[0]
    for sowing in sowings(plan, "scion"):
        germinating = [s for s in part.stays if (s.stage, s.sowing) == ("scion-germinating", sowing.number)]
        raising = [s for s in part.stays if (s.stage, s.sowing) == ("scion-raising", sowing.number)]
        assert {stay.first for stay in germinating} == {sowing.day}
        assert {stay.first for stay in raising} == {sowing.emerges}
        assert sum(stay.containers for stay in germinating) == sowing.trays
        assert {stay.leaves for stay in raising} == {part.graft_day}
        (sown,) = [w for w in part.works if (w.kind, w.subject, w.sowing) == (terms.SOW, "scion", sowing.number)]
        assert (sown.day, sown.hours) == (sowing.day, (("crew", sowing.seeds / 600),))


def test_they_lie_around_the_day_that_would_suit_a_single_sowing() -> None:
    in_one_part = replace(WISH, quantity=100)
    (single,) = ages(planned(replace(in_one_part, recipe=nursery.splice())))
    first, _second, third = ages(planned(in_one_part))
    assert first > single > third


def ages(plan: LinePlan) -> list[int]:
    """Of the scion's sowings, days from sowing to the graft."""
    graft = plan.parts[0].graft_day
    assert graft
    return [(graft - sowing.day).days for sowing in sowings(plan, "scion")]


def test_sown_once_is_sown_as_before() -> None:
    once = replace(nursery.splice(), sown_apart=5)
    plain = planned(replace(WISH, recipe=nursery.splice()))
    assert [part.sowings for part in planned(replace(WISH, recipe=once)).parts] == [p.sowings for p in plain.parts]


def test_sowings_too_far_apart_for_one_graft_are_impossible() -> None:
    """A scion is fit to graft for about a week."""
    far = replace(WISH, recipe=replace(RECIPE, sown_apart=10))
    with pytest.raises(Impossible):
        plan_as_asked(SEASON, far)


def test_several_sowings_need_days_between() -> None:
    with pytest.raises(Impossible, match="how many days"):
        plan_as_asked(SEASON, replace(WISH, recipe=replace(RECIPE, sown_apart=0)))


def test_a_day_on_which_one_of_them_finds_no_room_moves_them_all() -> None:
    plan = planned()
    second = sowings(plan, "scion")[1]
    full = RoomClaim("other", "Order 9", "germination", second.day, 1, 12.0)
    (answer,) = promise(replace(SEASON, room=(full,)), [WISH])
    assert answer.plan
    assert answer.fits
    assert check.faults(SEASON, [answer.plan]) == []
    assert second.day not in {each.day for each in sowings(answer.plan, "scion")}


def test_the_referee_names_a_sowing_that_is_missing_or_out_of_step() -> None:
    plan = planned()
    part = plan.parts[0]
    for kept in (
        part.sowings[:-1],
        (*part.sowings[:-1], replace(part.sowings[-1], day=part.sowings[-1].day + A_DAY)),
    ):
        judged = replace(plan, parts=(replace(part, sowings=kept), *plan.parts[1:]))
        assert "succession" in {fault.rule for fault in check.faults(SEASON, [judged])}


def judged(**changed: object) -> set[str]:
    """The rules that a plan breaks whose first part is changed so."""
    plan = planned()
    part = replace(plan.parts[0], **changed)
    return {fault.rule for fault in check.faults(SEASON, [replace(plan, parts=(part, *plan.parts[1:]))])}


def test_the_referee_names_a_stay_of_a_sowing_that_there_is_not() -> None:
    part = planned().parts[0]
    astray = [replace(each, sowing=4) if each.stage == "scion-raising" else each for each in part.stays]
    assert "sowing" in judged(stays=tuple(astray))


def test_the_referee_names_a_stay_of_the_wrong_sowing() -> None:
    """The second sowing of the scion has two stays of raising then, of which one begins on a day of the first."""
    part = planned().parts[0]
    wrong = [replace(each, sowing=2) if each.stage == "scion-raising" else each for each in part.stays]
    assert judged(stays=tuple(wrong)) == {"contiguous"}


def test_the_referee_names_work_of_the_wrong_sowing() -> None:
    part = planned().parts[0]
    assert judged(works=tuple(replace(each, sowing=1) for each in part.works)) == {"work"}
    assert "sowing" in judged(works=tuple(replace(each, sowing=9) for each in part.works))


def test_the_referee_names_two_sowings_of_one_number() -> None:
    part = planned().parts[0]
    assert "sowing" in judged(sowings=tuple(replace(each, number=1) for each in part.sowings))


def test_of_living_plants_each_sowing_keeps_its_own_dates() -> None:
    plan = planned()
    part = plan.parts[0]
    first, *others = sowings(plan, "scion")
    sown = {"rootstock": sowings(plan, "rootstock"), "scion": [first]}
    facts = tuple(
        SowingFacts(each.subject, sown=each.day, seeds=each.seeds, number=each.number)
        for some in sown.values()
        for each in some
    )
    today = first.day + timedelta(days=1)
    rolled = roll(replace(SEASON, today=today), part, WISH, PartFacts(sowings=facts), plan.pickup)
    again = [each for each in rolled.part.sowings if each.subject == "scion"]
    assert [(each.day, each.seeds) for each in again] == [(each.day, each.seeds) for each in (first, *others)]
    waiting = [work.day for work in rolled.part.works if (work.kind, work.subject) == (terms.SOW, "scion")]
    assert waiting == [each.day for each in others]


def test_a_second_sowing_that_is_counted_first_stays_the_second() -> None:
    plan = planned()
    part = plan.parts[0]
    one, two, three = sowings(plan, "scion")
    facts = PartFacts(
        sowings=(
            SowingFacts("scion", sown=one.day, seeds=one.seeds, number=1),
            SowingFacts("scion", sown=two.day, seeds=two.seeds, emerged=40, emerged_on=two.emerges, number=2),
        ),
        entered=(Entered("scion-germinating", one.day, 1), Entered("scion-germinating", two.day, 2)),
    )
    rolled = roll(replace(SEASON, today=two.emerges), part, WISH, facts, plan.pickup).part
    counting = {w.sowing for w in rolled.works if (w.kind, w.subject) == (terms.COUNT_EMERGED, "scion")}
    assert counting == {1, three.number}
    germinating = {s.sowing: s.first for s in rolled.stays if s.stage == "scion-germinating"}
    assert germinating == {1: one.day, 2: two.day, 3: next_open(SEASON.calendar, two.emerges)}
    # the third was forgotten: it is sown today


def test_a_count_of_one_sowing_bounds_the_grafts_by_what_the_others_may_still_give() -> None:
    """Half of the first of three is up: with the seeds of the others there are still stems for all grafts."""
    plan = planned()
    part = plan.parts[0]
    all_sown = [SowingFacts(s.subject, sown=s.day, seeds=s.seeds, number=s.number) for s in part.sowings]
    half = [
        replace(each, emerged=(each.seeds or 0) // 2) if (each.subject, each.number) == ("scion", 1) else each
        for each in all_sown
    ]
    rolled = roll(replace(SEASON, today=part.sowings[-1].emerges), part, WISH, PartFacts(tuple(half)), plan.pickup)
    (graft,) = [work for work in rolled.part.works if work.kind == terms.GRAFT]
    assert graft.plants == part.sizing.grafts


def test_plants_that_were_sown_once_are_rolled_as_one_sowing() -> None:
    """Whatever the protocol says by now: plants that stood on the first evening, or seed that was short."""
    once = planned(replace(WISH, recipe=nursery.splice()))
    (first,) = sowings(once, "scion")
    rolled = roll(SEASON, once.parts[0], WISH, PartFacts(), once.pickup).part
    assert [s.number for s in rolled.sowings] == [1, 1]
    assert sowings(replace(once, parts=(rolled,)), "scion")[0].seeds == first.seeds


def test_nobody_waits_for_a_sowing_that_is_fit_only_when_the_others_are_past_it() -> None:
    """The third came up 12 days late: the graft is for the first two, and in their window."""
    plan = planned()
    part = plan.parts[0]
    late = timedelta(days=12)
    facts = tuple(
        SowingFacts(
            each.subject,
            sown=each.day,
            seeds=each.seeds,
            emerged=each.seeds,
            emerged_on=each.emerges + (late if (each.subject, each.number) == ("scion", 3) else timedelta(0)),
            number=each.number,
        )
        for each in part.sowings
    )
    today = max(each.emerged_on for each in facts if each.emerged_on)
    season = replace(SEASON, today=today)
    rolled = roll(season, part, WISH, PartFacts(facts), plan.pickup)
    first = sowings(plan, "scion")[0]
    assert rolled.part.graft_day
    assert first.graftable_to
    assert rolled.part.graft_day <= first.graftable_to
    recorded = {WISH.key: PartFacts(facts)}
    judged_plan = replace(plan, wish=replace(WISH, quantity=part.plants), parts=(rolled.part,))
    assert check.faults(season, [judged_plan], frozenset(recorded), recorded) == []
