"""One real order by API: asked, not fitting, moved to the nearest day, confirmed, grown, announced, paid."""

import io
from datetime import date, datetime
from email import message_from_bytes, policy
from zoneinfo import ZoneInfo

import icalendar
import pytest
import time_machine
from pypdf import PdfReader
from rest_framework.test import APIClient

from invoicing.models import Invoice
from orders import jobs, services
from orders.models import Document, MailboxMessage, OrderLine
from production.models import SeedLot, Work
from production.services import promise
from tests.factories import CustomerFactory
from tests.nursery import TODAY, working_nursery

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.papers]


def at(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 9, tzinfo=ZoneInfo("Europe/Dublin"))


@pytest.fixture
def working(settings):
    settings.EMAIL_BACKEND = "orders.mailbox.MailboxBackend"
    with time_machine.travel(at(TODAY), tick=False):
        made = working_nursery(healing=2, tax_rate="13.5", pickup_place="Behind the house")
        for variety in (made.scion, made.rootstock):
            SeedLot.objects.create(code=f"L-{variety}", variety=variety, seeds=5000, received_on=TODAY)
        first = services.take_order(customer=CustomerFactory(), lines=[chamber_taken(made)], by=None, today=TODAY)
        promise.accept(order=first, by=None, today=TODAY)
        return made


def chamber_taken(made) -> OrderLine:
    """Somebody else's trays fill the healing chamber until 10 April."""
    return made.line(
        kind="room",
        scion=None,
        rootstock=None,
        method="plain",
        container=made.tray,
        quantity=2,
        room_place_kind="healing",
        room_nights=50,
        pickup_asked=date(2027, 4, 9),
        later=0,
    )


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


def papers_and_mails_are_right(line: OrderLine) -> None:
    order = line.order
    kinds = {document.kind: document for document in Document.objects.filter(order=order)}
    assert set(kinds) == {"confirmation", "pickup_note", "invoice"}
    text = {kind: said(document) for kind, document in kinds.items()}
    assert order.code in text["confirmation"]
    assert "Tallis Red" in text["pickup_note"]
    invoice = Invoice.objects.get(order=order)
    assert invoice.number in text["invoice"]
    assert f"{invoice.total:,.2f}" in text["invoice"]
    received = MailboxMessage.objects.filter(to__contains="dunmore")
    mails = [message_from_bytes(bytes(each.raw), policy=policy.default) for each in received]
    assert len(mails) == 3
    entries = [part for mail in mails for part in mail.walk() if part.get_content_type() == "text/calendar"]
    calendars = [icalendar.Calendar.from_ical(entry.get_content()) for entry in entries]
    starts = [event.decoded("dtstart") for calendar in calendars for event in calendar.walk("vevent")]
    assert line.order.lines.get().pickup in starts


def said(document: Document) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(bytes(document.content))).pages)
