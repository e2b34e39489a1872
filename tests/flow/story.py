"""What the stories of one order share: the nursery that cannot take it as asked, and what it must leave behind."""

import io
from datetime import date, datetime
from email import message_from_bytes, policy
from zoneinfo import ZoneInfo

import icalendar
import time_machine
from pypdf import PdfReader

from invoicing.models import Invoice
from orders import services
from orders.models import Document, MailboxMessage, OrderLine
from production.models import SeedLot
from production.services import promise
from tests.factories import CustomerFactory
from tests.nursery import TODAY, Working, working_nursery


def at(day: date) -> datetime:
    """Nine in the morning of that day, where the nursery is."""
    return datetime(day.year, day.month, day.day, 9, tzinfo=ZoneInfo("Europe/Dublin"))


def nursery_with_a_full_chamber() -> Working:
    """A nursery with seed of both varieties, whose small healing chamber somebody else has until 10 April."""
    with time_machine.travel(at(TODAY), tick=False):
        made = working_nursery(healing=2, tax_rate="13.5", pickup_place="Behind the house")
        for variety in (made.scion, made.rootstock):
            SeedLot.objects.create(code=f"L-{variety}", variety=variety, seeds=5000, received_on=TODAY)
        first = services.take_order(customer=CustomerFactory(), lines=[chamber_taken(made)], by=None, today=TODAY)
        promise.accept(order=first, by=None, today=TODAY)
    return made


def chamber_taken(made: Working) -> OrderLine:
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
    assert order.lines.get().pickup in starts


def said(document: Document) -> str:
    """The text of a paper, read back from its PDF."""
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(bytes(document.content))).pages)
