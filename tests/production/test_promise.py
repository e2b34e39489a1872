"""Promises: what could be, what is confirmed, and what is moved."""

import logging
from dataclasses import replace
from datetime import date, timedelta

import pytest

from orders import services as orders
from orders import states
from orders.models import HistoryEntry, Job, Order, OrderLine
from orders.refusals import ManyRefused, Refused
from production import bridge
from production.models import Allocation, Batch, ClosedDay, Part, Place, Sowing, Stay, Work
from production.services import answering, moving, promise
from tests.factories import CustomerFactory
from tests.nursery import TODAY, working_nursery

pytestmark = pytest.mark.django_db
PLAN_TABLES = (Order, OrderLine, Batch, Part, Allocation, Sowing, Stay, Work, Job, HistoryEntry)


def contents():
    return {model: list(model.objects.order_by("pk").values()) for model in PLAN_TABLES}


def taken(working, **changes):
    return orders.take_order(
        customer=CustomerFactory(), lines=[working.line(**changes)], by=working.grower, today=TODAY
    )


def test_a_what_if_stores_nothing():
    working = working_nursery()
    before = contents()
    said = answering.what_if([working.line()], today=TODAY)[0]
    assert said.fits
    assert contents() == before


def test_confirming_takes_the_room_and_confirms_the_line_together():
    working = working_nursery()
    order = taken(working)
    promise.accept(order=order, by=working.grower, today=TODAY)
    line = order.lines.get()
    assert line.state == states.CONFIRMED
    assert line.pickup == date(2027, 4, 21)
    part = Part.objects.get()
    assert part.grafts >= 100
    assert {sowing.subject for sowing in part.sowings.all()} == {"rootstock", "scion"}
    assert part.stays.filter(stage_kind="healing").exists()
    assert Job.objects.get(kind="confirmation").payload["order"] == order.pk
    assert sum(bridge.season_of(TODAY).hands[0].hours[0][1:]) > 0


def test_the_room_of_a_promise_is_seen_by_the_next_one():
    working = working_nursery(healing=2)
    promise.accept(order=taken(working, later=0), by=working.grower, today=TODAY)
    second = answering.what_if([working.line(quantity=400, later=0)], today=TODAY)[0]
    assert not second.fits
    chamber = next(c for c in second.answer.conflicts if c.name == "Healing chamber")
    assert chamber.peak > chamber.there
    assert any("Order 1" in cause.label for cause in chamber.causes)
    assert second.answer.later.pickup > date(2027, 4, 21)


def test_a_refused_promise_changes_nothing_and_names_the_nearest_days():
    working = working_nursery(healing=2)
    promise.accept(order=taken(working, later=0), by=working.grower, today=TODAY)
    order = taken(working, quantity=400, later=0)
    before = contents()
    with pytest.raises(ManyRefused) as refused:
        promise.accept(order=order, by=working.grower, today=TODAY)
    assert refused.value.field == "lines.0.pickup_asked"
    assert "It would fit on" in refused.value.mend
    assert contents() == before


def test_only_the_grower_promises_over_a_conflict_and_the_reason_is_kept():
    working = working_nursery(healing=2)
    promise.accept(order=taken(working, later=0), by=working.grower, today=TODAY)
    order = taken(working, quantity=400, later=0)
    working.grower.groups.clear()
    clerk = type(working.grower).objects.get(pk=working.grower.pk)
    with pytest.raises(Refused, match="Only the grower"):
        promise.accept(order=order, by=clerk, today=TODAY, over_conflict="borrowed trays")
    promise.accept(order=order, by=None, today=TODAY, over_conflict="borrowed trays")
    assert order.lines.get().state == states.CONFIRMED
    assert HistoryEntry.objects.filter(text__contains="borrowed trays").exists()


def test_a_pickup_sooner_than_biology_allows_names_the_earliest_day():
    working = working_nursery()
    said = answering.what_if([working.line(pickup_asked=TODAY + timedelta(days=14))], today=TODAY)[0]
    assert said.answer.impossible.earliest > TODAY + timedelta(days=30)
    assert answering.refusal_of(said).field == "pickup_asked"


def test_an_unknown_pair_of_crop_and_method_is_refused_by_name():
    working = working_nursery()
    said = answering.what_if([working.line(method="hole_insertion")], today=TODAY)[0]
    assert [fault.field for fault in said.faults] == ["method"]


def test_confirming_twice_makes_one_plan():
    working = working_nursery()
    order = taken(working)
    for _twice in range(2):
        promise.accept(order=order, by=working.grower, today=TODAY)
    assert Batch.objects.count() == 1


# --- the referee's word before anything is stored -----------------------------------------------------------


def tampered(plan):
    """A plan that says of its trays that they take half the room in the chamber which they do."""
    part = plan.parts[0]
    stays = tuple(replace(s, load=s.load / 2) if s.stage_kind == "healing" else s for s in part.stays)
    return replace(plan, parts=(replace(part, stays=stays), *plan.parts[1:]))


@pytest.fixture
def wrong_planner(monkeypatch):
    """A planner that has lost its way after its own last look."""

    def wrong(found):
        return replace(found, plan=tampered(found.plan)) if found.fits else found

    planned, judged = answering.promise, moving.judge
    monkeypatch.setattr(answering, "promise", lambda *asked, **how: tuple(map(wrong, planned(*asked, **how))))
    monkeypatch.setattr(moving, "judge", lambda load, wish: wrong(judged(load, wish)))


