"""A promise that is held: it takes its room, shows its end, and lets go by itself."""

from datetime import date, timedelta

import pytest

from orders import history, jobs, states
from orders import services as orders
from orders.holding import ACCEPTED, fingerprint
from orders.models import Document, Job, Letter, Order, OrderLine
from orders.refusals import ManyRefused, Refused
from orders.states import MoveRefused
from production import bridge
from production.models import Allocation, Part, Stay, Work
from production.queries.promises import answers
from production.queries.today import day_sheet
from production.services import answering, growing, holding, moving, promise, replan
from production.services.season_files import running_season
from tests.factories import CustomerFactory, UserFactory
from tests.nursery import TODAY, Working, working_nursery

pytestmark = pytest.mark.django_db

FRIDAY = date(2027, 1, 15)


@pytest.fixture(autouse=True)
def clock(time_machine):
    time_machine.move_to(f"{TODAY}T10:00:00Z", tick=False)
    return time_machine


@pytest.fixture
def working() -> Working:
    return working_nursery()


def taken(working: Working, *changes: dict, **one) -> Order:
    lines = [working.line(**change) for change in changes or (one,)]
    return orders.take_order(customer=CustomerFactory(), lines=lines, by=working.grower, today=TODAY)


def held(working: Working, *changes: dict, until: date | None = None, **one) -> Order:
    order = taken(working, *changes, **one)
    holding.hold(order=order, by=working.grower, today=TODAY, until=until)
    return order


def first_work(order: Order) -> date:
    return min(Work.objects.filter(part__allocations__line__order=order).values_list("day", flat=True))


# --- holding --------------------------------------------------------------------------------------------------


def test_a_held_line_has_its_room_its_pickup_and_its_end(working):
    line = held(working).lines.get()
    assert (line.state, line.pickup) == (states.HELD, date(2027, 4, 21))
    assert line.hold_until == TODAY + timedelta(days=3)
    assert Stay.objects.filter(part__allocations__line=line, stage_kind="healing").exists()
    assert "held until Thu 14 January 2027" in history.of(line.order).first().text
    jobs.drain()
    assert not Document.objects.exists(), "a promise that is held gets no confirmation"


def test_the_nursery_says_for_how_many_days_a_promise_is_held(working):
    working.nursery.hold_days = 7
    working.nursery.save()
    assert held(working).lines.get().hold_until == TODAY + timedelta(days=7)


def test_nobody_else_gets_the_room_that_is_held():
    working = working_nursery(healing=2)
    held(working, later=0)
    other = taken(working, quantity=400, later=0)
    for ask in (promise.accept, holding.hold):
        with pytest.raises(ManyRefused, match="Healing chamber"):
            ask(order=other, by=working.grower, today=TODAY)
    assert other.lines.get().state == states.ASKED


def test_lines_are_held_all_or_none():
    working = working_nursery(healing=2)
    order = taken(working, {"later": 0}, {"quantity": 400, "later": 0})
    with pytest.raises(ManyRefused) as refused:
        holding.hold(order=order, by=working.grower, today=TODAY)
    assert refused.value.field == "lines.1.pickup_asked"
    assert {line.state for line in order.lines.all()} == {states.ASKED}
    assert not Part.objects.exists()


def test_holding_twice_is_one_promise_and_keeps_its_end(working):
    order = held(working)
    again = holding.hold(order=order, by=working.grower, today=TODAY + timedelta(days=1))
    assert again.until == TODAY + timedelta(days=3)
    assert Part.objects.count() == 1


@pytest.mark.parametrize(("days", "says"), [(-1, "past"), (61, "60 days at most")])
def test_a_day_that_is_past_or_far_away_is_refused(working, days, says):
    order = taken(working)
    with pytest.raises(Refused, match=says) as refused:
        holding.hold(order=order, by=working.grower, today=TODAY, until=TODAY + timedelta(days=days))
    assert refused.value.field == "until"
    assert not Part.objects.exists()


def test_a_hold_ends_before_the_first_sowing(working):
    working.nursery.hold_days = 30
    working.nursery.save()
    order = taken(working, pickup_asked=date(2027, 3, 31))
    made = holding.hold(order=order, by=working.grower, today=TODAY)
    assert made.cut_short
    assert made.until == order.lines.get().hold_until == first_work(order) - timedelta(days=1)


