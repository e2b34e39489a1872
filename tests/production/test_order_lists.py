"""A list of orders: every fault by row and column, the good ones promised together, nothing before it is said."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.db.models import F
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from orders import jobs, states
from orders.models import Customer, Job, Letter, Order, OrderLine, Variety
from orders.refusals import ManyRefused, Refused
from production.models import Batch, OrderList, Place, Protocol, ProtocolStage
from production.queries.order_lists import Found
from production.services import answering, list_taking, order_lists
from tests.factories import CustomerFactory
from tests.nursery import TODAY, working_nursery
from tests.production.order_lists import HEADS, csv_text, row, workbook

pytestmark = pytest.mark.django_db


@pytest.fixture
def working(time_machine):
    time_machine.move_to("2027-01-11 09:00 +0000", tick=False)
    return working_nursery()


def checked(content: bytes, by=None) -> OrderList:
    kept = order_lists.start(name="list", content=content, by=by)
    jobs.drain()
    kept.refresh_from_db()
    assert kept.state == "checked"
    return kept


def taken(kept: OrderList, by=None, others="leave") -> OrderList:
    list_taking.confirm(kept, by=by, others=others)
    jobs.drain()
    kept.refresh_from_db()
    assert kept.state == "taken"
    return kept


def outcomes(kept: OrderList) -> list[str]:
    return [order["state"] for order in kept.orders]


def test_good_rows_are_checked_and_promised_only_when_confirmed(working):
    kept = checked(workbook([row(working, n) for n in (1, 2, 3)]))
    assert (outcomes(kept), kept.faults) == (["fits"] * 3, [])
    assert Order.objects.count() == 0 == Customer.objects.count()
    taken(kept, by=working.grower)
    assert outcomes(kept) == ["promised"] * 3
    lines = OrderLine.objects.order_by("order_id")
    assert [line.state for line in lines] == [states.CONFIRMED] * 3
    assert [line.order.customer.email for line in lines] == [f"farm{n}@example.org" for n in (1, 2, 3)]
    assert [order["order"] for order in kept.orders] == [line.order.code for line in lines]
    assert {line.order.taken_by for line in lines} == {working.grower}
    assert Letter.objects.filter(kind="confirmation").count() == 3


def test_rows_of_one_customer_with_the_same_order_are_one_order(working):
    rows = [row(working, 1), row(working, 2), row(working, 1, Plants=30), row(working, 1, Customer="", Plants=20)]
    rows += [row(working, 3, Order=""), row(working, 3, Order="")]
    kept = checked(workbook(rows))
    assert [order["rows"] for order in kept.orders] == [[2, 4, 5], [3], [6], [7]]
    taken(kept)
    assert [order.lines.count() for order in Order.objects.order_by("id")] == [3, 1, 1, 1]
    assert Customer.objects.count() == 3


def test_every_fault_is_told_with_its_row_and_column_and_nothing_of_the_order_is_taken(working):
    rows = [
        row(working, 1, Scion="Talis Red", Plants="many"),
        row(working, 2, Pickup="31.2.2027", Plants=0),
        row(working, 3, Plants=0),
        row(working, 4, Pickup=date(2026, 4, 21)),
        row(working, 5, Rootstock=working.scion.name),
        row(working, 6, Customer=""),
        row(working, 7, Email="nobody"),
        row(working, 8, Pot_or_tray="Bucket"),
        row(working, 9),
        row(working, 9, Plants="-5"),
        row(working, 10, Days_later=900),
    ]
    kept = checked(workbook(rows))
    assert [(fault["row"], fault["column"]) for fault in kept.faults] == [
        (2, "scion"), (2, "quantity"), (3, "quantity"), (3, "pickup_asked"), (4, "quantity"),
        (5, "pickup_asked"), (6, "rootstock"), (7, "customer"), (8, "email"), (9, "container"),
        (11, "quantity"), (12, "later"),
    ]  # fmt: skip
    assert all(fault["reason"] and fault["mend"] for fault in kept.faults)
    assert outcomes(kept) == ["faulty"] * 10
    with pytest.raises(Refused, match="nothing in the list to take"):
        list_taking.confirm(kept, by=None)
    assert Order.objects.count() == 0


def test_a_variety_is_made_new_where_its_crop_is_named(working):
    heads = (*HEADS, "Scion crop")
    rows = [[*row(working, n, Scion="Red Pippa"), "Tomato"] for n in (1, 2)]
    kept = checked(workbook(rows, heads))
    assert outcomes(kept) == ["fits", "fits"]
    assert not Variety.objects.filter(name="Red Pippa").exists()
    taken(kept)
    assert Variety.objects.get(name="Red Pippa").crop.name == "Tomato"
    assert OrderLine.objects.filter(scion__name="Red Pippa").count() == 2


def test_what_does_not_fit_says_when_it_would_and_is_kept_as_asked_only_if_wanted(working):
    """A chamber of two trays and rigid stages: two orders of 80 plants on one day are one too many."""
    from django.db.models import F

    from production.models import Place, Protocol, ProtocolStage

    Place.objects.filter(name="Healing chamber").update(capacity=2)
    ProtocolStage.objects.filter(track="union").update(shortest=F("usual"), longest=F("usual"))
    Protocol.objects.update(keeping_nights=1)
    rows = [row(working, n, Plants=80, Pickup=date(2027, 4, 22), Days_later=0) for n in (1, 2)]
    kept = checked(workbook(rows))
    assert outcomes(kept) == ["fits", "full"]
    line = kept.orders[1]["lines"][0]
    assert line["days"]
    assert "does not fit on Thu 22 April" in line["says"]
    assert "row 2 of the list" not in line["says"]  # the nearest days are enough here
    left = taken(checked(workbook(rows)))
    assert outcomes(left) == ["promised", "left"]
    assert Order.objects.count() == 1
    keeping = checked(workbook([row(working, n, Plants=80, Pickup=date(2027, 4, 22), Days_later=0) for n in (3,)]))
    assert outcomes(keeping) == ["full"]
    assert outcomes(taken(keeping, others="keep")) == ["kept"]
    assert OrderLine.objects.get(order__customer__name="Farm 3").state == states.ASKED


def test_a_second_confirmation_makes_no_order_twice(working):
    kept = checked(workbook([row(working, n) for n in (1, 2)]))
    for _ in range(2):
        list_taking.confirm(kept, by=None)
    jobs.drain()
    list_taking.take_now({"list": kept.pk})
    assert Order.objects.count() == 2


def test_a_job_that_died_goes_on_where_it_stopped(working):
    """The orders are stored, and the worker died before it could say so in the list."""
    kept = checked(workbook([row(working, n) for n in (1, 2)]))
    list_taking.confirm(kept, by=None)
    list_taking.take_now({"list": kept.pk})
    OrderList.objects.filter(pk=kept.pk).update(orders=kept.orders, state="taking")
    list_taking.take_now({"list": kept.pk})
    kept.refresh_from_db()
    assert (kept.state, outcomes(kept)) == ("taken", ["promised"] * 2)
    codes = list(Order.objects.order_by("id").values_list("code", flat=True))
    assert [order["order"] for order in kept.orders] == codes
    assert Order.objects.count() == 2


class Killed(BaseException):
    """What nothing in the service catches."""


@pytest.fixture
def half_taken(working, monkeypatch):
    """A list of two that fill the chamber together, and the job died between the one and the other."""
    ProtocolStage.objects.filter(track="union").update(shortest=F("usual"), longest=F("usual"))
    Protocol.objects.update(keeping_nights=1)
    Place.objects.filter(name="Healing chamber").update(capacity=2)
    rows = [row(working, n, Plants=40, Pickup=date(2027, 4, 22), Days_later=0) for n in (1, 2)]
    kept = checked(workbook(rows))
    assert outcomes(kept) == ["fits", "fits"]
    promised = list_taking.Taker._promised

    def die_after_the_first(self, draft, key):
        if Order.objects.exists():
            raise Killed
        return promised(self, draft, key)

    monkeypatch.setattr(list_taking.Taker, "_promised", die_after_the_first)
    list_taking.confirm(kept, by=None)
    with pytest.raises(Killed):
        list_taking.take_now({"list": kept.pk})
    monkeypatch.setattr(list_taking.Taker, "_promised", promised)
    assert Order.objects.count() == 1
    return kept


def test_what_was_taken_before_a_job_died_takes_no_room_twice(working, half_taken):
    """What is left has the room that the check found for it, beside the order that has its own by now."""
    list_taking.take_now({"list": half_taken.pk})
    half_taken.refresh_from_db()
    assert outcomes(half_taken) == ["promised", "promised"]


def test_a_list_given_up_is_not_being_taken_for_ever_and_goes_on_when_asked(working, half_taken, client):
    Job.objects.filter(kind="take_order_list").update(attempts=len(jobs.WAITS) + 1)
    jobs.drain()
    half_taken.refresh_from_db()
    assert (half_taken.state, outcomes(half_taken)) == ("checked", ["promised", "fits"])
    client.force_login(working.grower)
    page = client.get(reverse("taken_list", args=[half_taken.pk])).content.decode()
    assert "The service stopped each time while doing this." in page
    assert "Promise the order that fits" in page
    list_taking.confirm(half_taken, by=None)
    jobs.drain()
    half_taken.refresh_from_db()
    assert (half_taken.state, outcomes(half_taken)) == ("taken", ["promised", "promised"])
    assert Order.objects.count() == 2


def test_a_list_whose_check_killed_every_worker_has_failed(working):
    kept = order_lists.start(name="list.xlsx", content=workbook([row(working)]), by=None)
    Job.objects.filter(kind="check_order_list").update(attempts=len(jobs.WAITS) + 1)
    jobs.drain()
    kept.refresh_from_db()
    assert (kept.state, kept.trouble) == ("failed", "The service stopped each time while doing this.")


def test_a_list_that_the_command_no_longer_takes_is_taken_by_the_service(working, monkeypatch):
    kept = checked(workbook([row(working)]))

    def killed(_kept):
        raise Killed

    with monkeypatch.context() as patch:
        patch.setattr(list_taking, "_take", killed)
        with pytest.raises(Killed):
            list_taking.take_at_once(kept, by=None)
    assert jobs.drain() == 0, "not while the command may be at it"
    Job.objects.update(run_after=F("run_after") - jobs.LEASE)
    jobs.drain()
    kept.refresh_from_db()
    assert (kept.state, outcomes(kept)) == ("taken", ["promised"])


def test_two_workers_at_one_list_make_each_order_once(working):
    """The second looked for the order before the first had made it, and waits for the lock of the plan."""
    kept = checked(workbook([row(working, 1)]))
    drafts = order_lists.drafts_of(kept, nursery=working.nursery, today=TODAY)
    said = answering.what_if(drafts[0].lines, today=TODAY)
    taken(kept)
    late = list_taking.Taker(kept, TODAY, working.nursery)
    order = late._committed(drafts[0], said, Order.objects.get().submit_key)
    assert (order, OrderLine.objects.count(), Batch.objects.count()) == (Order.objects.get(), 1, 1)


def test_a_list_that_takes_longer_than_one_job_is_taken_by_several(working, monkeypatch):
    kept = checked(workbook([row(working, n) for n in (1, 2, 3)]))
    asked = iter(range(100))
    monkeypatch.setattr(list_taking, "watched", lambda _kept, _of: lambda _done: next(asked) % 2 == 0)
    taken(kept)
    assert outcomes(kept) == ["promised"] * 3
    assert OrderLine.objects.filter(state=states.CONFIRMED).count() == 3


def test_a_name_not_quite_written_is_answered_with_the_one_that_is_near(working):
    [fault] = checked(workbook([row(working, 1, Scion="Talis Red")])).faults
    assert (fault["column"], fault["mend"].startswith("Did you mean Tallis Red? Correct")) == ("scion", True)


def test_what_changed_since_it_was_checked_is_left_out_and_said(working):
    kept = checked(workbook([row(working, 1)]))
    working.scion.active = False
    working.scion.save()
    taken(kept)
    assert outcomes(kept) == ["left"]
    assert "is not known" in kept.orders[0]["lines"][0]["says"]


def test_an_order_is_judged_beside_what_was_promised_after_the_check(working):
    from production.models import Place

    kept = checked(workbook([row(working, 1, Plants=200)]))
    assert outcomes(kept) == ["fits"]
    Place.objects.filter(name="Long bench").update(capacity=1)
    taken(kept)
    assert outcomes(kept) == ["left"]
    assert Order.objects.count() == 0


def test_a_known_customer_keeps_their_address_and_is_found_in_any_spelling(working):
    CustomerFactory(name="Farm 1", email="known@example.org")
    taken(checked(workbook([row(working, 1, Customer="FARM 1")])))
    assert Customer.objects.get().email == "known@example.org"


def test_who_has_no_address_is_told_before_the_list_is_taken(working):
    CustomerFactory(name="Farm 1", email="")
    CustomerFactory(name="Farm 2", email="known@example.org")
    rows = [row(working, 1), row(working, 2, Email=""), row(working, 3, Email=""), row(working, 4)]
    assert Found.of(checked(workbook(rows))).to_call == 2


def test_the_same_answers_as_the_desk_gives(working):
    line = working.line(quantity=60, pickup_asked=date(2027, 4, 21), later=2)
    said = answering.what_if([line], today=TODAY)[0]
    kept = checked(workbook([row(working, 1)]))
    assert kept.orders[0]["lines"][0]["pickup"] == said.plan.pickup.isoformat()


@pytest.mark.parametrize(
    ("pickup", "price"),
    [("21/04/2027", "2.75"), ("21.4.2027", "2,75"), ("2027-04-21", "€ 2.75"), ("21 April 2027", "EUR 2,75"),
     ("Wed 21 Apr 2027", "2,7500"), ("21-04-27", "2.75")],
)  # fmt: skip
def test_days_and_prices_as_people_write_them(working, pickup, price):
    heads = (*HEADS, "Price each")
    content = csv_text([[*row(working, 1, Pickup=pickup, Plants="60"), price]], heads).encode()
    kept = checked(content)
    assert kept.faults == []
    taken(kept)
    line = OrderLine.objects.get()
    assert (line.pickup_asked, str(line.unit_price), line.quantity) == (date(2027, 4, 21), "2.7500", 60)


def test_headings_that_say_nothing_are_all_told_with_what_was_meant(working):
    heads = ("Customer", "Skion", "Rootstock", "Pot or tray", "Plants", "Plants", "Colour of the van")
    with pytest.raises(ManyRefused) as refused:
        order_lists.keep(name="x", content=csv_text([], heads).encode(), by=None)
    said = [(each.field, str(each)) for each in refused.value.refusals]
    assert [field for field, _ in said] == ["B1", "F1", "G1", "row 1"]
    assert "Scion" in said[0][1]
    assert "Scion, Pickup" in said[3][1]


def test_old_lists_go_and_a_list_being_taken_stays(working):
    first = order_lists.keep(name="first", content=workbook([row(working, 1)]), by=None)
    OrderList.objects.filter(pk=first.pk).update(state="taking")
    second = order_lists.keep(name="second", content=workbook([row(working, 1)]), by=None)
    for _ in range(order_lists.KEPT):
        order_lists.keep(name="more", content=workbook([row(working, 1)]), by=None)
    kept = set(OrderList.objects.values_list("pk", flat=True))
    assert first.pk in kept
    assert second.pk not in kept


def test_pickups_beyond_two_years_and_of_yesterday_are_faults(working):
    rows = [row(working, n, Pickup=TODAY + timedelta(days=days)) for n, days in ((1, -1), (2, 900))]
    assert [fault["column"] for fault in checked(workbook(rows)).faults] == ["pickup_asked"] * 2


def test_a_list_that_cannot_be_checked_says_so_and_stores_nothing(working, client):
    """Its columns were understood when it came, and are no more: the service was changed in between."""
    kept = order_lists.start(name="list", content=workbook([row(working, 1)]), by=None)
    OrderList.objects.filter(pk=kept.pk).update(head=["Nothing known"])
    jobs.drain()
    kept.refresh_from_db()
    assert (kept.state, Order.objects.count()) == ("failed", 0)
    assert Job.objects.get(kind="check_order_list").state == Job.State.FAILED  # and is not tried again by itself
    client.force_login(working.grower, backend="django.contrib.auth.backends.ModelBackend")
    page = client.get(f"/desk/list/{kept.pk}/").content.decode()
    assert "There is no column “Nothing known”" in page
    assert "could not be checked" in page


def test_of_much_that_is_in_the_way_the_first_is_told(working):
    kept = checked(workbook([row(working, 1, Plants=9000)]))
    assert outcomes(kept) == ["full"]
    assert "more places" in kept.orders[0]["lines"][0]["says"]
    assert kept.orders[0]["lines"][0]["says"].count(" wanted, ") == order_lists.MOST_CAUSES


def test_every_kind_of_line_and_our_own_crop(working):
    kinds = ("Kind", "Room in", "Nights", "Our own crop", "Method", "Leaders")
    heads = (*HEADS, *kinds, "Scion seed", "Scion seed by")
    plain = row(working, 1, Rootstock="", Pot_or_tray=working.tray.name)
    room = row(working, 2, Scion="", Rootstock="", Plants=3, Pot_or_tray=working.tray.name)
    own = row(working, 3, Customer="", Email="")
    rows = [
        [*plain, "not grafted", "", "", "", "", "", "", ""],
        [*room, "Room only", "Bench", 14, "no", "", "", "", ""],
        [*own, "", "", "", "x", "Side graft", "two topped", "customers", date(2027, 1, 20)],
    ]
    kept = checked(workbook(rows, heads))
    assert kept.faults == []
    taken(kept, others="keep")
    plain_line, room_line, own_line = OrderLine.objects.order_by("order_id")
    assert (plain_line.kind, plain_line.method, plain_line.rootstock) == ("plain", "plain", None)
    assert (room_line.room_place_kind, room_line.room_nights, room_line.quantity) == ("bench", 14, 3)
    assert (own_line.method, own_line.leaders, own_line.order.own_crop) == ("side", "two_topped", True)
    assert (own_line.scion_seed, own_line.scion_seed_expected) == ("customers", date(2027, 1, 20))


def test_what_contradicts_itself_is_a_fault(working):
    heads = (*HEADS, "Our own crop", "Leaders", "Days to collect", "Kind")
    rows = [
        [*row(working, 1), "yes", "", "", ""],
        [*row(working, 2), "perhaps", "", "", ""],
        [*row(working, 3), "", "2", "", ""],
        [*row(working, 4), "", "", "31", ""],
        [*row(working, 5), "", "", "", "room"],
        [*row(working, 6, Email="one@example.org"), "", "", "", ""],
        [*row(working, 6, Email="two@example.org"), "", "", "", ""],
        [*row(working, 7, Customer="x" * 130), "", "", "", ""],
    ]
    kept = checked(workbook(rows, heads))
    assert [(fault["row"], fault["column"]) for fault in kept.faults] == [
        (2, "own_crop"), (3, "own_crop"), (4, "leaders"), (5, "collection_days"), (6, "room_place_kind"),
        (6, "room_nights"), (8, "email"), (9, "customer"),
    ]  # fmt: skip
    assert set(outcomes(kept)) == {"faulty"}


def test_the_queries_of_its_page_do_not_grow_with_the_list(working, client):
    def queries(rows: int) -> int:
        kept = checked(workbook([row(working, n, Plants=5 if n % 2 else "x") for n in range(rows)]))
        with CaptureQueriesContext(connection) as caught:
            assert client.get(f"/desk/list/{kept.pk}/").status_code == 200
        return len(caught)

    client.force_login(working.grower, backend="django.contrib.auth.backends.ModelBackend")
    queries(2)
    assert queries(2) == queries(12)
