"""Plants that already live: the past stays, the rest moves."""

import re
from dataclasses import replace
from datetime import date, timedelta

import pytest

from production.planning import terms
from production.planning.check import faults
from production.planning.forecast import outlook
from production.planning.promise import promise
from production.planning.rolling import roll
from production.planning.terms import Entered, LinePlan, PartFacts, SowingFacts, WorkRule
from tests.planning.nursery import MONDAY, calendar, plain_wish, season, splice, wish


def days(number):
    return timedelta(days=number)


@pytest.fixture
def planned():
    answer = promise(season(), [wish()])[0]
    assert answer.fits
    return answer.plan


def rolled(planned, today: date, facts=PartFacts()):  # noqa: B008, frozen
    part = planned.parts[0]
    return roll(season(today=today), part, planned.wish, facts, planned.pickup)


def sown(part, **counts):
    return tuple(
        SowingFacts(s.subject, sown=s.day, seeds=s.seeds, **counts.get(s.subject, {})) for s in part.sowings
    )


def work_days(part):
    return sorted((work.kind, work.subject, work.stage, work.day) for work in part.works)


def test_a_part_on_which_nothing_is_late_stays_as_it_was_planned(planned):
    part = planned.parts[0]
    again = rolled(planned, MONDAY).part
    assert (again.graft_day, again.ready) == (part.graft_day, part.ready)
    assert work_days(again) == work_days(part)
    assert {(s.subject, s.stage, s.first, s.nights) for s in again.stays} == {
        (s.subject, s.stage, s.first, s.nights) for s in part.stays
    }


def test_sowing_that_was_not_recorded_is_planned_for_today_and_the_rest_follows(planned):
    part = planned.parts[0]
    today = min(s.day for s in part.sowings) + days(4)
    again = rolled(planned, today)
    assert {s.day for s in again.part.sowings if s.day < today} == set()
    assert again.part.graft_day >= part.graft_day
    assert all(work.day >= today for work in again.part.works)


def test_a_late_emergence_moves_the_graft_and_growing_on_gives_way_first(planned):
    part = planned.parts[0]
    up = {s.subject: {"emerged": 80, "emerged_on": s.emerges + days(4)} for s in part.sowings}
    again = rolled(planned, part.graft_day - days(5), PartFacts(sown(part, **up)))
    assert again.part.graft_day > part.graft_day
    growing = [next(s for s in p.stays if s.stage == "growing") for p in (part, again.part)]
    assert growing[1].nights < growing[0].nights
    assert again.late_by <= 1


def test_what_is_too_late_for_the_day_promised_says_by_how_much(planned):
    part = planned.parts[0]
    today = part.graft_day + days(25)
    again = rolled(planned, today, PartFacts(sown(part)))
    assert again.late_by > 0
    assert any("after the last day promised" in trouble for trouble in again.troubles)


def test_sixty_of_a_hundred_emerged_lowers_what_is_expected_and_says_until_when_sowing_helps():
    planned = promise(season(), [wish(quantity=100)])[0].plan
    part = planned.parts[0]
    up = max(s.emerges for s in part.sowings)
    facts = PartFacts(
        sown(part, scion={"emerged": 60, "emerged_on": up}, rootstock={"emerged": 120, "emerged_on": up})
    )
    again = rolled(planned, up, facts)
    assert again.outlook.expected < 60
    assert again.outlook.chance < 0.01
    assert any("Sowing again" in trouble for trouble in again.troubles)
    healing = next(s for s in again.part.stays if s.stage_kind == terms.HEAL)
    assert healing.containers == 1  # 60 pairs fill one tray of 72


def test_while_there_is_time_it_says_how_many_seeds_to_sow_again():
    asked = wish(quantity=40, collection=12)  # whoever is short may still be served late in the collection
    planned = promise(season(), [asked])[0].plan
    part = planned.parts[0]
    up = max(s.emerges for s in part.sowings)
    facts = PartFacts(
        sown(part, scion={"emerged": 24, "emerged_on": up}, rootstock={"emerged": 65, "emerged_on": up})
    )
    (said,) = (each for each in rolled(planned, up, facts).troubles if each.startswith("Sowing again helps until"))
    found = re.search(r": (\d+) more seeds of a scion would bring the chance of enough to 95%", said)
    assert found, said

    def chance(seeds: int) -> float:
        more = replace(facts, sowings=(*facts.sowings, SowingFacts("scion", seeds=seeds)))
        recipe = asked.recipe
        return outlook(40, more, part.sizing, asked.scion, recipe.kept, asked.rootstock, recipe.take).chance

    assert chance(int(found[1])) >= 0.95 > chance(int(found[1]) - 1)