def test_a_day_after_the_first_sowing_is_refused_and_the_last_possible_one_named(working):
    order = held(working, pickup_asked=date(2027, 3, 31))
    sowing = first_work(order)
    for change in (holding.extend, holding.hold):
        subject = order if change is holding.extend else taken(working, pickup_asked=date(2027, 3, 31))
        with pytest.raises(Refused, match="nothing is sown for what is only held") as refused:
            change(order=subject, until=sowing, by=working.grower, today=TODAY)
        assert refused.value.field == "until"
        assert f"{sowing - timedelta(days=1):%a}" in refused.value.mend
    assert order.lines.get().hold_until == TODAY + timedelta(days=3)


def test_what_is_sown_today_cannot_be_held(working):
    sowing = first_work(held(working, later=0))
    order = taken(working, later=0)  # on that day the same has to be sown at once
    with pytest.raises(Refused, match="cannot be held"):
        holding.hold(order=order, by=working.grower, today=sowing)
    assert order.lines.get().state == states.ASKED
    promise.accept(order=order, by=working.grower, today=sowing)


def test_room_only_is_held_until_the_night_before_it_begins(working):
    room = {
        "kind": "room", "scion": None, "rootstock": None, "method": "plain", "container": working.tray,
        "quantity": 2, "room_place_kind": "bench", "room_nights": 10, "pickup_asked": date(2027, 1, 22),
    }  # fmt: skip
    assert held(working, room).lines.get().hold_until == TODAY, "it begins on Tuesday"


# --- held longer, confirmed, let go ---------------------------------------------------------------------------


def test_a_hold_is_made_longer_or_shorter(working):
    order = held(working)
    for until in (FRIDAY, TODAY):
        holding.extend(order=order, until=until, by=working.grower, today=TODAY)
        assert order.lines.get().hold_until == until
    assert history.of(order).filter(what="hold changed").count() == 2


def test_nothing_held_is_nothing_to_extend_or_let_go(working):
    order = taken(working)
    with pytest.raises(Refused, match="Nothing of this order is held"):
        holding.extend(order=order, until=FRIDAY, by=working.grower, today=TODAY)
    with pytest.raises(Refused, match="Nothing of this order is held"):
        holding.let_go(order=order, by=working.grower)


def test_confirming_what_is_held_keeps_its_room_and_asks_no_second_time(working, monkeypatch):
    order = held(working)
    stays = list(Stay.objects.values())
    monkeypatch.setattr(answering, "what_if", None)  # not asked
    promise.accept(order=order, by=working.grower, today=TODAY)
    line = order.lines.get()
    assert (line.state, line.hold_until, line.pickup) == (states.CONFIRMED, None, date(2027, 4, 21))
    assert list(Stay.objects.values()) == stays


def test_held_and_asked_lines_of_an_order_are_confirmed_together(working):
    order = held(working)
    more = working.line(quantity=40)
    more.order, more.number = order, 2
    more.save()
    promise.accept(order=order, by=working.grower, today=TODAY)
    assert {line.state for line in order.lines.all()} == {states.CONFIRMED}
    assert Part.objects.count() == 2


def test_what_became_late_while_it_was_held_is_not_confirmed_unawares(working):
    order = held(working)
    Part.objects.update(late_by=2)
    with pytest.raises(Refused, match="2 days late"):
        promise.accept(order=order, by=working.grower, today=TODAY)
    assert order.lines.get().state == states.HELD


def test_letting_go_by_hand_frees_the_room(working):
    order = held(working)
    holding.let_go(order=order, by=working.grower, why="They grow their own")
    line = order.lines.get()
    assert (line.state, line.hold_until, line.ended_reason) == (states.LET_GO, None, "They grow their own")
    assert no_room_is_taken()


def no_room_is_taken() -> bool:
    season = bridge.season_of(TODAY)
    return not season.room and not season.hands and not Allocation.objects.exists()


def test_a_held_line_that_is_moved_ends_before_its_new_first_work(working):
    order = held(working, until=FRIDAY + timedelta(days=14))
    move = [(100, date(2027, 3, 15))]
    moving.move(line=order.lines.get(), pieces=move, by=working.grower, today=TODAY)
    line = order.lines.get()
    assert (line.state, line.pickup) == (states.HELD, date(2027, 3, 15))
    assert line.hold_until == first_work(order) - timedelta(days=1)


# --- it lets go by itself -------------------------------------------------------------------------------------


