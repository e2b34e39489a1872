"""From plans that the planning core makes to the strands that pages and papers draw."""

from dataclasses import replace
from datetime import timedelta

import pytest

from orders.strand import Cold, Stretch, axis_of, marks, sentence
from production.planning import terms
from production.planning.promise import plan_as_asked
from production.strands import strand_of, strands_of
from tests.planning import nursery
from tests.planning.nursery import MONDAY

SEASON = nursery.season(calendar=nursery.calendar(weekdays=frozenset(range(7))))
PICKUP = MONDAY + timedelta(days=72)


def planned(wish: terms.Wish, season: terms.Season = SEASON) -> terms.LinePlan:
    return plan_as_asked(season, wish)


def test_a_splice_graft_heals_four_nights_and_stands_two_under_its_cover():
    plan = planned(nursery.wish(pickup=PICKUP))
    (strand,) = strands_of(plan)
    (graft,) = strand.grafted
    assert strand.healing == Stretch(graft, graft + timedelta(days=4))
    assert strand.cover == Stretch(graft + timedelta(days=4), graft + timedelta(days=6))
    assert strand.growing_on == Stretch(graft + timedelta(days=6), plan.parts[0].ready)
    assert strand.pickup == PICKUP
    assert strand.window is None


def test_a_side_graft_brings_its_two_cuts_into_the_picture():
    (strand,) = strands_of(planned(nursery.wish(pickup=PICKUP, recipe=nursery.side_graft())))
    (graft,) = strand.grafted
    assert (strand.notch, strand.final_cut) == (graft + timedelta(days=5), graft + timedelta(days=7))
    assert strand.hardening == Stretch(graft + timedelta(days=3), graft + timedelta(days=7))
    kinds = {mark.kind for mark in marks(strand, axis_of(strand))}
    assert {"own-root", "cut", "graft", "healing", "hardening", "growing"} <= kinds
    assert "side-grafted" in sentence(strand)


def test_topping_forks_the_strand():
    recipe = nursery.splice()
    *before, growing = recipe.union
    top = terms.WorkRule(terms.TOP, (("crew", 400.0),), after=2)
    recipe = replace(recipe, union=(*before, replace(growing, works=(*growing.works, top))))
    wish = nursery.wish(pickup=PICKUP, leaders=2, topped=True, recipe=recipe)
    (strand,) = strands_of(planned(wish))
    assert "leader" in {mark.kind for mark in marks(strand, axis_of(strand))}
    assert "topped for two leaders" in sentence(strand)


def test_a_plain_line_has_one_strand_and_no_graft():
    (strand,) = strands_of(planned(nursery.plain_wish(pickup=PICKUP)))
    assert strand.plain_sown
    assert (strand.grafted, strand.scion_sown, strand.rootstock_sown) == ((), (), ())


def test_room_only_is_a_stretch_of_nights():
    plan = planned(nursery.room_wish(nights=10, pickup=PICKUP))
    (strand,) = strands_of(plan)
    assert strand.room
    assert strand.room.nights == 10
    assert sentence(strand).startswith("Room taken ")


def test_a_batch_of_several_parts_has_a_strand_for_each():
    plan = planned(nursery.wish(quantity=900, pickup=PICKUP), nursery.season(places=nursery.places(healing=60)))
    strands = strands_of(plan)
    assert len(strands) == len(plan.parts) > 1
    assert len({strand.grafted for strand in strands}) > 1


@pytest.mark.parametrize(("collection", "last"), [(1, None), (3, 3)])
def test_the_window_ends_on_the_last_open_day_to_come_for_the_plants(collection, last):
    """From a Saturday on, with Sunday closed, three days to come end on Tuesday."""
    saturday = MONDAY + timedelta(days=75)
    plan = planned(nursery.wish(pickup=saturday, collection=collection), nursery.season())
    (strand,) = strands_of(plan)
    expected = None if last is None else (saturday, saturday + timedelta(days=last))
    assert strand.window == expected


def test_cold_holding_is_known_by_its_place():
    (part,) = planned(nursery.wish(pickup=PICKUP)).parts
    held = terms.StayPlan("scion", "held", terms.RAISING, "cold room", MONDAY, 5, "plug-72", 1, 1.0)
    strand = strand_of(
        replace(part, stays=(*part.stays, held)), pickup=PICKUP, cold_places=frozenset({"cold room"})
    )
    assert strand.cold == (Cold("scion", Stretch(MONDAY, MONDAY + timedelta(days=5))),)
