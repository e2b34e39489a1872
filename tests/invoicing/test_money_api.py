"""Money by API: to bill, owed, deposits, how numbers look; sums worked by hand."""

import pytest
from rest_framework.test import APIClient

from invoicing.models import Invoice
from orders.models import Job
from tests.factories import OrderFactory, UserFactory

from .billing import TODAY, billed, deposit, pay, taken

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("nursery", "on_that_day")]


@pytest.fixture
def api(clerk):
    return signed_in(clerk)


def signed_in(user) -> APIClient:
    client = APIClient()
    client.force_authenticate(user)
    return client


def test_what_is_to_bill_owed_and_to_give_back(api):
    # By hand: 60 × 2.75 = 165.00, 7 % = 11.55; 100 × 2 = 200.00, 7 % = 14.00.
    waiting = taken((60, "2.75"))
    owed, too_much = billed((100, "2"), today=TODAY), billed((100, "2"), today=TODAY)
    pay(owed, "14.00", today=TODAY)
    pay(too_much, "220.00", today=TODAY, over=True)
    said = api.get("/api/money/").json()
    assert [(one["order"], one["gross"]) for one in said["to_bill"]] == [(waiting.code, "176.55")]
    assert [(one["number"], one["balance"]) for one in said["owed"]] == [(owed.number, "200.00")]
    assert [(one["number"], one["balance"]) for one in said["paid_too_much"]] == [(too_much.number, "-6.00")]


def test_how_one_order_stands(api):
    order = taken((60, "2.75"))
    deposit(order, "50", today=TODAY)
    said = api.get(f"/api/orders/{order.code}/money/").json()
    assert (said["state"], said["to_bill_gross"], said["deposit_in_hand"]) == ("to_bill", "176.55", "50.00")
    assert api.get(f"/api/orders/{OrderFactory(own_crop=True, customer=None).code}/money/").status_code == 404


def test_a_bill_at_another_price_and_a_refund(api):
    order = taken((60, "2.75"))
    line = {"line": order.lines.get().pk, "quantity": 20, "unit_price": "2.5", "tax_rate": "9"}
    # By hand: 20 × 2.50 = 50.00, 9 % = 4.50.
    issued = api.post(f"/api/orders/{order.code}/bill/", {"lines": [line]}, format="json").json()
    assert issued["total"] == "54.50"
    path = f"/api/invoices/{issued['number']}/payment/"
    assert api.post(path, {"amount": "60"}, format="json").status_code == 400
    assert api.post(path, {"amount": "60", "over": True}, format="json").status_code == 201
    assert api.post(path, {"amount": "5.50", "kind": "refund"}, format="json").status_code == 201
    assert api.post(path, {"amount": "0.01", "kind": "refund"}, format="json").status_code == 400


def test_numbers_are_chosen_before_the_first_is_given(clerk):
    grower = signed_in(UserFactory(role="grower"))
    assert signed_in(clerk).get("/api/money/numbers/").status_code == 403
    wanted = {"kind": "invoice", "prefix": "R", "first_number": 40}
    assert grower.post("/api/money/numbers/", wanted, format="json").json()["next"] == f"R{TODAY.year}-0040"
    wrong = grower.post("/api/money/numbers/", wanted | {"prefix": "#"}, format="json")
    assert (wrong.status_code, wrong.json()["faults"][0]["field"]) == (400, "prefix")
    assert billed((1, "2"), today=TODAY).number == f"R{TODAY.year}-0040"
    late = grower.post("/api/money/numbers/", wanted | {"prefix": "Q"}, format="json")
    assert (late.status_code, late.json()["faults"][0]["field"]) == (400, "prefix")
    shown = {series["kind"]: series for series in grower.get("/api/money/numbers/").json()}
    assert (shown["invoice"]["begun"], shown["credit_note"]["begun"]) == (True, False)


def test_a_paper_that_could_not_be_made_is_tried_again(api):
    invoice = billed((1, "2"), today=TODAY)
    path = f"/api/invoices/{invoice.number}/paper-again/"
    Job.objects.filter(key=f"invoice_paper:{invoice.number}").update(state=Job.State.FAILED, error="no room")
    assert api.post(path).json()["state"] == "waiting"
    Job.objects.all().delete()
    assert api.post(path).status_code == 409
    assert Invoice.objects.count() == 1