def test_a_promise_is_held_through_the_end_of_its_last_day_and_then_lets_go(working, clock):
    order = held(working)
    clock.move_to("2027-01-14T23:58:00Z")
    jobs.drain()
    assert order.lines.get().state == states.HELD
    clock.move_to("2027-01-15T00:02:00Z")
    jobs.drain()
    line = order.lines.get()
    assert (line.state, line.hold_until) == (states.LET_GO, None)
    assert "held until Thu 14 January 2027" in line.ended_reason
    assert history.of(order).first().by == "", "nobody did it"
    assert no_room_is_taken()


def test_the_day_ends_where_the_nursery_is(clock):
    working = working_nursery(time_zone="America/New_York")
    order = held(working)
    clock.move_to("2027-01-15T04:58:00Z")  # two minutes to midnight there
    jobs.drain()
    assert order.lines.get().state == states.HELD
    clock.move_to("2027-01-15T05:02:00Z")
    jobs.drain()
    assert order.lines.get().state == states.LET_GO


def test_what_is_held_longer_outlives_the_first_job(working, clock):
    order = held(working)
    holding.extend(order=order, until=FRIDAY, by=working.grower, today=TODAY)
    clock.move_to("2027-01-15T12:00:00Z")
    jobs.drain()
    assert order.lines.get().state == states.HELD
    clock.move_to("2027-01-16T12:00:00Z")
    jobs.drain()
    assert order.lines.get().state == states.LET_GO
    assert not Job.objects.filter(state=Job.State.FAILED).exists()


def test_the_turn_of_the_day_lets_go_too_and_twice_is_once(working):
    order = held(working)
    for _twice in range(2):
        replan.roll_over(FRIDAY)
    assert order.lines.get().state == states.LET_GO
    assert history.of(order).filter(what="hold lapsed").count() == 1


def test_what_lapsed_is_asked_for_again_and_takes_no_room_until_it_is_promised(working):
    order = held(working)
    holding.lapse(FRIDAY)
    holding.ask_again(line=order.lines.get(), by=working.grower)
    line = order.lines.get()
    assert (line.state, line.pickup, line.ended_reason) == (states.ASKED, None, "")
    assert no_room_is_taken()
    holding.hold(order=order, by=working.grower, today=FRIDAY)
    assert order.lines.get().state == states.HELD


def test_only_what_was_let_go_is_asked_again(working):
    order = held(working)
    with pytest.raises(MoveRefused):
        holding.ask_again(line=order.lines.get(), by=working.grower)


def test_confirming_what_was_let_go_says_so(working):
    order = held(working)
    holding.lapse(FRIDAY)
    with pytest.raises(Refused, match="Line 1 is let go"):
        promise.accept(order=order, by=working.grower, today=FRIDAY)


def test_nothing_is_sown_for_what_is_only_held(working):
    order = held(working)
    work = Work.objects.filter(part__allocations__line__order=order, kind="sow").earliest("day")
    with pytest.raises(Refused, match="not confirmed yet"):
        growing.do_work(work=work, by=working.grower, today=work.day)


def test_what_is_sown_with_others_is_not_let_go_by_itself(working):
    order = held(working)
    Part.objects.update(state=Part.State.ALIVE)
    assert holding.lapse(FRIDAY) == []
    assert order.lines.get().state == states.HELD
    promise.accept(order=order, by=working.grower, today=FRIDAY)
    assert order.lines.get().state == states.GROWING


def test_levelling_leaves_what_is_held_where_it_was_offered(working):
    order = held(working)
    file = running_season(today=TODAY, nursery=working.nursery)
    assert (file.lines, file.promised) == ((), ())
    assert {claim.owner for claim in file.season.room} == {f"line:{order.lines.get().pk}"}


# --- the customer says yes ------------------------------------------------------------------------------------


def seen(order: Order) -> str:
    return fingerprint(order.lines.filter(state=states.HELD).order_by("number"))


def test_the_customer_accepts_once_and_is_named_in_the_history(working):
    order = held(working)
    offered = seen(order)
    for _twice in range(2):
        holding.accept_by_customer(order=order, name=" Mara  Quill ", seen=offered, today=TODAY)
    assert order.lines.get().state == states.CONFIRMED
    row = history.of(order).get(what=ACCEPTED)
    assert row.detail == {"name": "Mara Quill", "lines": [1]}
    assert Job.objects.filter(kind="confirmation").count() == 1


