"""The pages of money: what they answer, what they do, who may open them."""

import re
from datetime import timedelta
from decimal import Decimal as D

import pytest
from django.urls import reverse

from invoicing import queries, services
from invoicing.models import Invoice, Payment
from orders.models import Job, Letter
from tests.factories import LineFactory, NurseryFactory, OrderFactory

from .billing import TODAY, billed, deposit, pay, taken

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("nursery", "on_that_day")]


@pytest.fixture
def office(client, clerk):
    client.force_login(clerk, backend="django.contrib.auth.backends.ModelBackend")
    return client


def begin(client, name, *args):
    """The form of a page as the browser would send it back untouched."""
    page = client.get(reverse(name, args=args))
    assert page.status_code == 200
    form = page.context["form"]
    sent = {bound.html_name: bound.value() for bound in form if bound.value() not in (None, "", False)}
    return reverse(name, args=args), sent


def said(response) -> str:
    return re.sub(r"\s+", " ", response.content.decode())


class TestBilling:
    def test_an_order_is_billed_from_its_page(self, office):
        order = taken((60, "2.75"))
        url, sent = begin(office, "order_bill", order.code)
        response = office.post(url, sent, follow=True)
        invoice = Invoice.objects.get()
        assert response.redirect_chain == [(reverse("invoice", args=[invoice.number]), 302)]
        assert (invoice.total, invoice.issued_by) == (D("176.55"), "Nell Osier")
        assert f"Invoice {invoice.number} is made." in said(response)

    def test_part_at_another_price_and_rate(self, office):
        order = taken((60, "2.75"), (40, "1"))
        url, sent = begin(office, "order_bill", order.code)
        sent |= {
            "lines.1.quantity": "20",
            "lines.1.unit_price": "2.5",
            "lines.1.tax_rate": "9",
            "lines.2.quantity": "0",
        }
        office.post(url, sent)
        line = Invoice.objects.get().lines.get()
        assert (line.quantity, line.unit_price, line.tax_rate) == (20, D("2.5"), D("9"))

    def test_the_sum_follows_what_is_typed_and_makes_nothing(self, office):
        order = taken((60, "2.75"))
        deposit(order, "50", today=TODAY)
        url, sent = begin(office, "order_bill", order.code)
        part = office.post(url, sent | {"lines.1.quantity": "20"}, headers={"HX-Request": "true"})
        # By hand: 20 × 2.75 = 55.00, 7 % = 3.85, less 50 deposit.
        assert "€8.85 will be to pay." in said(part)
        assert "<html" not in said(part)
        assert "€8.85 will be to pay." in said(
            office.post(url, sent | {"lines.1.quantity": "20", "action": "sum"})
        )
        assert not Invoice.objects.exists()

    def test_what_is_wrong_is_listed_first_and_beside_its_field(self, office):
        order = taken((60, "0"))
        url, sent = begin(office, "order_bill", order.code)
        page = said(office.post(url, sent | {"lines.1.quantity": "61", "lines.1.tax_rate": "200"}))
        assert "3 things need mending" in page
        assert 'href="#id_lines.1.unit_price"' in page
        assert "less than or equal to 60" in page
        assert not Invoice.objects.exists()

    def test_a_refusal_of_the_service_stands_above_the_form(self, office):
        order = taken((60, "2"))
        url, sent = begin(office, "order_bill", order.code)
        page = said(office.post(url, sent | {"lines.1.quantity": "0"}))
        assert "No plants are chosen. Write how many of at least one line." in page
        ahead = {"supplied_on": (TODAY + timedelta(days=1)).isoformat()}
        assert "lies in the future" in said(office.post(url, sent | ahead))

    def test_two_touches_of_the_button_make_one_invoice(self, office):
        order = taken((60, "2"))
        url, sent = begin(office, "order_bill", order.code)
        first, second = (office.post(url, sent | {"lines.1.quantity": "30"}) for _touch in range(2))
        assert first.url == second.url
        assert Invoice.objects.count() == 1

    def test_our_own_crop_has_no_bill(self, office):
        order = OrderFactory(customer=None, own_crop=True)
        LineFactory(order=order, collected=5)
        for name in ("order_bill", "order_deposit", "order_money_panel"):
            assert office.get(reverse(name, args=[order.code])).status_code == 404

    def test_an_order_with_nothing_to_bill_says_so(self, office):
        order = billed((60, "2"), today=TODAY).order
        assert "Nothing is to bill" in said(office.get(reverse("order_bill", args=[order.code])))

    def test_a_customer_without_an_address_is_pointed_out(self, office):
        order = taken((60, "2"), customer__address="")
        assert "ask your tax adviser" in said(office.get(reverse("order_bill", args=[order.code])))


