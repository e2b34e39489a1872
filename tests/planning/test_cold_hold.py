"""Plants that stand still in the cold, so that they can be grafted in a quieter week.

How long they may: 4 weeks for tomato (Kubota et al. 2017, PLoS ONE e0170614). The rest: practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from production.planning import check, terms
from production.planning.clocks import graftable_window
from production.planning.promise import plan_as_asked, promise
from production.planning.rolling import roll
from production.planning.terms import (
    HandsClaim,
    Impossible,
    LinePlan,
    PartFacts,
    PartPlan,
    RoomClaim,
    Season,
    SowingFacts,
    SowingPlan,
    StayPlan,
    WorkPlan,
)
from tests.planning import nursery
from tests.planning.nursery import MONDAY

COLD = nursery.season(places=nursery.places(cold=10.0))
WISH = nursery.wish(pickup=MONDAY + timedelta(days=105), recipe=nursery.with_cold_hold(nursery.splice()))


def planned(season: Season, wish: terms.Wish = WISH) -> LinePlan:
    (answer,) = promise(season, [wish])
    assert answer.fits
    assert answer.plan
    assert check.faults(season, [answer.plan]) == []
    return answer.plan


def part_of(plan: LinePlan) -> PartPlan:
    (part,) = plan.parts
    return part


def nights_cold(plan: LinePlan) -> int:
    return sum(stay.nights for stay in plan.stays if stay.stage_kind == terms.COLD_HOLD)


def grafting(plan: LinePlan) -> WorkPlan:
    (found,) = [work for work in plan.works if work.kind == terms.GRAFT]
    return found


def busy(season: Season, first: int, days: int) -> Season:
    """Everybody who grafts has enough to do for so many days, counted from the Monday of these tests."""
    each = (MONDAY + timedelta(days=first + number) for number in range(days))
    taken = tuple(HandsClaim("other", "Order 9", day, (("graft", 8.0),)) for day in each)
    return replace(season, hands=season.hands + taken)


USUAL = grafting(planned(COLD)).day
FIVE_WEEKS = ((USUAL - MONDAY).days - 29, 37)  # from four weeks before the usual day to a week after it


def test_without_need_nothing_is_held_cold() -> None:
    plain = replace(WISH, recipe=nursery.splice())
    assert nights_cold(planned(COLD)) == 0
    assert [part.stays for part in planned(COLD).parts] == [part.stays for part in planned(COLD, plain).parts]


def test_slack_on_the_bench_is_used_before_the_cold() -> None:
    """Two days nobody can graft: growing on has six nights of slack."""
    plan = planned(busy(COLD, (USUAL - MONDAY).days, 2))
    assert grafting(plan).day != USUAL
    assert nights_cold(plan) == 0


def test_plants_grafted_in_a_quiet_week_wait_in_the_cold() -> None:
    season = busy(COLD, *FIVE_WEEKS)
    plan = planned(season)
    cold = next(stay for stay in plan.stays if stay.stage_kind == terms.COLD_HOLD)
    assert plan.pickup == WISH.pickup
    assert grafting(plan).day < MONDAY + timedelta(days=FIVE_WEEKS[0])
    assert cold.place == "cold"
    assert 0 < cold.nights <= 28
    covered = next(stay for stay in plan.stays if stay.stage == "cover")
    growing = next(stay for stay in plan.stays if stay.stage == "growing")
    assert (covered.leaves, cold.leaves) == (cold.first, growing.first)
    moves = [work.day for work in plan.works if work.kind == terms.MOVE]
    assert {cold.first, cold.leaves} & set(moves) == {cold.first}  # out of it they are potted, which is carrying


def test_the_reason_says_how_long_they_were_held() -> None:
    plan = planned(busy(COLD, *FIVE_WEEKS))
    whys = [reason.why for reason in part_of(plan).reasons if reason.what == "graft"]
    assert f"{nights_cold(plan)} held cold" in whys[0]


def test_nobody_is_held_cold_where_there_is_no_cold_place() -> None:
    warm = nursery.season()
    assert nights_cold(planned(warm)) == 0
    (answer,) = promise(busy(warm, *FIVE_WEEKS), [WISH])
    assert not answer.fits
    closed = nursery.season(places=tuple(replace(p, capacity=0.0) if p.key == "cold" else p for p in COLD.places))
    assert nights_cold(planned(closed)) == 0


def test_no_longer_than_the_grower_allows_nor_beyond_the_room_there_is() -> None:
    season = busy(COLD, *FIVE_WEEKS)
    short = replace(WISH, recipe=nursery.with_cold_hold(nursery.splice(), longest=5))
    assert not promise(season, [short])[0].fits
    full = replace(season, room=(RoomClaim("other", "Order 9", "cold", MONDAY, 200, 10.0),))
    assert not promise(full, [WISH])[0].fits


def test_the_referee_names_a_stay_that_is_too_long() -> None:
    plan = planned(busy(COLD, *FIVE_WEEKS))
    shorter = nursery.with_cold_hold(nursery.splice(), longest=nights_cold(plan) - 1)
    judged = replace(plan, wish=replace(plan.wish, recipe=shorter))
    assert [fault.rule for fault in check.faults(COLD, [judged])] == ["stage length"]


def test_a_stage_that_plants_cannot_do_without_still_needs_its_place() -> None:
    usual = nursery.with_cold_hold(nursery.splice())
    held = tuple(
        replace(stage, nights=terms.Nights(0, 3, 28)) if stage.kind == terms.COLD_HOLD else stage
        for stage in usual.union
    )
    with pytest.raises(Impossible, match="no cold store for held cold"):
        plan_as_asked(nursery.season(), replace(WISH, recipe=replace(usual, union=held)))


def test_a_protocol_of_nothing_but_cold_is_refused() -> None:
    only = replace(WISH.recipe, union=WISH.recipe.union[2:3])  # type: ignore[union-attr,type-var]
    with pytest.raises(Impossible, match="no stage after grafting"):
        plan_as_asked(nursery.season(), replace(WISH, recipe=only))


# --- before the graft ---------------------------------------------------------------------------------------


def usual_nights_only() -> terms.Recipe:
    """No stage after the graft gives, and no plant waits for its pickup."""
    recipe = nursery.splice()
    usual = [terms.Nights(stage.nights.usual, stage.nights.usual, stage.nights.usual) for stage in recipe.union]
    stages = zip(recipe.union, usual, strict=True)
    return replace(recipe, union=tuple(replace(stage, nights=nights) for stage, nights in stages), keeping=0)


EARLY = nursery.wish(pickup=MONDAY + timedelta(days=106), recipe=nursery.with_seedlings_held(usual_nights_only()))
GRAFTED = grafting(planned(COLD, EARLY)).day


def sowing(plan: LinePlan, side: str) -> SowingPlan:
    return next(each for each in plan.sowings if each.subject == side)


def stay(plan: LinePlan, stage: str) -> StayPlan:
    return next(each for each in plan.stays if each.stage == stage)


def without_germination(season: Season, first: int, days: int) -> Season:
    """The places where seed comes up are taken for so many nights, counted from the Monday of these tests."""
    taken = RoomClaim("other", "Order 9", "germination", MONDAY + timedelta(days=first), days, 12.0)
    return replace(season, room=(*season.room, taken))


SOWN = (sowing(planned(COLD, EARLY), "scion").day - MONDAY).days
CROWDED = without_germination(COLD, SOWN - 12, 40)  # seed can only come up well before it would be wanted


def test_seedlings_are_held_only_for_need() -> None:
    without = replace(EARLY, recipe=usual_nights_only())
    assert [part.stays for part in planned(COLD, EARLY).parts] == [
        part.stays for part in planned(COLD, without).parts
    ]


def test_seedlings_sown_before_a_crowded_time_wait_cold_for_their_graft() -> None:
    (refused,) = promise(CROWDED, [replace(EARLY, recipe=usual_nights_only())])
    assert not refused.fits
    plan = planned(CROWDED, EARLY)
    for side in ("rootstock", "scion"):
        raising, cold = stay(plan, f"{side}-raising"), stay(plan, f"{side}-cold")
        assert (raising.leaves, cold.leaves) == (cold.first, grafting(plan).day)
        assert cold.place == "cold"


def test_the_clock_stands_still_in_the_cold() -> None:
    """The stem is fit on the day on which it goes in, and as long after its last day as it stood there."""
    plan = planned(CROWDED, EARLY)
    warmth = {place.key: place.warmth for place in COLD.places}
    for side, material in (("rootstock", EARLY.rootstock), ("scion", EARLY.scion)):
        sown, cold = sowing(plan, side), stay(plan, f"{side}-cold")
        assert material
        window = graftable_window(material.clock, sown.day, warmth["germination"], warmth["bench_a"])
        assert cold.first in window
        assert sown.graftable_to == window.last + timedelta(days=cold.nights)
        assert grafting(plan).day > window.last  # without the cold they would be past it


def test_the_reason_says_why_they_stand_there() -> None:
    plan = planned(CROWDED, EARLY)
    why = next(reason.why for reason in part_of(plan).reasons if reason.what == "hold scion")
    assert why.startswith(f"{stay(plan, 'scion-cold').nights} nights in the cold")


def test_the_referee_reckons_the_stem_up_to_the_cold() -> None:
    """Had they stood on the bench instead, they would be past grafting."""
    plan = planned(CROWDED, EARLY)
    part = part_of(plan)
    cold = stay(plan, "scion-cold")
    longer = tuple(
        replace(each, nights=each.nights + cold.nights) if each.stage == "scion-raising" else each
        for each in part.stays
        if each != cold
    )
    judged = replace(plan, parts=(replace(part, stays=longer),))
    assert "graftable" in {fault.rule for fault in check.faults(COLD, [judged])}


def test_seedlings_are_held_no_longer_than_the_grower_allows() -> None:
    longest = max(stay(planned(CROWDED, EARLY), f"{side}-cold").nights for side in ("rootstock", "scion"))
    short = replace(EARLY, recipe=nursery.with_seedlings_held(usual_nights_only(), longest=longest - 1))
    (answer,) = promise(CROWDED, [short])
    assert not answer.fits


def test_nothing_else_than_cold_holding_may_follow_raising() -> None:
    recipe = nursery.with_seedlings_held(usual_nights_only())
    usual = (*recipe.scion[:2], replace(recipe.scion[2], nights=terms.Nights(0, 2, 9)))
    with pytest.raises(Impossible, match="no stem waits"):
        plan_as_asked(COLD, replace(EARLY, recipe=replace(recipe, scion=usual)))


def test_living_stems_wait_cold_for_a_graft_that_comes_late() -> None:
    """Nobody grafts for a fortnight from the day planned: on the bench the stems would have outgrown it."""
    plan = planned(COLD, EARLY)
    part = part_of(plan)
    today = GRAFTED - timedelta(days=1)
    up = tuple(
        SowingFacts(each.subject, sown=each.day, seeds=each.seeds, emerged=each.seeds, emerged_on=each.emerges)
        for each in part.sowings
    )
    late = busy(replace(COLD, today=today), (GRAFTED - MONDAY).days, 14)
    rolled = roll(late, part, EARLY, PartFacts(sowings=up), plan.pickup)
    assert rolled.part.graft_day
    assert rolled.part.graft_day >= GRAFTED + timedelta(days=14)
    assert not any("fit to graft until" in trouble for trouble in rolled.troubles)
    assert {each.stage for each in rolled.part.stays if each.place == "cold"} == {"rootstock-cold", "scion-cold"}
    warm = replace(EARLY, recipe=usual_nights_only())
    hurried = roll(late, part, warm, PartFacts(sowings=up), plan.pickup)
    assert hurried.part.graft_day
    assert hurried.part.graft_day < GRAFTED + timedelta(days=14)  # with hands that are not there, but in time
