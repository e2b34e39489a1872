"""The season in a real browser: zoomed by keyboard, a conflict resolved where it is told, what-if saved."""

import re

import pytest
from django.urls import reverse

from production.models import Place
from tests.browser import assert_holds, follow, session_cookie

from . import growing
from .test_easing import chamber, two_in_one_chamber

HELPS = re.compile("What would help.*Order 1$")
pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def ground(time_machine, transactional_db):
    time_machine.move_to("2027-01-11 09:00 +0000", tick=False)
    return growing.ground()


@pytest.fixture
def pair(ground):
    return two_in_one_chamber(ground)


def test_zooms_by_keyboard_from_the_year_to_the_day_and_every_page_holds(open_page, ground, pair, page_size):
    page = open_page(page_size, ground.grower)
    page.goto(reverse("season"))
    assert_holds(page)
    for zoom in ("Year", "Week", "Day", "Weeks"):
        page.get_by_role("navigation", name="Zoom").get_by_role("link", name=zoom, exact=True).focus()
        with page.expect_navigation():
            page.keyboard.press("Enter")
        assert_holds(page)
    for step in ("After", "Before", "Today"):
        page.get_by_role("navigation", name="Zoom").get_by_role("link", name=step).focus()
        with page.expect_navigation():
            page.keyboard.press("Enter")
    page.goto(f"{reverse('season')}?view=year")
    box = page.get_by_role("cell", name="4 of 2").first.get_by_role("link")
    box.focus()
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert page.get_by_role("heading", name="Who is in it, largest first").is_visible()
    assert page.locator("main").get_by_text("Order 1", exact=False).first.is_visible()
    assert_holds(page)


def test_a_conflict_is_resolved_without_leaving_the_page(open_page, ground, pair, page_size):
    page = open_page(page_size, ground.grower)
    page.goto(f"{reverse('season')}?view=year")
    here = page.url
    conflict = page.locator("details.answer.no").first
    assert conflict.get_by_role("link", name=HELPS).is_visible() == (page_size != "phone")
    if page_size == "phone":  # closed, so that the year is in sight
        conflict.locator("summary").click()
    conflict.get_by_role("link", name=HELPS).click()
    conflict.get_by_role("button", name="See the effect").first.click()
    save = conflict.get_by_role("button", name="Save this move")
    save.wait_for()
    assert_holds(page)
    assert chamber()
    follow(page, save)
    page.get_by_text("is moved", exact=False).wait_for()
    assert page.url == here
    assert page.locator("details.answer.no").count() == 0
    assert not chamber()


def test_without_script_the_same_is_done_by_pages(new_context, live_server, ground, pair):
    context = new_context(base_url=live_server.url, java_script_enabled=False)
    context.add_cookies([session_cookie(ground.grower, live_server.url)])
    page = context.new_page()
    page.goto(f"{reverse('season')}?view=year")
    page.get_by_role("link", name=HELPS).click()
    page.get_by_role("button", name="See the effect").first.click()
    page.get_by_text("The season afterwards").wait_for()
    assert chamber()
    page.get_by_role("button", name="Save this move").click()
    page.get_by_text("is moved", exact=False).wait_for()
    assert not chamber()


def test_what_if_is_seen_beside_today_and_then_saved(open_page, ground, pair, page_size):
    page = open_page(page_size, ground.grower)
    page.goto(f"{reverse('season')}?view=year")
    if page_size == "phone":
        page.locator("details.answer.no summary").first.click()
    follow(page, page.get_by_role("link", name="What if it held more").first)
    assert page.get_by_label("Would hold").input_value() == "4"
    assert_holds(page)
    follow(page, page.get_by_role("button", name="See the season then"))
    page.get_by_role("heading", name="No conflict is left.").wait_for()
    assert page.get_by_text("gone then").is_visible()
    assert_holds(page)
    assert Place.objects.get(name="Healing chamber").capacity == 2
    follow(page, page.get_by_role("button", name="Save this"))
    assert Place.objects.get(name="Healing chamber").capacity == 4
    assert not chamber()


def test_what_would_help_stands_on_a_page_of_its_own_too(open_page, ground, pair, page_size):
    page = open_page(page_size, ground.grower)
    page.goto(reverse("line_ways", args=[pair[1].pk]))
    page.get_by_text("Make more room: Healing chamber").first.wait_for()
    assert_holds(page)