class TestInvoicePage:
    def test_it_answers_what_is_still_to_be_paid(self, office):
        invoice = billed((60, "2"), today=TODAY)
        pay(invoice, "28.40", today=TODAY)
        page = said(office.get(reverse("invoice", args=[invoice.number])))
        assert "€100.00 is still to be paid" in page
        assert "The paper is being made." in page
        assert "Send a reminder" not in page

    def test_one_that_is_overdue_offers_a_reminder_once_a_day(self, office):
        invoice = billed((60, "2"), today=TODAY - timedelta(days=30))
        url = reverse("invoice_remind", args=[invoice.number])
        assert "Send a reminder" in said(office.get(reverse("invoice", args=[invoice.number])))
        assert "A reminder goes to" in said(office.post(url, follow=True))
        assert "was written today" in said(office.post(url, follow=True))
        assert Letter.objects.filter(kind="reminder").count() == 1

    def test_a_paper_that_failed_says_why_and_is_tried_again(self, office):
        invoice = billed((60, "2"), today=TODAY)
        Job.objects.filter(kind="invoice_paper").update(state=Job.State.FAILED, error="Papers are off.")
        page = said(office.get(reverse("invoice", args=[invoice.number])))
        assert "Papers are off." in page
        office.post(reverse("invoice_paper_again", args=[invoice.number]))
        assert Job.objects.get(kind="invoice_paper").state == Job.State.WAITING

    def test_a_number_that_was_never_given_is_not_found(self, office):
        assert office.get(reverse("invoice", args=["2020-9999"])).status_code == 404


class TestCredit:
    def test_part_is_credited_from_its_page(self, office):
        invoice = billed((60, "2"), today=TODAY)
        url, sent = begin(office, "invoice_credit", invoice.number)
        assert "bill_again" not in sent  # the choice is the person's
        assert "Nothing is chosen. Choose one." in said(office.post(url, sent | {"reason": "Broken"}))
        office.post(url, sent | {"lines.1.quantity": "10", "reason": "Broken", "bill_again": "no"})
        note = Invoice.objects.get(kind="credit_note")
        assert (note.total, note.bill_again, note.reason) == (D("21.40"), False, "Broken")
        page = said(office.get(reverse("invoice", args=[note.number])))
        assert "€21.40 is taken back." in page
        assert "The plants are not billed again." in page

    def test_a_credit_note_is_not_credited_paid_or_reminded_of(self, office):
        invoice = billed((60, "2"), today=TODAY)
        note = services.credit(invoice=invoice, reason="Wrong", by=None, today=TODAY)
        for name in ("invoice_credit", "invoice_payment"):
            assert office.get(reverse(name, args=[note.number])).status_code == 404
        assert office.post(reverse("invoice_remind", args=[note.number])).status_code == 404


class TestPayments:
    def test_the_form_begins_with_what_is_due(self, office):
        invoice = billed((60, "2"), today=TODAY)
        url, sent = begin(office, "invoice_payment", invoice.number)
        assert sent["amount"] == D("128.40")
        assert "€128.40 is recorded" in said(office.post(url, sent, follow=True))
        assert queries.paper(invoice.number).balance == 0

    def test_two_touches_of_the_button_make_one_payment(self, office):
        invoice = billed((60, "2"), today=TODAY)
        url, sent = begin(office, "invoice_payment", invoice.number)
        for _touch in range(2):
            assert office.post(url, sent | {"amount": "28.40"}).status_code == 302
        assert Payment.objects.count() == 1

    def test_too_much_says_what_is_due_and_is_taken_if_meant(self, office):
        invoice = billed((60, "2"), today=TODAY)
        url, sent = begin(office, "invoice_payment", invoice.number)
        assert "Only €128.40 is still due" in said(office.post(url, sent | {"amount": "130"}))
        assert office.post(url, sent | {"amount": "130", "over": "on"}).status_code == 302
        url, sent = begin(office, "invoice_payment", invoice.number)
        assert (sent["kind"], sent["amount"]) == ("refund", D("1.60"))
        office.post(url, sent)
        assert queries.paper(invoice.number).balance == 0

    def test_a_deposit_is_recorded_for_an_order(self, office):
        order = OrderFactory(deposit_percent=D(30))
        LineFactory(
            order=order, quantity=100, unit_price=D("2.75"), tax_rate=D(7), state="confirmed", pickup=TODAY
        )
        url, sent = begin(office, "order_deposit", order.code)
        assert sent["amount"] == D("88.28")
        assert "€88.28 is recorded for order" in said(office.post(url, sent, follow=True))
        assert Payment.objects.get().order == order

    def test_a_mistake_is_taken_back(self, office):
        payment = pay(billed((60, "2"), today=TODAY), "50", today=TODAY)
        url, sent = begin(office, "payment_take_back", payment.pk)
        assert "Nothing is written here. Write it." in said(office.post(url, sent))
        assert "The payment is taken back." in said(
            office.post(url, sent | {"reason": "Typed twice"}, follow=True)
        )
        assert "taken back already" in said(office.post(url, sent | {"reason": "Again", "key": payment.key}))


