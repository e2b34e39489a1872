"""Credit notes: an invoice is corrected by another paper, whose sums never differ from it by a cent."""

from decimal import Decimal as D
from uuid import uuid4

import pytest

from invoicing import queries, services
from invoicing.models import Invoice
from invoicing.queries import InvoiceState, MoneyState
from orders.models import Job
from orders.refusals import ManyRefused, Refused
from tests.factories import NurseryFactory

from .billing import TODAY, billed, deposit, pay, taken

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("nursery")]


def credit(invoice, quantities=None, *, reason="Wrong price", today=TODAY, **more):
    return services.credit(
        invoice=invoice, quantities=quantities, reason=reason, by=more.pop("by", None), today=today, **more
    )


def state_of(invoice):
    return queries.invoice_state(queries.paper(invoice.number), TODAY)


def test_a_whole_invoice_is_taken_back(clerk):
    invoice = billed((100, "1.00"), (397, "0.21"))
    note = credit(invoice, by=clerk)
    assert (note.number, note.corrects, note.kind) == ("C2027-0001", invoice, "credit_note")
    assert (note.net, note.tax, note.total) == (D("183.37"), D("12.84"), D("196.21"))
    assert [(line.quantity, line.amount) for line in note.lines.all()] == [(100, D("100.00")), (397, D("83.37"))]
    assert queries.paper(invoice.number).balance == 0
    assert state_of(invoice) == InvoiceState.CREDITED
    assert Job.objects.filter(kind="invoice_paper").count() == 2


def test_part_of_a_line_is_taken_back():
    # By hand: 10 × 2.75 = 27.50, 7 % = 1.925 → 1.93; 100 × 2.75 × 1.07 = 294.25 less 29.43 = 264.82.
    invoice = billed((100, "2.75"))
    note = credit(invoice, {invoice.lines.get(): 10})
    assert (note.net, note.tax, note.total) == (D("27.50"), D("1.93"), D("29.43"))
    assert queries.paper(invoice.number).balance == D("264.82")


@pytest.mark.parametrize("tax_included", [False, True])
def test_the_last_part_takes_exactly_what_is_left(tax_included):
    # 3 plants at 0.3350 come to 1.01 (by hand: 1.005 rounds up), but one by one to 0.34 + 0.34 + 0.33.
    NurseryFactory(prices_include_tax=tax_included)
    invoice = billed((3, "0.3350", "13.5"))
    line = invoice.lines.get()
    notes = [credit(invoice, {line: 1}) for _each in range(3)]
    assert [note.lines.get().amount for note in notes] == [D("0.34"), D("0.34"), D("0.33")]
    for field in ("net", "tax", "total"):
        assert sum(getattr(note, field) for note in notes) == getattr(invoice, field)
    assert queries.paper(invoice.number).balance == 0


def test_parts_that_all_round_up_never_exceed_what_was_billed():
    # By hand: 5 × 0.0060 = 0.03, but 0.0060 alone is 0.01: the first three take it all.
    invoice = billed((5, "0.006", "0"))
    line = invoice.lines.get()
    amounts = [credit(invoice, {line: 1}).lines.get().amount for _each in range(5)]
    assert amounts == [D("0.01"), D("0.01"), D("0.01"), D("0"), D("0")]


def test_rates_are_taken_back_apart():
    invoice = billed((60, "3.125", "13.5"), (7, "0.3333", "23"))
    first, _second = invoice.lines.all()
    note = credit(invoice, {first: 60})
    assert [(row.rate, row.net, row.tax) for row in note.tax_rows.all()] == [(D("13.5"), D("187.50"), D("25.31"))]


