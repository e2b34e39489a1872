"""Levelling in a real browser on a phone: pressed, watched without a reload, ticked, taken."""

import pytest
from django.urls import reverse

from orders import jobs
from tests.browser import assert_holds, follow

from .test_levelling import crowded, working  # noqa: F401  (fixtures)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_season_is_levelled_and_its_moves_are_taken(open_page, working, crowded):  # noqa: F811
    first, second = crowded
    phone = open_page("phone", working.grower)
    phone.goto(reverse("season"))
    follow(phone, phone.get_by_role("link", name="Level the season"))
    assert_holds(phone)
    follow(phone, phone.get_by_role("button", name="Level the season"))
    phone.get_by_role("heading", name="It begins.").wait_for()
    assert_holds(phone)
    jobs.drain()
    phone.get_by_role("heading", name="2 moves").wait_for()  # the page asks by itself
    phone.get_by_text(f"Needs the move of {first}, which comes along.").wait_for()
    assert_holds(phone)
    phone.get_by_label(str(second)).check()
    follow(phone, phone.get_by_role("button", name="Take the ticked moves"))
    phone.get_by_text(f"Moved: {first} and {second}.").wait_for()
    assert_holds(phone)
