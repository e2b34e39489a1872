"""Billing what was handed over: sums against EN 16931 and by hand, what is refused, what is kept."""

from datetime import date
from decimal import Decimal as D
from uuid import uuid4

import pytest
from django.db import DatabaseError, transaction

from invoicing import queries, services
from invoicing.models import Invoice, InvoiceLine, NumberSeries, Payment
from orders import signals
from orders.models import HistoryEntry, Job, OrderLine
from orders.refusals import ManyRefused, Refused
from orders.services import mark_collected
from tests.factories import ContainerFactory, LineFactory, NurseryFactory, OrderFactory

from .billing import TODAY, billed, deposit, taken

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("nursery")]


def test_tax_is_reckoned_as_en_16931_reckons_it(clerk):
    # European Commission, EN 16931 validation artefacts (April 2026): BT-117 = BT-116 × rate, 2 decimals.
    # Worked by hand: 100 × 1.00 + 397 × 0.21 = 183.37; × 7 % = 12.8359 → 12.84; 183.37 + 12.84 = 196.21.
    invoice = billed((100, "1.00"), (397, "0.21"), by=clerk)
    assert (invoice.net, invoice.tax, invoice.total, invoice.due) == (
        D("183.37"),
        D("12.84"),
        D("196.21"),
        D("196.21"),
    )


def test_each_rate_has_its_row():
    # By hand: 60 × 3.1250 = 187.50, of which 13.5 % = 25.3125 → 25.31;
    # 7 × 0.3333 = 2.3331 → 2.33, of which 23 % = 0.5359 → 0.54.
    invoice = billed((60, "3.1250", "13.5"), (7, "0.3333", "23"))
    assert [(row.rate, row.net, row.tax) for row in invoice.tax_rows.all()] == [
        (D("13.5"), D("187.50"), D("25.31")),
        (D("23"), D("2.33"), D("0.54")),
    ]
    assert invoice.total == D("215.68")


def test_prices_that_include_tax_have_it_taken_out():
    # By hand: 40 × 2.725 = 109.00 with 9 % in it: 100.00 + 9.00.
    NurseryFactory(prices_include_tax=True)
    invoice = billed((40, "2.725", "9"))
    assert (invoice.net, invoice.tax, invoice.total) == (D("100.00"), D("9.00"), D("109.00"))


def test_room_is_billed_by_tray_and_night():
    # By hand: 2.00 a tray and week for 10 nights = 2.857142… → 2.8571 a tray; 4 trays = 11.4284 → 11.43.
    order = OrderFactory()
    LineFactory(
        order=order, kind=OrderLine.Kind.ROOM, scion=None, rootstock=None, room_place_kind="bench", room_nights=10,
        quantity=4, collected=4, unit_price=D("2"), container=ContainerFactory(name="Tray"),
    )  # fmt: skip
    line = services.issue(order=order, by=None, today=TODAY).lines.get()
    assert (line.unit_price, line.amount, line.unit) == (D("2.8571"), D("11.43"), "trays")
    assert line.text == "Room (bench), Tray, 10 nights"


def test_the_invoice_keeps_its_own_copy(clerk):
    order = taken((60, "2"), customer__name="Weir Farm", customer__tax_number="IE7654321W")
    invoice = services.issue(order=order, by=clerk, today=TODAY)
    NurseryFactory(name="Another name", currency="GBP")
    order.customer.name = "Somebody else"
    order.customer.save()
    kept = Invoice.objects.get()
    assert (kept.seller_name, kept.buyer_name, kept.buyer_tax_number) == (
        "Ashwell Grafting",
        "Weir Farm",
        "IE7654321W",
    )
    assert (kept.number, kept.currency, kept.tax_name, kept.issued_by) == ("2027-0001", "EUR", "VAT", "Nell Osier")
    assert (kept.issued_on, kept.due_on) == (TODAY, date(2027, 5, 6))
    assert invoice.lines.get().text == f"{order.lines.get().what}, splice graft, 72-cell tray"