class TestMoneyPage:
    def test_it_answers_what_to_bill_and_what_is_owed(self, office):
        taken((60, "2"))
        billed((60, "2"), today=TODAY - timedelta(days=30))
        billed((30, "2"), today=TODAY)
        page = said(office.get(reverse("money")))
        assert "1 order is to bill, €128.40." in page
        assert "€192.60 is owed to you." in page
        assert "€128.40 of it is overdue." in page
        pay(Invoice.objects.first(), "64.20", today=TODAY)
        assert "€128.40 is owed to you, all of it overdue." in said(office.get(reverse("money")))

    def test_an_empty_one_says_what_belongs_there(self, office):
        page = said(office.get(reverse("money")))
        assert "Nothing is to bill." in page
        assert "Hand some over" in page

    def test_it_takes_the_same_queries_however_much_there_is(self, office, django_assert_max_num_queries):
        office.get(reverse("money"))
        for _each in range(4):
            taken((60, "2"))
            pay(billed((60, "2"), today=TODAY), "130", today=TODAY, over=True)
            order = OrderFactory(deposit_percent=D(50))
            LineFactory(order=order, unit_price=D("2"), state="confirmed", pickup=TODAY)
            ended = OrderFactory()
            line = LineFactory(order=ended, unit_price=D("2"))
            deposit(ended, "5", today=TODAY)
            line.state = "cancelled"
            line.save()
        with django_assert_max_num_queries(26):
            office.get(reverse("money"))

    def test_money_to_give_back_and_deposits_to_come_stand_there(self, office):
        pay(billed((60, "2"), today=TODAY), "130", today=TODAY, over=True)
        order = OrderFactory(deposit_percent=D(50))
        LineFactory(order=order, quantity=10, unit_price=D("2"), tax_rate=D(0), state="confirmed", pickup=TODAY)
        page = said(office.get(reverse("money")))
        assert "€1.60" in page
        assert "€10.00" in page

    def test_papers_are_found(self, office):
        invoice = billed((60, "2"), today=TODAY, customer__name="Weir Farm")
        assert invoice.number in said(office.get(reverse("invoices"), {"q": "weir"}))
        assert "No invoice has that." in said(office.get(reverse("invoices"), {"q": "nobody"}))


class TestPanel:
    def test_it_is_a_part_for_the_order_page_and_a_page_of_its_own(self, office):
        order = taken((60, "2"))
        url = reverse("order_money_panel", args=[order.code])
        part = said(office.get(url, headers={"HX-Request": "true"}))
        assert "60 plants of line 1: €128.40" in part
        assert "Bill what was handed over" in part
        assert "<html" not in part
        assert "<html" in said(office.get(url))


class TestNumbers:
    def test_the_grower_chooses_them_until_the_first_is_given(self, client, grower):
        client.force_login(grower, backend="django.contrib.auth.backends.ModelBackend")
        url = reverse("number_series")
        sent = {"kind": "invoice", "invoice-prefix": "A-", "invoice-first_number": "118"}
        assert f"The first number will be A-{TODAY.year}-0118." in said(client.post(url, sent, follow=True))
        assert "the same numbers" in said(client.post(url, sent | {"invoice-prefix": "C"}))
        assert "letters, digits and dashes" in said(client.post(url, sent | {"invoice-prefix": "A/"}))
        assert billed((1, "2"), today=TODAY).number == f"A-{TODAY.year}-0118"
        assert "The next will be" in said(client.get(url))
        client.post(url, sent | {"invoice-prefix": "B"})
        assert billed((1, "2"), today=TODAY).number == f"A-{TODAY.year}-0119"


class TestWhoMay:
    def test_a_stranger_sees_nothing_of_money(self, client, stranger):
        NurseryFactory()
        order = billed((60, "2"), today=TODAY).order
        number = order.invoices.get().number
        payment = pay(order.invoices.get(), "1", today=TODAY)
        client.force_login(stranger, backend="django.contrib.auth.backends.ModelBackend")
        of = {
            "money": [], "invoices": [], "number_series": [], "payment_take_back": [payment.pk],
            "order_money_panel": [order.code], "order_bill": [order.code], "order_deposit": [order.code],
        }  # fmt: skip
        names = (
            "invoice",
            "invoice_paper_again",
            "invoice_credit",
            "invoice_payment",
            "invoice_remind",
        )
        for name, args in (of | {name: [number] for name in names}).items():
            assert client.get(reverse(name, args=args)).status_code == 403, name

    def test_without_signing_in_there_is_only_the_door(self, client):
        assert "sign-in" in client.get(reverse("money")).url

    def test_the_office_does_not_choose_numbers(self, office):
        assert office.get(reverse("number_series")).status_code == 403