def test_a_plain_line_too_is_told_how_many_seeds_to_sow_again():
    asked = plain_wish(40, collection=12)
    planned = promise(season(), [asked])[0].plan
    (sowing,) = planned.parts[0].sowings
    counted = SowingFacts("plain", sown=sowing.day, seeds=sowing.seeds, emerged=20, emerged_on=sowing.emerges)
    (said,) = (
        each
        for each in rolled(planned, sowing.emerges, PartFacts((counted,))).troubles
        if each.startswith("Sowing again helps until")
    )
    found = re.search(r": (\d+) more seeds of a scion would bring the chance of enough to 95%", said)
    assert found, said
    more = PartFacts((counted, SowingFacts("plain", seeds=int(found[1]))))
    part = planned.parts[0]
    assert outlook(40, more, part.sizing, asked.scion, asked.recipe.kept).chance >= 0.95


def test_grafted_plants_keep_their_day_and_leave_the_chamber_after_their_nights(planned):
    part = planned.parts[0]
    grafted_on = part.graft_day + days(1)
    facts = PartFacts(
        sown(part, scion={"usable": 70}, rootstock={"usable": 70}),
        grafted_on=grafted_on,
        grafted=70,
        entered=(Entered("healing", grafted_on),),
    )
    again = rolled(planned, grafted_on, facts).part
    healing = next(s for s in again.stays if s.stage_kind == terms.HEAL)
    assert (healing.first, healing.nights) == (grafted_on, 4)
    assert again.graft_day == grafted_on


def test_plants_that_were_not_taken_out_go_on_standing_in_the_chamber(planned):
    part = planned.parts[0]
    came = (Entered("healing", part.graft_day),)
    facts = PartFacts(sown(part), grafted_on=part.graft_day, grafted=70, entered=came)
    today = part.graft_day + days(6)
    again = rolled(planned, today, facts).part
    healing = next(s for s in again.stays if s.stage_kind == terms.HEAL)
    assert healing.leaves >= today


def test_ready_counts_end_all_doubt(planned):
    part = planned.parts[0]
    facts = PartFacts(grafted_on=part.graft_day, grafted=70, taken=66, ready=58, ready_on=part.ready)
    outlook = rolled(planned, part.ready, facts).outlook
    assert (outlook.expected, outlook.low, outlook.high) == (58, 58, 58)
    assert outlook.chance == 0.0


def test_plain_plants_roll_too():
    planned = promise(season(), [plain_wish()])[0].plan
    part = planned.parts[0]
    again = roll(season(), part, planned.wish, PartFacts(), planned.pickup)
    assert again.part.ready == part.ready
    late = part.sowings[0].day + days(3)
    moved = roll(season(today=late), part, planned.wish, PartFacts(), planned.pickup)
    assert moved.part.sowings[0].day >= late


def test_rolling_by_whole_weeks_moves_with_the_season(planned):
    year = days(364)
    part = planned.parts[0]
    today = min(s.day for s in part.sowings) + days(4)
    here = rolled(planned, today).part
    moved = promise(season(today=MONDAY + year), [wish(pickup=planned.wish.pickup + year)])[0].plan
    there = roll(season(today=today + year), moved.parts[0], moved.wish, PartFacts(), moved.pickup).part
    assert there.graft_day == here.graft_day + year
    assert there.ready == here.ready + year


# --- closed days ---------------------------------------------------------------------------------------------


def closed(*days_closed, today=MONDAY):
    return season(today=today, calendar=calendar(*days_closed))


def test_plain_plants_are_potted_on_an_open_day_when_theirs_was_closed():
    planned = promise(season(), [plain_wish()])[0].plan
    (potted,) = works(planned.parts[0], terms.POT)
    again = roll(closed(potted.day), planned.parts[0], planned.wish, PartFacts(), planned.pickup).part
    (moved,) = works(again, terms.POT)
    assert abs(moved.day - potted.day) == days(1)
    assert moved.day == next(stay.first for stay in again.stays if stay.stage == "growing")


def test_work_in_the_middle_of_a_stage_moves_to_the_nearest_open_day_when_its_own_was_closed():
    recipe = splice()
    topped = replace(recipe.union[-1], works=(*recipe.union[-1].works, WorkRule(terms.TOP, (), after=3)))
    asked = wish(recipe=replace(recipe, union=(*recipe.union[:-1], topped)), leaders=2, topped=True)
    planned = promise(season(), [asked])[0].plan
    (top,) = works(planned.parts[0], terms.TOP)
    again = roll(closed(top.day), planned.parts[0], asked, PartFacts(), planned.pickup).part
    assert [abs(work.day - top.day) for work in works(again, terms.TOP)] == [days(1)]


def test_a_stage_is_not_drawn_out_beyond_its_longest_while_another_way_keeps_off_the_closed_day(planned):
    part = planned.parts[0]
    pot = next(stay.first for stay in part.stays if stay.stage == "growing")
    shut = closed(*(pot + days(n) for n in range(3)))
    again = roll(shut, part, planned.wish, PartFacts(), planned.pickup).part
    assert (
        faults(shut, [LinePlan(planned.wish, planned.pickup, (again,))], begun=frozenset({planned.wish.key})) == []
    )


