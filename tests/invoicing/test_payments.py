"""Payments in parts, deposits, refunds and mistakes; and what an order then says of its money."""

from datetime import date, timedelta
from decimal import Decimal as D
from uuid import uuid4

import pytest
from django.urls import reverse

from invoicing import queries, services
from invoicing.models import Payment
from invoicing.queries import InvoiceState, MoneyState
from orders.models import HistoryEntry, Nursery
from orders.refusals import ManyRefused, Refused
from tests.factories import LineFactory, OrderFactory, UserFactory

from .billing import TODAY, billed, deposit, pay, taken

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("nursery")]


def balance(invoice):
    return queries.paper(invoice.number).balance


def take_back(payment, reason="Typed twice", **more):
    return services.take_back_payment(payment=payment, reason=reason, by=None, today=TODAY, **more)


class TestInParts:
    def test_three_parts_pay_an_invoice(self):
        # By hand: 183.37 + 12.84 = 196.21 = 100.10 + 96.10 + 0.01; sums of tenths are where binary fractions fail.
        invoice = billed((100, "1.00"), (397, "0.21"))
        states = []
        for part in ("100.10", "96.10", "0.01"):
            states.append(queries.money_state(invoice.order))
            pay(invoice, part)
        assert states == [MoneyState.BILLED, MoneyState.PAID_IN_PART, MoneyState.PAID_IN_PART]
        assert balance(invoice) == 0
        assert queries.money_state(invoice.order) == MoneyState.PAID
        assert not queries.owed()

    def test_more_than_is_due_is_refused_and_says_what_is(self):
        invoice = billed((100, "2"))
        pay(invoice, "200")
        with pytest.raises(Refused, match=r"Only €14\.00 is still due for invoice 2027-0001") as caught:
            pay(invoice, "14.01")
        assert (caught.value.field, caught.value.mend) == ("amount", "Write €14.00 at the most.")

    def test_more_than_is_due_is_taken_when_it_is_meant(self):
        invoice = billed((100, "2"))
        pay(invoice, "300", over=True)
        assert balance(invoice) == D("-86.00")
        assert queries.order_money(invoice.order).to_give_back == D("86.00")

    @pytest.mark.parametrize("amount", ["0", "-5", "NaN", "0.001", "99999999999"])
    def test_an_amount_that_cannot_be_is_refused(self, amount):
        with pytest.raises(Refused) as caught:
            pay(billed((100, "2")), amount)
        assert caught.value.field == "amount"

    def test_all_faults_are_told_at_once(self):
        with pytest.raises(ManyRefused) as caught:
            services.record_payment(
                invoice=billed((100, "2")), amount=D(0), on=TODAY + timedelta(days=1), how="shells", kind="gift",
                note="x" * 201, by=None, today=TODAY,
            )  # fmt: skip
        assert [fault.field for fault in caught.value.refusals] == ["amount", "on", "kind", "how", "note"]

    def test_it_is_for_one_invoice_or_one_order(self):
        invoice = billed((100, "2"))
        for target in ({}, {"invoice": invoice, "order": invoice.order}):
            with pytest.raises(Refused, match="one invoice or for one order"):
                services.record_payment(amount=D(1), on=TODAY, by=None, today=TODAY, **target)

    def test_a_credit_note_is_not_paid(self):
        invoice = billed((100, "2"))
        note = services.credit(invoice=invoice, reason="Wrong", by=None, today=TODAY)
        with pytest.raises(Refused, match="is a credit note"):
            pay(note, "1")

    def test_it_stands_in_the_history_of_the_order(self, clerk):
        invoice = billed((100, "2"))
        pay(invoice, "14", by=clerk)
        entry = HistoryEntry.objects.filter(subject="order").first()
        assert (entry.text, entry.by) == (
            "€14.00 received on Thu 22 April 2027 for invoice 2027-0001",
            "Nell Osier",
        )


class TestTwice:
    def test_a_double_submit_makes_one_payment(self):
        invoice, key = billed((100, "2")), uuid4()
        assert pay(invoice, "50", key=key) == pay(invoice, "50", key=key)
        assert balance(invoice) == D("164.00")

    def test_the_same_form_with_another_amount_is_refused(self):
        invoice, key = billed((100, "2")), uuid4()
        pay(invoice, "50", key=key)
        with pytest.raises(Refused, match="was sent before"):
            pay(invoice, "60", key=key)

    def test_the_same_form_for_another_invoice_is_refused(self):
        key = uuid4()
        pay(billed((100, "2")), "50", key=key)
        with pytest.raises(Refused, match="was sent before"):
            pay(billed((100, "2")), "50", key=key)