def test_a_plan_that_fails_its_check_is_not_stored_and_the_rule_place_and_night_are_named(wrong_planner, caplog):
    working = working_nursery()
    order = taken(working)
    before = contents()
    with pytest.raises(Refused) as refused:
        promise.accept(order=order, by=working.grower, today=TODAY)
    assert "failed its check" in refused.value.reason
    for word in ("Load", "Order 1", "Healing chamber", "March"):
        assert word in refused.value.reason
    assert contents() == before
    assert [(each.levelno, each.name) for each in caplog.records] == [
        (logging.ERROR, "production.services.judging")
    ]


def test_no_reason_of_the_grower_makes_an_impossible_plan_possible(wrong_planner):
    working = working_nursery()
    order = taken(working)
    with pytest.raises(Refused, match="failed its check"):
        promise.accept(order=order, by=working.grower, today=TODAY, over_conflict="it will do")
    assert not Batch.objects.exists()


def test_a_move_that_fails_its_check_leaves_the_line_where_it_was(request):
    working = working_nursery()
    order = taken(working)
    promise.accept(order=order, by=working.grower, today=TODAY)
    request.getfixturevalue("wrong_planner")
    before = contents()
    with pytest.raises(Refused, match="failed its check"):
        moving.move(line=order.lines.get(), pieces=[(100, date(2027, 4, 28))], by=working.grower, today=TODAY)
    assert contents() == before


def test_a_day_closed_while_a_promise_was_being_given_makes_it_be_solved_again(monkeypatch):
    working = working_nursery()
    order = taken(working)
    planned, asked = answering.promise, []

    def overtaken(season, wishes, **how):
        """The planner's answer; right after the first one, the day on which it grafts is closed by another."""
        answers = planned(season, wishes, **how)
        asked.append(answers[0].plan.parts[0].graft_day)
        ClosedDay.objects.get_or_create(day=asked[0])
        return answers

    monkeypatch.setattr(answering, "promise", overtaken)
    promise.accept(order=order, by=working.grower, today=TODAY)
    assert len(asked) == 2
    assert Part.objects.get().graft_day == asked[1] != asked[0]


def test_an_overload_that_was_there_already_refuses_nothing_that_keeps_out_of_it():
    working = working_nursery()
    promise.accept(order=taken(working), by=working.grower, today=TODAY)
    nights = Stay.objects.filter(stage_kind="healing").latest("first")
    Place.objects.filter(pk=nights.place_id).update(capacity=1)
    later = taken(working, quantity=20, pickup_asked=date(2027, 6, 16), later=0)
    promise.accept(order=later, by=working.grower, today=TODAY)
    assert later.lines.get().state == states.CONFIRMED


def test_looking_at_a_move_and_walking_away_leaves_every_table_as_it_was():
    working = working_nursery()
    order = taken(working)
    promise.accept(order=order, by=working.grower, today=TODAY)
    before = contents()
    looked = moving.look_at_move(
        line=order.lines.get(), pieces=[(40, date(2027, 4, 28)), (60, date(2027, 5, 5))], today=TODAY
    )
    assert looked.fits
    assert contents() == before


def test_a_line_is_split_over_two_pickups():
    working = working_nursery()
    order = taken(working)
    promise.accept(order=order, by=working.grower, today=TODAY)
    pieces = [(40, date(2027, 4, 28)), (60, date(2027, 5, 5))]
    moving.move(line=order.lines.get(), pieces=pieces, by=working.grower, today=TODAY)
    lines = list(order.lines.order_by("number"))
    assert [(line.quantity, line.pickup) for line in lines] == pieces
    assert {line.state for line in lines} == {states.CONFIRMED}
    assert Part.objects.count() == 2


def test_lengthening_a_stage_changes_the_next_promise_and_no_confirmed_order():
    working = working_nursery()
    order = taken(working)
    promise.accept(order=order, by=working.grower, today=TODAY)
    stays = list(Stay.objects.values())
    before = answering.what_if([working.line()], today=TODAY)[0].plan.parts[0].graft_day
    protocol = bridge.current_protocol(order.lines.get())
    healing = protocol.stages.get(track="union", kind="healing")
    healing.usual, healing.longest = healing.usual + 2, healing.longest + 2
    healing.save()
    after = answering.what_if([working.line()], today=TODAY)[0].plan.parts[0].graft_day
    assert after < before
    assert list(Stay.objects.values()) == stays


def test_the_queries_of_a_promise_do_not_grow_with_the_season(django_assert_max_num_queries):
    working = working_nursery(healing=60, bench=600)
    for day in range(4):
        order = taken(working, quantity=20, pickup_asked=date(2027, 4, 19) + timedelta(days=day))
        promise.accept(order=order, by=working.grower, today=TODAY)
    with django_assert_max_num_queries(24) as queries:
        answering.what_if([working.line(quantity=20)], today=TODAY)
    few = len(queries)
    for day in range(4):
        order = taken(working, quantity=20, pickup_asked=date(2027, 4, 26) + timedelta(days=day))
        promise.accept(order=order, by=working.grower, today=TODAY)
    with django_assert_max_num_queries(few):
        answering.what_if([working.line(quantity=20)], today=TODAY)
