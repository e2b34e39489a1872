"""One line planned backwards: dates, places, work and the reasons for them.

Nights and rates are common practice, no source; the days to emergence follow the published table named in nursery.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta

import pytest

from production.planning import terms
from production.planning.promise import plan_as_asked
from production.planning.terms import (
    Impossible,
    LinePlan,
    Nights,
    PartPlan,
    Rate,
    Season,
    Span,
    StayPlan,
    Warmth,
    Wish,
    WorkPlan,
)
from tests.planning import nursery
from tests.planning.nursery import MONDAY

NEVER_CLOSED = nursery.season(calendar=nursery.calendar(weekdays=frozenset(range(7))))
WEDNESDAY = MONDAY + timedelta(days=72)


def one_part(wish: Wish, season: Season | None = None) -> PartPlan:
    (part,) = plan_as_asked(season or nursery.season(), wish).parts
    return part


def stay(part: PartPlan, stage: str) -> StayPlan:
    (found,) = [each for each in part.stays if each.stage == stage]
    return found


def work(part: PartPlan, kind: str) -> WorkPlan:
    (found,) = [each for each in part.works if each.kind == kind]
    return found


def why(part: PartPlan, what: str) -> str:
    (found,) = [reason.why for reason in part.reasons if reason.what == what]
    return found


def seamless(part: PartPlan) -> bool:
    """Every stand enters its next place on the day it leaves the one before, and none holds a night twice."""
    chains: dict[str, list[StayPlan]] = {}
    for each in part.stays:
        chains.setdefault(each.subject, []).append(each)
    return all(
        before.leaves == after.first
        for stays in chains.values()
        for before, after in itertools.pairwise(stays)
        if before.stage != after.stage
    )


# --- nights -----------------------------------------------------------------------------------------------


def test_graft_day_is_ready_less_the_usual_nights() -> None:
    part = one_part(nursery.wish(pickup=WEDNESDAY), NEVER_CLOSED)
    assert part.ready == WEDNESDAY
    assert part.graft_day == WEDNESDAY - timedelta(days=4 + 2 + 15)
    assert why(part, "graft") == "4 nights healing, 2 under the cover, 15 growing on before pickup."


def test_splice_leaves_the_chamber_before_the_fifth_night_and_the_cover_two_later() -> None:
    part = one_part(nursery.wish(pickup=WEDNESDAY), NEVER_CLOSED)
    assert part.graft_day
    assert work(part, terms.TAKE_OUT).day == part.graft_day + timedelta(days=4)
    assert stay(part, "cover").leaves == part.graft_day + timedelta(days=6)


def test_side_graft_is_weaned_in_two_cuts_in_the_evening() -> None:
    part = one_part(nursery.wish(pickup=WEDNESDAY, recipe=nursery.side_graft()), NEVER_CLOSED)
    assert part.graft_day
    assert stay(part, "healing").nights == 3
    notch, final, stake = (work(part, kind) for kind in (terms.NOTCH, terms.FINAL_CUT, terms.STAKE))
    assert notch.day == part.graft_day + timedelta(days=3 + 2)
    assert final.day == notch.day + timedelta(days=2)
    assert final.day == part.graft_day + timedelta(days=7)  # about a week after grafting when nothing is slow
    assert {notch.part, final.part, stake.part} == {"evening"}


def test_two_leaders_by_topping_take_eight_nights_more_and_more_room() -> None:
    single = nursery.wish(pickup=WEDNESDAY)
    recipe = replace(nursery.splice(), topped_room=2.0)
    topped = replace(single, recipe=recipe, leaders=2, topped=True)
    one, two = one_part(single, NEVER_CLOSED), one_part(topped, NEVER_CLOSED)
    assert one.graft_day
    assert two.graft_day == one.graft_day - timedelta(days=8)
    assert stay(two, "growing").load == 2 * stay(one, "growing").load
    assert stay(two, "healing").load == stay(one, "healing").load


def test_two_leaders_from_a_side_shoot_cost_the_nursery_nothing() -> None:
    single = nursery.wish(pickup=WEDNESDAY)
    assert one_part(replace(single, leaders=2)).graft_day == one_part(single).graft_day


@pytest.mark.parametrize("recipe", [nursery.splice, nursery.side_graft])
def test_stays_follow_each_other_without_gap(recipe: Callable[[], terms.Recipe]) -> None:
    assert seamless(one_part(nursery.wish(recipe=recipe())))


# --- closed days ------------------------------------------------------------------------------------------


def test_grafting_moves_off_a_closed_day_by_the_least_departure() -> None:
    usual = one_part(nursery.wish(pickup=WEDNESDAY), NEVER_CLOSED).graft_day
    assert usual
    season = replace(NEVER_CLOSED, calendar=nursery.calendar(usual, weekdays=frozenset(range(7))))
    part = one_part(nursery.wish(pickup=WEDNESDAY), season)
    assert part.graft_day == usual - timedelta(days=1)  # the earlier of two equals
    assert stay(part, "healing").nights == 4  # growing on gives way, not the chamber
    assert stay(part, "growing").nights == 16
    assert "is closed" in why(part, "graft")


def test_potting_falls_on_an_open_day_and_leaving_the_chamber_need_not() -> None:
    for by in range(7):
        part = one_part(nursery.wish(pickup=WEDNESDAY + timedelta(days=by), later=1))
        not_care = [each for each in part.works if not each.care]
        assert all(nursery.calendar().is_open(each.day) for each in not_care)
        assert {each.kind for each in not_care} >= {terms.SOW, terms.GRAFT, terms.POT, terms.HAND_OVER}


def test_closed_days_never_push_a_stage_beyond_its_limits() -> None:
    usual = one_part(nursery.wish(pickup=WEDNESDAY), NEVER_CLOSED).graft_day
    assert usual
    closed = [usual + timedelta(days=by) for by in range(-6, 4)]
    season = replace(NEVER_CLOSED, calendar=nursery.calendar(*closed, weekdays=frozenset(range(7))))
    part = one_part(nursery.wish(pickup=WEDNESDAY), season)
    for stage in nursery.splice().union:
        assert stage.nights.shortest <= stay(part, stage.key).nights <= stage.nights.longest
    assert part.graft_day not in closed


def test_pickup_on_a_closed_day_moves_inside_the_latitude() -> None:
    sunday = MONDAY + timedelta(days=76)
    plan = plan_as_asked(nursery.season(), nursery.wish(pickup=sunday, earlier=1, later=1))
    assert plan.pickup == sunday - timedelta(days=1)
    assert "which is closed" in why(plan.parts[0], "pickup")


def test_pickup_on_a_closed_day_without_latitude_is_refused_with_the_days_around() -> None:
    with pytest.raises(Impossible) as refusal:
        plan_as_asked(nursery.season(), nursery.wish(pickup=MONDAY + timedelta(days=76)))
    assert refusal.value.field == "pickup"
    assert "Sat 16 May or Mon 18 May" in refusal.value.mend


# --- waiting ----------------------------------------------------------------------------------------------


def test_room_is_held_up_to_the_night_before_the_last_collection_day() -> None:
    part = one_part(nursery.wish(pickup=WEDNESDAY, collection=3))
    waiting = stay(part, terms.WAITING)
    assert (waiting.first, waiting.nights) == (WEDNESDAY, 2)
    assert waiting.place == "staging"
    assert waiting.containers == stay(part, "growing").containers


def test_one_collection_day_holds_no_night() -> None:
    assert not [each for each in one_part(nursery.wish()).stays if each.stage == terms.WAITING]


def test_collection_days_are_open_days() -> None:
    saturday = MONDAY + timedelta(days=75)
    assert stay(one_part(nursery.wish(pickup=saturday, collection=2)), terms.WAITING).nights == 2


def test_plants_wait_on_a_bench_where_there_is_no_staging() -> None:
    season = nursery.season(places=nursery.places(staging=0))
    assert stay(one_part(nursery.wish(collection=2), season), terms.WAITING).place.startswith("bench")


def test_plants_do_not_keep_for_longer_than_they_keep() -> None:
    recipe = replace(nursery.splice(), keeping=3)
    with pytest.raises(Impossible) as refusal:
        plan_as_asked(nursery.season(), nursery.wish(recipe=recipe, collection=8))
    assert refusal.value.field == "collection"


# --- room and numbers -------------------------------------------------------------------------------------


def sure(**changes: object) -> Wish:
    """A wish of which nothing is lost, so that numbers can be counted by hand."""
    certain = Rate(1.0)
    recipe = replace(changes.pop("recipe", nursery.splice()), take=certain, kept=certain)  # type: ignore[type-var]
    return nursery.wish(
        recipe=recipe,
        rootstock=nursery.rootstock(emerged=certain, usable=certain),
        scion=nursery.scion(emerged=certain, usable=certain),
        **changes,  # type: ignore[arg-type]
    )


def test_eighty_splice_grafts_heal_in_two_trays_and_stand_in_eight_once_potted() -> None:
    # common practice, no source: 72-cell trays; ten four-inch pots to a carrying tray
    part = one_part(sure(quantity=80))
    assert part.sizing.grafts == 80
    assert stay(part, "healing").containers == 2
    assert stay(part, "growing").containers == 8


def test_side_grafts_fill_the_chamber_with_their_pots() -> None:
    assert stay(one_part(sure(quantity=80, recipe=nursery.side_graft())), "healing").containers == 8


@pytest.mark.parametrize(
    ("recipe", "hands", "hours"),
    [
        # common practice, no source: about 80 splice grafts an hour alone, 60 to 70 side grafts
        (nursery.splice(), (("graft", 80.0),), {"graft": 1.0}),
        (nursery.side_graft(), (("graft", 65.0),), {"graft": 80 / 65}),
        # about 90 side grafts an hour with a helper who prepares: both spend the time
        (nursery.side_graft(), (("graft", 90.0), ("crew", 90.0)), {"graft": 80 / 90, "crew": 80 / 90}),
    ],
)
def test_hours_of_grafting(
    recipe: terms.Recipe, hands: tuple[tuple[str, float], ...], hours: dict[str, float]
) -> None:
    healing, *others = recipe.union
    rules = tuple(replace(rule, hands=hands) if rule.kind == terms.GRAFT else rule for rule in healing.works)
    recipe = replace(recipe, union=(replace(healing, works=rules), *others))
    assert dict(work(one_part(sure(quantity=80, recipe=recipe)), terms.GRAFT).hours) == pytest.approx(hours)


def test_load_is_measured_as_the_place_is() -> None:
    in_metres = tuple(
        replace(place, measure="area", capacity=20.0) if place.key.startswith("bench") else place
        for place in nursery.places()
    )
    part = one_part(sure(quantity=80), nursery.season(places=in_metres))
    assert stay(part, "growing").load == pytest.approx(8 * nursery.POT_4.area)
    assert stay(part, "healing").load == 2


def test_batch_bigger_than_a_day_of_grafting_is_divided_over_open_days() -> None:
    plan = plan_as_asked(nursery.season(), sure(quantity=900))  # 11.25 hours of grafting, 8 a day
    assert [part.plants for part in plan.parts] == [450, 450]
    days = [part.graft_day for part in plan.parts]
    assert all(day and nursery.calendar().is_open(day) for day in days)
    assert len(set(days)) == 2
    assert all(seamless(part) for part in plan.parts)
    assert "grafted over 2 days" in why(plan.parts[0], "graft")


# --- sowing -----------------------------------------------------------------------------------------------


def test_both_sides_are_graftable_on_the_day_of_grafting() -> None:
    part = one_part(nursery.wish())
    assert part.graft_day
    for sowing in part.sowings:
        assert sowing.graftable_from
        assert sowing.graftable_to
        assert sowing.graftable_from <= part.graft_day <= sowing.graftable_to
        assert nursery.calendar().is_open(sowing.day)
    rootstock, scion = part.sowings
    assert rootstock.day < scion.day  # the slower side first


def test_seedlings_germinate_until_they_emerge_and_are_then_raised_until_grafting() -> None:
    part = one_part(nursery.wish())
    for sowing in part.sowings:
        germinating, raising = (stay(part, f"{sowing.subject}-{stage}") for stage in ("germinating", "raising"))
        assert (germinating.first, germinating.leaves) == (sowing.day, sowing.emerges)
        assert (raising.first, raising.leaves) == (sowing.emerges, part.graft_day)
        assert germinating.place == "germination"


def test_warmer_bench_means_later_sowing() -> None:
    warm = tuple(
        replace(place, warmth=Warmth(25.0)) if place.key.startswith("bench") else place
        for place in nursery.places()
    )
    usual, later = one_part(nursery.wish()), one_part(nursery.wish(), nursery.season(places=warm))
    assert later.sowings[0].day > usual.sowings[0].day


def test_sowing_waits_for_seed() -> None:
    day = one_part(nursery.wish()).sowings[1].day
    waits = nursery.scion(seed_on_hand=day + timedelta(days=1))
    assert one_part(nursery.wish(scion=waits)).sowings[1].day >= day + timedelta(days=1)


def test_seed_that_comes_too_late_is_refused_with_the_earliest_pickup() -> None:
    late = nursery.scion(seed_on_hand=MONDAY + timedelta(days=60))
    with pytest.raises(Impossible) as refusal:
        plan_as_asked(nursery.season(), nursery.wish(scion=late))
    assert refusal.value.field == "seed"
    earliest = refusal.value.earliest
    assert earliest
    assert plan_as_asked(nursery.season(), nursery.wish(scion=late, pickup=earliest)).pickup == earliest


# --- plain and room ---------------------------------------------------------------------------------------


def test_plain_line_has_one_sowing_and_no_graft() -> None:
    part = one_part(nursery.plain_wish())
    (sowing,) = part.sowings
    assert part.graft_day is None
    assert (sowing.subject, sowing.graftable_from) == ("plain", None)
    assert not [each for each in part.works if each.kind == terms.GRAFT]
    raising = stay(part, "plain-raising")
    assert 14 <= raising.nights <= 24
    assert stay(part, "growing").first == raising.leaves
    assert seamless(part)


def test_room_only_line_is_one_stay_until_its_pickup() -> None:
    wish = nursery.room_wish(containers=4, nights=10)
    (only,) = one_part(wish).stays
    assert (only.nights, only.leaves, only.containers, only.stage_kind) == (10, wish.pickup, 4, terms.ROOM)


# --- refusals ---------------------------------------------------------------------------------------------


def refused(wish: Wish, season: Season | None = None) -> Impossible:
    with pytest.raises(Impossible) as refusal:
        plan_as_asked(season or nursery.season(), wish)
    assert refusal.value.reason
    assert refusal.value.mend
    return refusal.value


@pytest.mark.parametrize("quantity", [0, -3, 2_000_000, 90_000])
def test_senseless_quantities(quantity: int) -> None:
    assert refused(nursery.wish(quantity)).field == "quantity"


@pytest.mark.parametrize("by", [-1, 1000])
def test_pickup_in_the_past_or_beyond_any_plan(by: int) -> None:
    assert refused(nursery.wish(pickup=MONDAY + timedelta(days=by))).field == "pickup"


def test_pickup_sooner_than_biology_allows_names_the_earliest() -> None:
    refusal = refused(nursery.wish(pickup=MONDAY + timedelta(days=10)))
    assert refusal.earliest
    assert plan_as_asked(nursery.season(), nursery.wish(pickup=refusal.earliest)).pickup == refusal.earliest
    assert refused(nursery.wish(pickup=refusal.earliest - timedelta(days=1)))


def test_no_place_of_a_kind() -> None:
    refusal = refused(nursery.wish(), nursery.season(places=nursery.places(healing=0)))
    assert (refusal.field, refusal.reason) == ("place", "There is no healing chamber for healing.")


def test_place_closed_for_the_season() -> None:
    until = MONDAY + timedelta(days=90)
    later = tuple(
        replace(place, open_spans=(Span(until, until + timedelta(days=300)),)) if place.key == "healing" else place
        for place in nursery.places()
    )
    refusal = refused(nursery.wish(), nursery.season(places=later))
    assert refusal.earliest
    assert refusal.earliest > until


def test_temperature_outside_the_model() -> None:
    cold = tuple(replace(place, warmth=Warmth(5.0)) for place in nursery.places())
    assert refused(nursery.wish(), nursery.season(places=cold)).field == "temperature"


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"recipe": None}, "method"),
        ({"rootstock": None}, "rootstock"),
        ({"scion": None}, "scion"),
        ({"container": None}, "container"),
        ({"collection": 0}, "collection"),
        ({"level": 1.0}, "level"),
    ],
)
def test_what_is_missing_is_named(changes: dict[str, object], field: str) -> None:
    assert refused(nursery.wish(**changes)).field == field  # type: ignore[arg-type]


# --- the whole --------------------------------------------------------------------------------------------


def shifted(plan: LinePlan, by: timedelta) -> list[tuple[str, date]]:
    dates = [(f"{each.subject} {each.stage} {each.place}", each.first + by) for each in plan.stays]
    dates += [(f"{each.kind} {each.subject}", each.day + by) for each in plan.works]
    return sorted(dates)


@pytest.mark.parametrize("wish", [nursery.wish(), nursery.plain_wish(), nursery.room_wish()])
def test_plan_moves_with_a_shift_of_52_weeks(wish: Wish) -> None:
    year = timedelta(weeks=52)
    now = plan_as_asked(nursery.season(), wish)
    then = plan_as_asked(nursery.season(today=MONDAY + year), replace(wish, pickup=wish.pickup + year))
    assert shifted(now, year) == shifted(then, timedelta(0))


def test_same_question_same_plan() -> None:
    assert plan_as_asked(nursery.season(), nursery.wish()) == plan_as_asked(nursery.season(), nursery.wish())


def test_cost_counts_hours_and_bench() -> None:
    plan = plan_as_asked(nursery.season(), sure(quantity=80))
    hours = sum(each.total_hours for each in plan.works)
    areas = {"plug-72": nursery.PLUG_72.area, "pot-4": nursery.POT_4.area}
    metre_weeks = sum(each.containers * areas[each.container] * each.nights / 7 for each in plan.stays)
    assert plan.cost == pytest.approx(24.0 * hours + 3.0 * metre_weeks)


def test_stage_without_slack_still_finds_its_days() -> None:
    recipe = nursery.splice()
    fixed = tuple(replace(stage, nights=Nights(*(stage.nights.usual,) * 3)) for stage in recipe.union)
    part = one_part(nursery.wish(pickup=WEDNESDAY, recipe=replace(recipe, union=fixed)))
    assert [stay(part, stage.key).nights for stage in fixed] == [4, 2, 15]