class TestDeposits:
    def test_the_share_asked_is_of_the_whole_order_with_tax(self):
        # By hand: 100 × 2.75 × 1.07 = 294.25, of which 30 % = 88.275 → 88.28.
        order = OrderFactory(deposit_percent=D(30))
        LineFactory(
            order=order, quantity=100, unit_price=D("2.75"), tax_rate=D(7), state="confirmed", pickup=TODAY
        )
        assert [(one.order, one.amount) for one in queries.deposits_to_come()] == [(order, D("88.28"))]
        deposit(order, "80")
        assert [one.amount for one in queries.deposits_to_come()] == [D("8.28")]
        money = queries.order_money(order)
        assert (money.deposit_asked, money.deposit_received, money.state) == (D("88.28"), D("80.00"), "")

    @pytest.mark.parametrize(("state", "to_ask"), [("held", True), ("confirmed", False)])
    def test_nothing_is_asked_before_the_confirmation(self, client, state, to_ask):
        order = OrderFactory(deposit_percent=D(30))
        line = LineFactory(order=order, quantity=100, unit_price=D("2"), tax_rate=D(0), pickup=TODAY)
        type(line).objects.filter(pk=line.pk).update(state=state, hold_until=TODAY if to_ask else None)
        assert queries.order_money(order).deposit_to_ask == to_ask
        client.force_login(UserFactory(role="office"))
        page = client.get(reverse("order_money_panel", args=[order.code])).content.decode()
        assert ("A deposit of €60.00 will be asked with the confirmation." in page) == to_ask
        assert ("€60.00 asked" in page) == (not to_ask)

    def test_no_more_is_taken_than_the_order_comes_to(self):
        order = OrderFactory()
        LineFactory(order=order, quantity=100, unit_price=D("2"), tax_rate=D(7))
        deposit(order, "200")
        with pytest.raises(Refused, match=r"Only €14\.00 is still due for order"):
            deposit(order, "20")

    def test_when_all_is_billed_it_belongs_to_the_invoice(self):
        order = billed((100, "2")).order
        with pytest.raises(Refused, match="Nothing more is to be billed") as caught:
            deposit(order, "20")
        assert caught.value.mend == "Record it for the invoice that it pays."

    def test_what_a_short_order_did_not_need_is_given_back(self):
        # Of 100 ordered at 2.00, 40 were taken: 85.60 with tax; of the deposit of 100, 14.40 are left.
        order = OrderFactory(deposit_percent=D(50))
        LineFactory(order=order, quantity=100, collected=40, unit_price=D("2"), tax_rate=D(7))
        deposit(order, "100", over=True)
        assert not queries.deposits_left_over()
        services.issue(order=order, by=None, today=TODAY)
        assert [one.amount for one in queries.deposits_left_over()] == [D("14.40")]
        money = queries.order_money(order)
        assert (money.state, money.to_give_back, money.owed) == (MoneyState.PAID, D("14.40"), D("0"))
        with pytest.raises(Refused, match=r"Only €14\.40 was paid too much"):
            deposit(order, "14.41", kind="refund")
        deposit(order, "14.40", kind="refund")
        assert not queries.deposits_left_over()

    def test_of_a_cancelled_order_all_is_left(self):
        order = OrderFactory()
        line = LineFactory(order=order, quantity=100, unit_price=D("2"))
        deposit(order, "60")
        line.state = "cancelled"
        line.save()
        assert [(one.order, one.amount) for one in queries.deposits_left_over()] == [(order, D("60.00"))]

    def test_our_own_crop_takes_none(self):
        with pytest.raises(Refused, match="our own crop"):
            deposit(OrderFactory(customer=None, own_crop=True), "20")