def test_a_pickup_that_was_closed_since_stays_promised_and_is_said(planned):
    again = roll(closed(planned.pickup), planned.parts[0], planned.wish, PartFacts(), planned.pickup)
    assert any("the day promised, is closed" in trouble for trouble in again.troubles)
    assert [work.day for work in works(again.part, terms.HAND_OVER)] == [planned.pickup + days(1)]
    assert again.late_by == 0


def test_a_side_that_is_still_to_be_sown_waits_for_the_other_that_was_sown_late(planned):
    part = planned.parts[0]
    first, second = sorted(part.sowings, key=lambda sowing: sowing.day)
    late = first.day + days(30)
    facts = PartFacts((SowingFacts(first.subject, sown=late, seeds=first.seeds),))
    again = roll(season(today=late), part, planned.wish, facts, planned.pickup).part
    still = next(sowing for sowing in again.sowings if sowing.subject == second.subject)
    assert still.day > late
    assert still.graftable_from <= again.graft_day <= still.graftable_to


# --- work that is overdue -----------------------------------------------------------------------------------


def in_the_cover(part, **more):
    """Grafted as planned, and four nights later recorded under the cover."""
    graft = part.graft_day
    entered = (Entered("healing", graft), Entered("cover", graft + days(4)))
    return PartFacts(sown(part), grafted_on=graft, grafted=78, **{"entered": entered, **more})


def works(part, kind):
    return [work for work in part.works if work.kind == kind]


def test_work_not_recorded_is_planned_for_today_where_it_stands(planned):
    part = planned.parts[0]
    today = part.graft_day + days(7)
    again = rolled(planned, today, in_the_cover(part)).part
    assert [work.day for work in works(again, terms.PROP)] == [today]
    assert all(work.day >= today for work in again.works)


def test_overdue_work_that_may_not_fall_on_a_closed_day_waits_for_the_next_open_one(planned):
    part = planned.parts[0]
    sunday = part.graft_day + days(5 + 7)
    assert sunday.weekday() == 6
    entered = (
        Entered("healing", part.graft_day),
        Entered("cover", part.graft_day + days(4)),
        Entered("growing", part.graft_day + days(6)),
    )
    again = rolled(planned, sunday, in_the_cover(part, entered=entered)).part
    assert [work.day for work in works(again, terms.POT)] == [sunday + days(1)]
    assert [work.day for work in works(again, terms.COUNT_TAKEN)] == [sunday]


def test_work_that_is_recorded_stays_where_it_was_and_what_happened_is_not_asked_again(planned):
    part = planned.parts[0]
    facts = in_the_cover(part, done=(terms.Done(terms.PROP, "union", "cover"),))
    again = rolled(planned, part.graft_day + days(7), facts).part
    assert [work.day for work in works(again, terms.PROP)] == [part.graft_day + days(5)]
    asked = {(work.kind, work.subject) for work in again.works}
    assert not asked & {(terms.SOW, "scion"), (terms.COUNT_EMERGED, "rootstock"), (terms.GRAFT, "union")}
    assert (terms.TAKE_OUT, "union") not in asked  # they stand under the cover, so they are out of the chamber


def test_nobody_props_the_cover_of_plants_that_have_left_it(planned):
    part = planned.parts[0]
    entered = (Entered("cover", part.graft_day + days(4)), Entered("growing", part.graft_day + days(6)))
    again = rolled(planned, part.graft_day + days(8), in_the_cover(part, entered=entered)).part
    assert not works(again, terms.PROP)


# --- collection ---------------------------------------------------------------------------------------------


def ready_facts(part):
    entered = (
        Entered("healing", part.graft_day),
        Entered("cover", part.graft_day + days(4)),
        Entered("growing", part.graft_day + days(6)),
    )
    return PartFacts(sown(part), part.graft_day, 78, taken=70, ready=66, ready_on=part.ready, entered=entered)


def test_room_is_held_to_the_last_day_promised_and_not_from_each_day_anew():
    planned = promise(season(), [wish(collection=3)])[0].plan
    part = planned.parts[0]
    again = rolled(planned, part.ready + days(1), ready_facts(part)).part
    waiting = next(s for s in again.stays if s.stage_kind == terms.WAITING)
    assert (waiting.first, waiting.leaves) == (part.ready, part.ready + days(2))
    assert [work.day for work in works(again, terms.HAND_OVER)] == [part.ready + days(1)]


def test_plants_nobody_came_for_go_on_taking_room():
    planned = promise(season(), [wish(collection=2)])[0].plan
    part = planned.parts[0]
    today = part.ready + days(4)
    again = rolled(planned, today, ready_facts(part)).part
    waiting = next(s for s in again.stays if s.stage_kind == terms.WAITING)
    assert waiting.leaves == today


def test_usable_stems_that_were_counted_need_no_count_of_emergence(planned):
    part = planned.parts[0]
    usable = {"usable": 90}
    facts = PartFacts(sown(part, scion=usable, rootstock=usable))
    assert rolled(planned, part.graft_day, facts).part.graft_day == part.graft_day
