"""Plants that stand still in the cold, so that they can be grafted in a quieter week.

How long they may: 4 weeks for tomato (Kubota et al. 2017, PLoS ONE e0170614). The rest: practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from production.planning import check, terms
from production.planning.promise import plan_as_asked, promise
from production.planning.terms import HandsClaim, Impossible, LinePlan, PartPlan, RoomClaim, Season, WorkPlan
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
