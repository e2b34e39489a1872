"""One real order by API: asked, not fitting, moved to the nearest day, confirmed, grown, announced, paid."""

import pytest
import time_machine
from rest_framework.test import APIClient

from orders import jobs
from orders.models import OrderLine
from production.models import Work
from tests.flow.story import at, nursery_with_a_full_chamber, papers_and_mails_are_right
from tests.nursery import TODAY

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.papers]


@pytest.fixture
def working(settings):
    settings.EMAIL_BACKEND = "orders.mailbox.MailboxBackend"
    return nursery_with_a_full_chamber()


def test_from_the_call_to_the_paid_invoice(working):
    api = APIClient()
    api.force_authenticate(working.grower)
    with time_machine.travel(at(TODAY), tick=False):
        line = take_what_fits(api, working)
    grow(api, line)
    ready_on = line.order.lines.get().pickup
    with time_machine.travel(at(ready_on), tick=False):
        announce_and_hand_over(api, line)
        bill(api, line)
        jobs.drain()
    papers_and_mails_are_right(line)


def take_what_fits(api, working) -> OrderLine:
    wanted = {
        "quantity": 60,
        "unit_price": "2.75",
        "scion": "Tallis Red",
        "rootstock": "Kelder",
        "container": working.pot.name,
        "pickup": "2027-04-21",
        "later": 0,
    }
    said = api.post("/api/promise/", {"lines": [wanted]}, format="json").json()[0]
    assert not said["fits"]
    assert "Healing chamber" in {conflict["name"] for conflict in said["conflicts"]}
    wanted["pickup"] = said["later"]
    assert api.post("/api/promise/", {"lines": [wanted]}, format="json").json()[0]["fits"]
    body = {"customer": "Dunmore Glasshouse", "email": "plants@dunmore.example", "lines": [wanted]}
    code = api.post("/api/orders/", body, format="json").json()["code"]
    confirmed = api.post(f"/api/orders/{code}/confirm/", {}, format="json").json()
    assert confirmed["lines"][0]["state"] == "confirmed"
    jobs.drain()
    return OrderLine.objects.get(order__code=code)


def grow(api, line: OrderLine) -> None:
    """Record each day's work as planned until the plants are ready."""
    mine = Work.objects.filter(part__allocations__line=line, state="planned").exclude(kind="hand_over")
    for _day in range(120):
        next_work = mine.order_by("day").first()
        if next_work is None:
            break
        with time_machine.travel(at(next_work.day), tick=False):
            day = api.get(f"/api/day/{next_work.day}/").json()
            tasks = [task for section in day["sections"] for task in section["tasks"] if not task["waits"]]
            ids = set(mine.values_list("pk", flat=True))
            works = [t["work"]["id"] for t in tasks if t["work"]["id"] in ids]
            answer = api.post("/api/work/as-planned/", {"works": works}, format="json")
            assert answer.status_code == 200, answer.json()
    line.refresh_from_db()
    assert line.state == "ready"


def announce_and_hand_over(api, line: OrderLine) -> None:
    notice = api.get(f"/api/lines/{line.pk}/notice/").json()
    assert notice["quantity"] >= 60 - notice["short"]
    for _twice in range(2):
        assert api.post(f"/api/lines/{line.pk}/notice/", format="json").json()["sent"]
    taken = min(notice["quantity"], 60)
    too_many = api.post(f"/api/lines/{line.pk}/hand-over/", {"quantity": 9000}, format="json")
    assert too_many.status_code in (400, 409)
    part = api.post(f"/api/lines/{line.pk}/hand-over/", {"quantity": 20}, format="json").json()
    assert part["collected_quantity"] == 20
    whole = {"quantity": taken - 20, "close_short": taken < 60, "reason": "short" if taken < 60 else ""}
    assert api.post(f"/api/lines/{line.pk}/hand-over/", whole, format="json").json()["state"] == "collected"


def bill(api, line: OrderLine) -> None:
    issued = api.post(f"/api/orders/{line.order.code}/bill/", {}, format="json")
    assert issued.status_code == 201, issued.json()
    number, total = issued.json()["number"], issued.json()["total"]
    for amount in ("10.00", f"{float(total) - 10:.2f}"):
        paid = api.post(f"/api/invoices/{number}/payment/", {"amount": amount}, format="json")
        assert paid.status_code == 201, paid.json()
    again = api.post(f"/api/invoices/{number}/payment/", {"amount": "1.00"}, format="json")
    assert again.status_code in (400, 409)