def test_issuing_writes_history_and_the_job_of_the_paper(clerk):
    invoice = billed((60, "2"), by=clerk)
    assert HistoryEntry.objects.get(subject="order").text == "Invoice 2027-0001 made: €128.40"
    assert Job.objects.get(kind="invoice_paper").payload == {"paper": invoice.pk}


def test_only_what_was_really_taken_is_billed():
    order = OrderFactory()
    short = LineFactory(order=order, quantity=100, collected=60)
    LineFactory(order=order, quantity=50, collected=0, state="cancelled")
    begun = LineFactory(order=order, quantity=50, collected=10, state="cancelled")
    LineFactory(order=order, quantity=50)
    rows = services.issue(order=order, by=None, today=TODAY).lines.all()
    assert [(row.order_line, row.quantity) for row in rows] == [(short, 60), (begun, 10)]


def test_plants_are_billed_once_and_in_parts():
    order = taken((100, "2"))
    line = order.lines.get()
    first = services.issue(order=order, quantities={line: 60}, by=None, today=TODAY)
    second = services.issue(order=order, by=None, today=TODAY)
    assert [first.lines.get().quantity, second.lines.get().quantity] == [60, 40]
    with pytest.raises(Refused, match="nothing is to bill"):
        services.issue(order=order, by=None, today=TODAY)


def test_more_than_was_taken_is_refused_line_by_line():
    order = taken((60, "2"), (40, "2"))
    first, second = order.lines.all()
    with pytest.raises(ManyRefused) as caught:
        services.issue(order=order, quantities={first: 61, second: -1}, by=None, today=TODAY)
    assert [fault.field for fault in caught.value.refusals] == ["lines.1.quantity", "lines.2.quantity"]
    assert "60 were handed over and not billed" in caught.value.refusals[0].reason


def test_none_of_each_line_is_refused():
    order = taken((60, "2"))
    with pytest.raises(Refused, match="No plants are chosen"):
        services.issue(order=order, quantities={order.lines.get(): 0}, by=None, today=TODAY)


def test_a_line_of_another_order_is_refused():
    other = taken((60, "2")).lines.get()
    with pytest.raises(Refused, match="another order"):
        services.issue(order=taken((60, "2")), quantities={other: 1}, by=None, today=TODAY)


def test_a_line_without_a_price_asks_for_one():
    order = taken((60, "0"))
    line = order.lines.get()
    with pytest.raises(Refused, match="has no price") as caught:
        services.issue(order=order, by=None, today=TODAY)
    assert caught.value.field == "lines.1.unit_price"
    invoice = services.issue(order=order, prices={line: D("1.5")}, tax_rates={line: D("9")}, by=None, today=TODAY)
    assert (invoice.net, invoice.tax) == (D("90.00"), D("8.10"))


@pytest.mark.parametrize("price", ["-0.01", "1.00001", "1000000"])
def test_a_price_that_cannot_be_is_refused(price):
    order = taken((60, "2"))
    with pytest.raises(Refused, match="below zero, too large, or finer"):
        services.issue(order=order, prices={order.lines.get(): D(price)}, by=None, today=TODAY)


@pytest.mark.parametrize("rate", ["-1", "100.5", "7.123"])
def test_a_tax_rate_that_cannot_be_is_refused(rate):
    order = taken((60, "2"))
    with pytest.raises(Refused, match="not a percentage"):
        services.issue(order=order, tax_rates={order.lines.get(): D(rate)}, by=None, today=TODAY)


def test_our_own_crop_is_never_billed():
    order = OrderFactory(customer=None, own_crop=True)
    LineFactory(order=order, collected=60)
    assert not queries.lines_to_bill()
    with pytest.raises(Refused, match="our own crop"):
        services.issue(order=order, by=None, today=TODAY)


def test_a_nursery_without_a_name_issues_nothing():
    NurseryFactory(name="")
    with pytest.raises(Refused, match="no name yet"):
        billed((60, "2"))


