"""Levelling in a real browser: pressed, watched, half of it accepted, the drafted letter read and sent."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse

from orders import jobs
from orders.models import Customer, Letter
from production.services import moving, promise
from tests.browser import assert_holds, follow
from tests.nursery import TODAY

from .test_levelling import THURSDAY, crowded, taken, working  # noqa: F401  (fixtures)

pytestmark = [
    pytest.mark.browser,
    pytest.mark.papers,
    pytest.mark.django_db(transaction=True),
]


@pytest.fixture(autouse=True)
def mailbox(settings):
    settings.EMAIL_BACKEND = "orders.mailbox.MailboxBackend"


@pytest.fixture
def crowded_twice(working, crowded):  # noqa: F811
    """Another week with the same trouble: of two pairs of moves half are to be accepted."""
    week_later = THURSDAY.replace(month=6, day=10)
    first = taken(working, later=14, pickup_asked=week_later)
    promise.accept(order=first.order, by=None, today=TODAY)
    return *crowded, first, taken(working, pickup_asked=week_later)


def test_a_season_is_levelled_half_its_moves_are_taken_and_the_letter_is_read_and_sent(
    open_page,
    working,  # noqa: F811
    crowded_twice,
):
    first, second, third, fourth = crowded_twice
    phone = open_page("phone", working.grower)
    phone.goto(reverse("season"))
    follow(phone, phone.get_by_role("link", name="Level the season"))
    assert_holds(phone)
    follow(phone, phone.get_by_role("button", name="Level the season"))
    phone.get_by_role("heading", name="It begins.").wait_for()
    assert_holds(phone)
    jobs.drain()
    phone.get_by_role("heading", name="4 moves").wait_for()  # the page asks by itself
    phone.get_by_text(f"Needs, and brings along, the move of {first}.").wait_for()
    phone.get_by_text(f"{first.order.customer} must be told: a letter is drafted for you to read.").wait_for()
    assert_holds(phone)

    follow(phone, phone.get_by_role("button", name=re.compile(f"Refuse.*{third}")))
    phone.get_by_role("heading", name="Refused").wait_for()
    phone.get_by_label(str(second)).check()
    follow(phone, phone.get_by_role("button", name="Take the ticked moves"))
    phone.get_by_text(f"Moved: {first} and {second}.").wait_for()
    assert_holds(phone)
    for line in crowded_twice:
        line.refresh_from_db()
    assert first.pickup > THURSDAY
    assert (second.state, third.pickup, fourth.state) == ("confirmed", third.pickup_asked, "asked")
    jobs.drain()

    _read_and_send(phone, first)
    assert Letter.objects.filter(state="draft").get().order == second.order


def _read_and_send(phone, line):
    phone.goto(reverse("letters"))
    assert_holds(phone)
    subject = f"Order {line.order.code}: another pickup day"
    follow(phone, phone.get_by_role("link", name=re.compile(f"Read and send.*{subject}")))
    words = phone.get_by_label("Letter")
    assert "until now we had said Thu 22 April" in words.input_value()
    assert_holds(phone)
    words.fill(words.input_value().replace("Dear", "My dear"))
    follow(phone, phone.get_by_role("button", name="Send it"))
    phone.get_by_text(f"“{subject}” goes to {line.order.customer.email}.").wait_for()
    jobs.drain()
    phone.goto(reverse("mailbox"))
    follow(phone, phone.get_by_role("link", name=subject))
    phone.get_by_text("My dear").wait_for()
    phone.get_by_role("link", name=f"confirmation-{line.order.code}-2.pdf").wait_for()
    assert_holds(phone)


def test_a_customer_without_an_address_is_rung_up_with_the_words_at_hand(open_page, working, crowded):  # noqa: F811
    first, _second = crowded
    first.refresh_from_db()
    Customer.objects.filter(pk=first.order.customer_id).update(email="")
    jobs.drain()
    Letter.objects.update(state="called")
    moving.move(
        line=first, pieces=[(first.quantity, THURSDAY + timedelta(days=14))], by=working.grower, today=TODAY
    )
    jobs.drain()
    desk = open_page("desk", working.grower)
    desk.goto(reverse("letters"))
    desk.get_by_text("its pickup is on another day now").wait_for()
    assert_holds(desk)
    follow(desk, desk.get_by_role("button", name="Told by telephone"))
    desk.get_by_text("was told by telephone").wait_for()