def test_the_customer_accepts_on_the_last_day_and_not_after_it(working):
    order = held(working)
    with pytest.raises(Refused, match="has ended"):
        holding.accept_by_customer(order=order, name="Mara", seen=seen(order), today=FRIDAY)
    holding.accept_by_customer(order=order, name="Mara", seen=seen(order), today=FRIDAY - timedelta(days=1))
    assert order.lines.get().state == states.CONFIRMED


def test_the_customer_accepts_what_was_read_and_nothing_else(working):
    order = held(working)
    offered = seen(order)
    OrderLine.objects.update(unit_price="3.10")
    with pytest.raises(Refused, match="changed while you were reading"):
        holding.accept_by_customer(order=order, name="Mara", seen=offered, today=TODAY)
    with pytest.raises(Refused) as refused:
        holding.accept_by_customer(order=order, name=" ", seen=seen(order), today=TODAY)
    assert refused.value.field == "name"
    assert order.lines.get().state == states.HELD
    assert not Letter.objects.exists()


# --- seen at a glance -----------------------------------------------------------------------------------------


def told(today: date, nursery) -> dict[str, list[str]]:
    said = answers(today, nursery)
    return {
        "ending": [line.order.code for line in said.ending],
        "lapsed": [line.order.code for line in said.lapsed],
        "accepted": [name for _order, name in said.accepted],
    }


def test_today_tells_what_ends_what_was_let_go_and_what_was_accepted(working, clock, client):
    first, second = held(working), held(working, until=FRIDAY)
    holding.accept_by_customer(order=second, name="Mara Quill", seen=seen(second), today=TODAY)
    assert told(TODAY, working.nursery) == {"ending": [], "lapsed": [], "accepted": ["Mara Quill"]}
    clock.move_to("2027-01-14T09:00:00Z")
    client.force_login(working.grower, backend="django.contrib.auth.backends.ModelBackend")
    assert "held until today" in client.get("/").content.decode()
    assert told(FRIDAY - timedelta(days=1), working.nursery)["ending"] == [first.code]
    clock.move_to("2027-01-15T09:00:00Z")
    said = client.get("/").content.decode()
    assert "nobody said yes" in said
    assert told(FRIDAY, working.nursery) == {"ending": [], "lapsed": [first.code], "accepted": []}
    client.post(f"/lines/{first.lines.get().pk}/again/")
    assert told(FRIDAY, working.nursery)["lapsed"] == []


def test_what_was_let_go_at_the_weekend_is_told_on_monday_and_not_on_tuesday(working, clock):
    order = held(working, until=FRIDAY)
    clock.move_to("2027-01-16T00:01:00Z")
    jobs.drain()
    for day, codes in ((18, [order.code]), (19, [])):
        assert told(date(2027, 1, day), working.nursery)["lapsed"] == codes


def test_nobody_without_orders_in_hand_is_told_of_them(working, clock, client):
    held(working)
    clock.move_to("2027-01-15T09:00:00Z")
    client.force_login(UserFactory(role="crew"), backend="django.contrib.auth.backends.ModelBackend")
    assert "Held promises" not in client.get("/").content.decode()


def test_work_of_what_is_held_says_that_nothing_is_done_yet(working, client):
    order = held(working)
    day = first_work(order)
    [task] = [task for task in day_sheet(day, today=TODAY).tasks if task.work.kind == "sow"][:1]
    assert (
        task.waits
        == f"Only held until Thu 14 January: nothing is done for {order}, line 1 before it is confirmed."
    )
    client.force_login(working.grower, backend="django.contrib.auth.backends.ModelBackend")
    assert task.waits in client.get(f"/day/{day}/").content.decode()
    api = client.get(f"/api/day/{day}/").json()
    assert {task["waits"] for section in api["sections"] for task in section["tasks"]} == {task.waits}
    assert "held until Thu 14 January" in client.get("/season/").content.decode()


def test_others_make_room_for_what_is_held_only_if_the_grower_says_so(working):
    order = taken(working)
    clerk = UserFactory(role="office")
    with pytest.raises(Refused, match="You may not move what is promised"):
        holding.hold(order=order, by=clerk, today=TODAY, moving=True)
    assert order.lines.get().state == states.ASKED
    holding.hold(order=order, by=working.grower, today=TODAY, moving=True)
    assert order.lines.get().state == states.HELD