def test_handing_over_makes_it_ready_to_bill_with_its_day():
    line = LineFactory(quantity=100, collected=0, ready_quantity=90, unit_price=D("2"), tax_rate=D("7"))
    for quantity, day, short in [(20, date(2027, 4, 19), False), (60, date(2027, 4, 21), True)]:
        mark_collected(line=line, quantity=quantity, on=day, by=None, close=short, why="Ten were not wanted")
    assert queries.money_state(line.order) == queries.MoneyState.TO_BILL
    invoice = services.issue(order=line.order, by=None, today=TODAY)
    assert (invoice.supplied_on, invoice.lines.get().quantity) == (date(2027, 4, 21), 80)
    assert queries.money_state(line.order) == queries.MoneyState.BILLED


def test_the_supply_date_may_be_given_but_not_lie_ahead():
    order = taken((60, "2"))
    with pytest.raises(Refused, match="lies in the future"):
        services.issue(order=order, supplied_on=date(2027, 4, 23), by=None, today=TODAY)
    given = services.issue(order=order, supplied_on=date(2027, 4, 20), by=None, today=TODAY)
    assert given.supplied_on == date(2027, 4, 20)


def test_a_double_submit_makes_one_invoice():
    order, key = taken((100, "2")), uuid4()
    once = {"order": order, "quantities": {order.lines.get(): 30}, "by": None, "today": TODAY, "key": key}
    assert services.issue(**once) == services.issue(**once)
    assert Invoice.objects.count() == 1


class TestDeposits:
    def test_what_is_in_hand_is_counted_up_to_the_total(self):
        order = taken((100, "2"))  # 214.00 with tax
        deposit(order, "150")
        first = services.issue(order=order, quantities={order.lines.get(): 40}, by=None, today=TODAY)
        second = services.issue(order=order, by=None, today=TODAY)
        # By hand: 40 plants 85.60, all from the deposit; 60 plants 128.40, less the 64.40 that are left of it.
        assert [(one.total, one.deposit, one.due) for one in (first, second)] == [
            (D("85.60"), D("85.60"), D("0.00")),
            (D("128.40"), D("64.40"), D("64.00")),
        ]

    def test_without_one_nothing_is_taken_off(self):
        assert billed((60, "2")).deposit == 0


class TestKept:
    def test_an_issued_row_refuses_to_be_saved_or_deleted(self):
        invoice = billed((60, "2"))
        row = invoice.lines.get()
        for kept in (invoice, row, invoice.tax_rows.get()):
            with pytest.raises(TypeError):
                kept.save()
            with pytest.raises(TypeError):
                kept.delete()
        with pytest.raises(TypeError):
            Invoice.objects.update(total=0)
        with pytest.raises(TypeError):
            InvoiceLine.objects.all().delete()

    @pytest.mark.parametrize("table", ["invoice", "invoiceline", "invoicetax", "payment", "collection"])
    def test_the_database_itself_refuses_a_change(self, table):
        from django.db import connection

        invoice = billed((60, "2"))
        Payment.objects.create(invoice=invoice, amount=D("1"), on=TODAY)
        signals.line_collected.send(
            sender=OrderLine, line=invoice.order.lines.get(), quantity=1, by=None, on=TODAY
        )
        with connection.cursor() as cursor:
            cursor.execute(f"SELECT count(*) FROM invoicing_{table}")
            assert cursor.fetchone()[0]
            with pytest.raises(DatabaseError, match="never changed"), transaction.atomic():
                cursor.execute(f"UPDATE invoicing_{table} SET id = id")

    def test_constraints_hold_where_rows_are_written_past_the_services(self):
        invoice = billed((60, "2"))
        copy = {
            field.attname: getattr(invoice, field.attname)
            for field in Invoice._meta.concrete_fields
            if field.attname not in ("id", "submit_key")
        } | {"number": "X"}
        for wrong in (
            {"total": D("1")},
            {"deposit": invoice.total + 1},
            {"kind": "credit_note"},
            {"number": invoice.number},
        ):
            with pytest.raises(DatabaseError), transaction.atomic():
                Invoice.objects.create(**copy | wrong)
        with pytest.raises(DatabaseError), transaction.atomic():
            Payment.objects.create(invoice=invoice, order=invoice.order, amount=D("1"), on=TODAY)
        with pytest.raises(DatabaseError), transaction.atomic():
            Payment.objects.create(invoice=invoice, amount=D("0"), on=TODAY)
        assert not NumberSeries.objects.filter(next_number=3)
