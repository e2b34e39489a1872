"""An empty nursery's first evening on a phone: from the first page to the first order, promised."""

import pytest
import time_machine

from orders import jobs
from orders.models import Document, OrderLine
from production.models import SeedLot
from tests.browser import assert_accessible, assert_fits, follow
from tests.flow.story import at
from tests.nursery import TODAY

pytestmark = [pytest.mark.browser, pytest.mark.papers, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def phone(open_page, settings):
    settings.EMAIL_BACKEND = "orders.mailbox.MailboxBackend"
    with time_machine.travel(at(TODAY), tick=False):
        yield open_page("phone")


def look_at(phone) -> None:
    assert_fits(phone)
    assert_accessible(phone)


def test_from_nothing_to_the_first_promise(phone):
    phone.goto("/")
    make_the_account(phone)
    take_the_steps(phone)
    follow(phone, phone.get_by_role("link", name="Take the first order"))
    line = promise_the_first_order(phone)
    jobs.drain()
    phone.reload()
    phone.wait_for_load_state("networkidle")
    look_at(phone)
    assert line.state == "confirmed"
    assert phone.locator("a[href^='/papers/']").count() == 1
    assert Document.objects.get().order == line.order
    assert not SeedLot.objects.exists()  # seed is asked for when it is to be sown


def make_the_account(phone) -> None:
    phone.get_by_role("heading", name="Welcome to your nursery").wait_for()
    look_at(phone)
    phone.get_by_label("Your name").fill("Ines")
    phone.get_by_label("Name to sign in with").fill("ines")
    phone.get_by_label("Password").fill("a longer password")
    follow(phone, phone.get_by_role("button", name="Make the account and begin"))


def take_the_steps(phone) -> None:
    """Every step with its starting values; only the nursery's name must be written."""
    for title in ("Name and place", "Tax", "Places", "Open days", "Hands"):
        phone.get_by_role("heading", name=title, exact=True).wait_for()
        look_at(phone)
        if title == "Name and place":
            phone.get_by_label("Name", exact=True).fill("Ashwell Grafting")
        follow(phone, phone.get_by_role("button", name="Save and go on"))
    phone.get_by_role("heading", name="Crops", exact=True).wait_for()
    look_at(phone)
    follow(phone, phone.get_by_role("button", name="Set up the nursery"))
    phone.get_by_role("heading", name="Ashwell Grafting is set up").wait_for()
    look_at(phone)


def promise_the_first_order(phone) -> OrderLine:
    """A customer and two varieties that nobody has heard of before."""
    look_at(phone)
    phone.get_by_label("Customer", exact=True).fill("Dunmore Glasshouse")
    phone.get_by_text("New customer: email and telephone").click()
    phone.get_by_label("Email").fill("plants@dunmore.example")
    for label, value in {
        "Plants": "100",
        "Scion": "Tallis Red",
        "Rootstock": "Kelder",
        "Pickup": "2027-04-21",
    }.items():
        phone.get_by_label(label, exact=True).fill(value)
    phone.get_by_text("A variety that is new", exact=True).click()
    phone.get_by_label("New scion? Its crop").select_option("Tomato")
    phone.get_by_label("New rootstock? Its crop").select_option("Tomato")
    phone.get_by_text("Seed, price and notes").click()
    phone.get_by_label("Price each").fill("2.75")
    phone.locator("#answer").get_by_role("heading", name="Line 1 fits").wait_for()
    look_at(phone)
    follow(phone, phone.get_by_role("button", name="Promise it"))
    return OrderLine.objects.get()
