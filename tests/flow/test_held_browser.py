"""A promise held in a browser: quoted, lapsed as nobody answers, asked again, accepted by the private link."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from email import message_from_bytes, policy

import pytest
import time_machine
from django.urls import reverse

from orders import jobs
from orders.models import Document, MailboxMessage, OrderLine
from production.models import Allocation
from tests.browser import assert_holds, follow, session_cookie
from tests.flow.story import at
from tests.nursery import TODAY, Working, working_nursery

pytestmark = [pytest.mark.browser, pytest.mark.papers, pytest.mark.django_db(transaction=True)]

FRIDAY = date(2027, 1, 15)


@pytest.fixture
def working(settings, live_server) -> Working:
    settings.EMAIL_BACKEND = "orders.mailbox.MailboxBackend"
    settings.SITE_URL = live_server.url
    with time_machine.travel(at(TODAY), tick=False):
        return working_nursery(tax_rate="13.5", phone="+353 1 555 0100")


@contextmanager
def morning(day: date, desk, working: Working, address: str) -> Iterator[None]:
    """The clock stands at nine of that day, and the grower has signed in anew."""
    with time_machine.travel(at(day), tick=False):
        desk.context.add_cookies([session_cookie(working.grower, address)])
        yield


def test_a_held_promise_lapses_is_asked_again_and_accepted(working, open_page, live_server):
    desk, phone = open_page("desk"), open_page("phone")
    with morning(TODAY, desk, working, live_server.url):
        line = hold_at_the_desk(desk)
        link = quote(desk, line)
        phone.goto(link)
        phone.get_by_role("heading", name="Held for you until Thu 14 January").wait_for()
        assert_holds(phone)
    with morning(FRIDAY, desk, working, live_server.url):
        lapse(phone, line)
        ask_again_and_hold(desk, line)
        assert quote(desk, line) == link, "the same order, the same link"
        accept(phone, line)
        desk.goto(reverse("today"))
        desk.get_by_text("was accepted by the private link, signed Mara Quill").wait_for()
        assert_holds(desk)
        jobs.drain()
    papers = set(Document.objects.values_list("kind", "revision"))
    assert papers == {("quote", 1), ("quote", 2), ("confirmation", 1)}


def hold_at_the_desk(desk) -> OrderLine:
    desk.goto(reverse("desk"))
    desk.get_by_label("Customer", exact=True).fill("Dunmore Glasshouse")
    desk.get_by_text("New customer: email and telephone").click()
    desk.get_by_label("Email").fill("plants@dunmore.example")
    for label, value in {
        "Scion": "Tallis Red",
        "Rootstock": "Kelder",
        "Plants": "60",
        "Pickup": "2027-04-21",
    }.items():
        desk.get_by_label(label, exact=True).fill(value)
    desk.locator("#answer").get_by_role("heading", name="Line 1 fits").wait_for()
    desk.get_by_role("button", name="Hold for 3 days").click()
    desk.wait_for_url("**/orders/*/")
    desk.get_by_role("heading", name="Held until Thu 14 January", exact=True).wait_for()
    desk.wait_for_load_state("networkidle")
    assert_holds(desk)
    desk.goto(reverse("orders"))
    desk.get_by_text("held until Thu 14 January").wait_for()
    assert_holds(desk)
    return OrderLine.objects.get()


def quote(desk, line: OrderLine) -> str:
    """Send the quote; the link as it stands in the mail."""
    desk.goto(reverse("order", args=[line.order.code]))
    follow(desk, desk.get_by_role("button", name=re.compile("Send a (new )?quote")))
    jobs.drain()
    mail = message_from_bytes(bytes(MailboxMessage.objects.latest("pk").raw), policy=policy.default)
    [paper] = mail.iter_attachments()
    assert paper.get_content().startswith(b"%PDF")
    [link] = re.findall(r"http\S+", mail.get_body(("plain",)).get_content())
    return link


def lapse(phone, line: OrderLine) -> None:
    """As the serving process does by itself in the first minute of the day."""
    jobs.drain()
    line.refresh_from_db()
    assert (line.state, Allocation.objects.count()) == ("let_go", 0)
    phone.reload()
    phone.get_by_role("heading", name="This promise has ended").wait_for()
    assert phone.get_by_role("button").count() == 0
    assert_holds(phone)


def ask_again_and_hold(desk, line: OrderLine) -> None:
    desk.goto(reverse("today"))
    desk.get_by_text("nobody said yes").wait_for()
    assert_holds(desk)
    follow(desk, desk.get_by_role("button", name="Ask for it again"))
    assert_holds(desk)
    follow(desk, desk.get_by_role("button", name="Hold for 3 days"))
    desk.get_by_role("heading", name="Held until Mon 18 January", exact=True).wait_for()
    for summary in ("Hold it until another day", "Let it go"):
        desk.locator("summary", has_text=summary).click()
    assert_holds(desk)
    desk.get_by_label("Hold until").fill("2027-01-20")
    follow(desk, desk.get_by_role("button", name="Hold until that day"))
    desk.get_by_role("heading", name="Held until Wed 20 January", exact=True).wait_for()


def accept(phone, line: OrderLine) -> None:
    phone.reload()
    phone.get_by_label("Your name").fill("Mara Quill")
    phone.get_by_role("button", name="Accept this order").click()  # not ticked: the browser says so and stays
    assert phone.locator("input:invalid").count() == 1
    phone.get_by_label("I accept this order").check()
    phone.get_by_role("button", name="Accept this order").click()
    phone.get_by_role("heading", name="Thank you. Your order is accepted.").wait_for()
    assert_holds(phone)
    line.refresh_from_db()
    assert line.state == "confirmed"
