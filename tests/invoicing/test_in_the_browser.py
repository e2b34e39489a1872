"""The pages of money in a real browser, at phone and desk size: axe finds nothing, nothing scrolls sideways."""

from datetime import timedelta
from decimal import Decimal as D

import pytest
from django.urls import reverse

from invoicing import services
from invoicing.models import Invoice
from orders import jobs
from tests.browser import assert_accessible, assert_holds
from tests.factories import (
    LineFactory,
    NurseryFactory,
    OrderFactory,
    RootstockFactory,
    UserFactory,
    VarietyFactory,
)

from .billing import TODAY, billed, deposit, pay, taken

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True), pytest.mark.usefixtures("on_that_day")]


@pytest.fixture
def books():
    """A little of everything that the pages can show; the order that is to be billed."""
    NurseryFactory(tax_name="VAT", payment_days=14, deposit_percent=D(30))
    pair = {"scion": VarietyFactory(name="Tallis Red"), "rootstock": RootstockFactory(name="Kelder")}
    late = billed((60, "2.75"), today=TODAY - timedelta(days=30), customer__name="Weir Farm")
    pay(late, "50", today=TODAY)
    given_back = billed((40, "2.75"), today=TODAY, customer__name="Long Barn Growers")
    pay(given_back, "117.70", today=TODAY)
    services.credit(
        invoice=given_back, quantities={given_back.lines.get(): 4}, reason="Four were broken", bill_again=False,
        by=None, today=TODAY,
    )  # fmt: skip
    asked = OrderFactory(deposit_percent=D(30), customer__name="Mere House")
    LineFactory(order=asked, unit_price=D("2"), state="confirmed", pickup=TODAY, **pair)
    order = taken(customer__name="Hollin Bank Gardens")
    LineFactory(order=order, collected=60, unit_price=D("2.75"), tax_rate=D("7"), **pair)
    LineFactory(order=order, collected=24, unit_price=D("3.125"), tax_rate=D("13.5"), leaders="two_topped", **pair)
    deposit(order, "50", today=TODAY)
    return order


@pytest.fixture
def page(books, open_page):
    return open_page("phone", UserFactory(role="grower"))


def addresses(order):
    late, given_back = Invoice.objects.filter(kind="invoice").order_by("id")
    note = given_back.credit_notes.get()
    named = [
        ("money",), ("invoices",), ("number_series",), ("invoice", late.number), ("invoice", given_back.number),
        ("invoice", note.number), ("invoice_credit", late.number), ("invoice_payment", late.number),
        ("invoice_payment", given_back.number), ("payment_take_back", late.payments.get().pk),
        ("order_bill", order.code), ("order_deposit", order.code), ("order_money_panel", order.code),
    ]  # fmt: skip
    return [reverse(name, args=args) for name, *args in named]


def test_every_page_is_accessible_and_fits(page, books):
    for address in addresses(books):
        page.goto(address)
        assert_holds(page)


@pytest.mark.papers
def test_an_order_is_billed_while_the_sum_follows(page, books):
    page.goto(reverse("money"))
    page.get_by_role("link", name=f"Bill Order {books.code}").click()
    # By hand: 165.00 + 7 % 11.55 + 75.00 + 13.5 % 10.125 → 10.13 = 261.68, less 50 deposit.
    page.get_by_role("heading", name="€211.68 will be to pay.").wait_for()
    page.get_by_label("How many").first.fill("20")
    # 55.00 + 3.85 + 75.00 + 10.13 = 143.98, less 50.
    page.get_by_role("heading", name="€93.98 will be to pay.").wait_for()
    assert_accessible(page)
    page.get_by_label("How many").first.fill("61")
    page.get_by_role("heading", name="No sum yet").wait_for()
    page.get_by_role("button", name="Make the invoice").click()
    page.get_by_role("heading", name="One thing needs mending").wait_for()
    assert_accessible(page)
    page.get_by_label("How many").first.fill("60")
    page.get_by_role("button", name="Make the invoice").click()
    page.get_by_role("heading", name="€211.68 is still to be paid").wait_for()
    assert Invoice.objects.get(order=books).due == D("211.68")
    page.get_by_role("heading", name="The paper is being made.").wait_for()
    jobs.drain()
    page.get_by_role("link", name="Open the paper").wait_for()  # without a reload
    assert_accessible(page)
    page.get_by_role("link", name="Record a payment").click()
    page.get_by_role("button", name="Record it").click()
    page.get_by_role("heading", name="It is paid.").wait_for()