class TestMistakes:
    def test_a_payment_is_taken_back_and_both_rows_stay(self):
        invoice = billed((100, "2"))
        take_back(pay(invoice, "50"))
        assert balance(invoice) == D("214.00")
        assert Payment.objects.count() == 2
        assert queries.money_state(invoice.order) == MoneyState.BILLED

    def test_a_refund_is_taken_back_too(self):
        invoice = billed((100, "2"))
        pay(invoice, "300", over=True)
        row = take_back(pay(invoice, "86", kind="refund"))
        assert row.signed == D("86")
        assert balance(invoice) == D("-86.00")

    def test_only_once_and_with_a_reason(self):
        payment = pay(billed((100, "2")), "50")
        with pytest.raises(Refused, match="No reason"):
            take_back(payment, " ")
        row = take_back(payment)
        with pytest.raises(Refused, match="taken back already"):
            take_back(payment)
        with pytest.raises(Refused, match="not entered by hand"):
            take_back(row)

    def test_a_double_submit_takes_back_once(self):
        payment, key = pay(billed((100, "2")), "50"), uuid4()
        assert take_back(payment, key=key) == take_back(payment, key=key)

    def test_a_deposit_that_an_invoice_counts_stays_until_it_is_credited(self):
        order = taken((100, "2"))
        payment = deposit(order, "50")
        invoice = services.issue(order=order, by=None, today=TODAY)
        with pytest.raises(Refused, match="has gone on since"):
            take_back(payment)
        services.credit(invoice=invoice, reason="No deposit came in", by=None, today=TODAY)
        take_back(payment)
        assert services.issue(order=order, by=None, today=TODAY).due == D("214.00")


class TestWhoOwes:
    def test_what_is_overdue_comes_first(self):
        late = billed((1, "2"), today=date(2027, 3, 1))
        now = billed((1, "2"))
        paid = billed((1, "2"), today=date(2027, 2, 1))
        pay(paid, "2.14")
        assert list(queries.owed()) == [late, now]
        assert list(queries.overdue(TODAY)) == [late]
        assert [queries.invoice_state(one, TODAY) for one in queries.owed()] == [
            InvoiceState.OVERDUE,
            InvoiceState.BILLED,
        ]

    def test_what_is_owed_is_added_up_by_currency(self):
        pay(billed((1, "2"), today=date(2027, 3, 1)), "1.04")
        billed((1, "2"))
        pay(billed((1, "2")), "2.14")
        Nursery.objects.filter(pk=1).update(currency="GBP")
        billed((1, "5"))
        in_all = queries.owed_in_all(TODAY)
        assert (in_all.number, in_all.words) == (3, "€3.24 and £5.35")
        assert (in_all.overdue, in_all.overdue_words) == (1, "€1.10")

    def test_an_invoice_is_not_overdue_on_its_last_day(self):
        invoice = billed((1, "2"))
        assert invoice.due_on == TODAY + timedelta(days=14)
        assert not queries.overdue(invoice.due_on)
        assert queries.overdue(invoice.due_on + timedelta(days=1))

    def test_papers_are_found_by_number_customer_and_order(self):
        invoice = billed((1, "2"), customer__name="Weir Farm")
        billed((1, "2"))
        for words in ("2027-0001", "weir", f"weir {invoice.order.code}"):
            assert list(queries.find_papers(words)) == [invoice]

    def test_what_waits_longest_is_billed_first(self):
        from orders import signals
        from orders.models import OrderLine

        waits, newer, priceless = taken((30, "2")), taken((60, "2")), taken((1, "0"))
        for order, days in ((newer, [(60, 21)]), (waits, [(10, 12), (20, 20)])):
            for quantity, day in days:
                line = order.lines.get()
                when = date(2027, 4, day)
                signals.line_collected.send(sender=OrderLine, line=line, quantity=quantity, by=None, on=when)
        services.issue(order=waits, quantities={waits.lines.get(): 10}, by=None, today=TODAY)
        assert [(one.order, one.since, one.gross, one.unpriced) for one in queries.to_bill()] == [
            (waits, date(2027, 4, 20), D("42.80"), False),
            (newer, date(2027, 4, 21), D("128.40"), False),
            (priceless, None, D("0.00"), True),
        ]

    def test_of_a_long_list_only_what_is_looked_at_is_read_whole(self, django_assert_num_queries):
        orders = [taken((quantity, "2")) for quantity in (1, 2, 3)]
        with django_assert_num_queries(3):  # the lines in short, their hand-overs, the nursery
            waiting = queries.to_bill()
        assert [one.gross for one in waiting.rows] == [D("2.14"), D("4.28"), D("6.42")]
        with django_assert_num_queries(1):
            assert [one.order for one in waiting[1:2]] == [orders[1]]
        assert waiting[2].order == orders[2]