class TestWhatHappensToThePlants:
    def test_they_are_billed_again_when_the_invoice_was_wrong(self):
        order = taken((100, "2.75"))
        line = order.lines.get()
        credit(services.issue(order=order, by=None, today=TODAY))
        assert queries.money_state(order) == MoneyState.TO_BILL
        again = services.issue(order=order, prices={line: D("2.50")}, by=None, today=TODAY)
        assert (again.number, again.net) == ("2027-0002", D("250.00"))

    def test_they_are_not_when_they_were_given_back(self):
        order = taken((100, "2.75"))
        invoice = services.issue(order=order, by=None, today=TODAY)
        credit(invoice, {invoice.lines.get(): 10}, bill_again=False)
        assert not queries.lines_to_bill()
        assert queries.money_state(order) == MoneyState.BILLED

    def test_an_order_credited_in_whole_has_no_money_state(self):
        order = taken((100, "2.75"))
        credit(services.issue(order=order, by=None, today=TODAY), bill_again=False)
        assert queries.money_state(order) == MoneyState.NOTHING


class TestWhatHappensToTheMoney:
    def test_what_was_paid_goes_to_the_corrected_invoice(self):
        # By hand: 100 × 2 × 1.07 = 214.00, of which 50 deposit and 100 paid; again at 1.50: 160.50, due 10.50.
        order = taken((100, "2"))
        line = order.lines.get()
        deposit(order, "50")
        wrong = services.issue(order=order, by=None, today=TODAY)
        pay(wrong, "100")
        credit(wrong)
        assert queries.paper(wrong.number).balance == 0
        assert queries.order_money(order).deposit_in_hand == D("150.00")
        right = services.issue(order=order, prices={line: D("1.5")}, by=None, today=TODAY)
        assert (right.total, right.deposit, right.due) == (D("160.50"), D("150.00"), D("10.50"))
        assert queries.order_money(order).owed == D("10.50")

    def test_otherwise_it_is_owed_to_the_customer(self):
        invoice = billed((100, "2"))
        pay(invoice, "214")
        credit(invoice, {invoice.lines.get(): 10}, bill_again=False)
        assert state_of(invoice) == InvoiceState.PAID_TOO_MUCH
        assert queries.order_money(invoice.order).to_give_back == D("21.40")
        pay(invoice, "21.40", kind="refund")
        assert state_of(invoice) == InvoiceState.PAID


class TestRefused:
    def test_more_than_is_left(self):
        invoice = billed((100, "2.75"))
        line = invoice.lines.get()
        credit(invoice, {line: 90})
        with pytest.raises(Refused, match="10 can still be credited") as caught:
            credit(invoice, {line: 11})
        assert caught.value.field == "lines.1.quantity"

    def test_less_than_one(self):
        invoice = billed((100, "2.75"))
        with pytest.raises(Refused, match="can still be credited"):
            credit(invoice, {invoice.lines.get(): -1})

    def test_a_line_of_another_invoice(self):
        with pytest.raises(Refused, match="0 can still be credited"):
            credit(billed((1, "1")), {billed((1, "1")).lines.get(): 1})

    def test_nothing_chosen_and_no_reason_are_told_in_words(self):
        invoice = billed((100, "2.75"))
        with pytest.raises(ManyRefused, match="No reason"):
            credit(invoice, reason="  ")
        with pytest.raises(ManyRefused, match="too long"):
            credit(invoice, reason="x" * 301)
        with pytest.raises(Refused, match="Nothing is chosen"):
            credit(invoice, {})

    def test_what_has_been_credited_in_whole(self):
        invoice = billed((100, "2.75"))
        credit(invoice)
        with pytest.raises(Refused, match="All of invoice 2027-0001 has been credited"):
            credit(invoice)

    def test_a_credit_note(self):
        with pytest.raises(Refused, match="is a credit note itself"):
            credit(credit(billed((100, "2.75"))))


def test_a_double_submit_makes_one_credit_note():
    invoice, key = billed((100, "2.75")), uuid4()
    line = invoice.lines.get()
    assert credit(invoice, {line: 10}, key=key) == credit(invoice, {line: 10}, key=key)
    assert Invoice.objects.filter(kind="credit_note").count() == 1
