"""Whoever blocks scripts, or whose connection lost one, does all of it by pages: desk, levelling, letter, list."""

import re
from collections.abc import Callable

import pytest
from django.urls import reverse

from orders import jobs
from orders.models import Letter, MailboxMessage, OrderLine
from tests.browser import assert_fits, follow, session_cookie
from tests.production.desk import full_chamber
from tests.production.order_lists import row, workbook
from tests.production.test_levelling import crowded, working  # noqa: F401  (fixtures)

pytestmark = [pytest.mark.browser, pytest.mark.papers, pytest.mark.django_db(transaction=True)]


@pytest.fixture(autouse=True)
def mailbox(settings):
    settings.EMAIL_BACKEND = "orders.mailbox.MailboxBackend"


@pytest.fixture
def page(new_context: Callable, live_server, working):  # noqa: F811
    context = new_context(
        base_url=live_server.url, java_script_enabled=False, viewport={"width": 390, "height": 844}
    )
    context.add_cookies([session_cookie(working.grower, live_server.url)])
    return context.new_page()


def test_the_desk_answers_on_a_button_and_a_way_out_is_taken(page, working):  # noqa: F811
    full_chamber(working)
    page.goto(reverse("desk"))
    page.get_by_label("Customer", exact=True).fill("Briar End")
    for label, value in {
        "Scion": "Tallis Red",
        "Rootstock": "Kelder",
        "Plants": "60",
        "Pickup": "2027-04-21",
    }.items():
        page.get_by_label(label, exact=True).fill(value)
    follow(page, page.get_by_role("button", name="Show the answer").last)
    answer = page.locator("#answer")
    assert "does not fit" in answer.inner_text()
    assert_fits(page)
    follow(page, answer.get_by_role("button", name="Take it").first)
    assert "fits" in page.locator("#answer").inner_text()
    assert not OrderLine.objects.filter(quantity=60).exists(), "nothing is saved until asked"
    follow(page, page.get_by_role("button", name="Hold for 3 days"))
    page.get_by_role("heading", name="Held until Thu 14 January", exact=True).wait_for()
    assert OrderLine.objects.get(quantity=60).state == "held"


def test_a_season_is_levelled_and_the_letter_read_and_sent(page, working, crowded):  # noqa: F811
    first, second = crowded
    jobs.drain()
    page.goto(reverse("season"))
    follow(page, page.get_by_role("link", name="Level the season"))
    follow(page, page.get_by_role("button", name="Level the season"))
    jobs.drain()
    page.reload()
    page.get_by_role("heading", name="2 moves").wait_for()
    page.get_by_label(str(second)).check()
    follow(page, page.get_by_role("button", name="Take the ticked moves"))
    page.get_by_text(f"Moved: {first} and {second}.").wait_for()
    jobs.drain()
    draft = Letter.objects.get(state="draft", order=first.order)
    page.goto(reverse("letters"))
    assert_fits(page)
    follow(page, page.get_by_role("link", name=re.compile(f"Read and send.*{first.order.code}")))
    words = page.get_by_label("Letter")
    words.fill(words.input_value().replace("Dear", "My dear"))
    follow(page, page.get_by_role("button", name="Send it"))
    jobs.drain()
    draft.refresh_from_db()
    assert draft.state == "sent"
    assert any(b"My dear" in bytes(message.raw) for message in MailboxMessage.objects.all())


def test_a_list_is_brought_checked_and_promised(page, working, tmp_path):  # noqa: F811
    path = tmp_path / "orders.xlsx"
    path.write_bytes(workbook([row(working), row(working, 2, Plants="some")]))
    page.goto(reverse("orders"))
    follow(page, page.get_by_role("link", name="Take a list of orders"))
    page.get_by_label("The list").set_input_files(path)
    follow(page, page.get_by_role("button", name="Check the list"))
    jobs.drain()
    page.reload()
    page.get_by_text("One row needs mending.").wait_for()
    assert_fits(page)
    follow(page, page.get_by_role("button", name="Promise the order that fits"))
    jobs.drain()
    page.reload()
    page.get_by_role("heading", name="One order is promised.").wait_for()
    assert OrderLine.objects.get().state == "confirmed"
