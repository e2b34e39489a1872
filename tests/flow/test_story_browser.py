"""One real order in a browser: asked, not fitting, moved to the nearest day, promised, grown, announced, paid."""

from collections.abc import Callable
from datetime import date

import pytest
import time_machine
from django.urls import reverse

from orders import jobs
from orders.models import Document, OrderLine
from production.models import Work
from tests.browser import assert_accessible, assert_fits, follow, session_cookie
from tests.flow.story import at, nursery_with_a_full_chamber, papers_and_mails_are_right
from tests.nursery import TODAY, Working

pytestmark = [pytest.mark.browser, pytest.mark.papers, pytest.mark.django_db(transaction=True)]

ASKED = {
    "Scion": "Tallis Red",
    "Rootstock": "Kelder",
    "Plants": "60",
    "Days later": "0",
    "Pickup": "2027-04-21",
}


@pytest.fixture
def working(settings) -> Working:
    settings.EMAIL_BACKEND = "orders.mailbox.MailboxBackend"
    return nursery_with_a_full_chamber()


@pytest.fixture
def on_day(working, live_server) -> Callable:
    """on_day(page, day): the clock stands at nine of that day, and the grower has signed in anew."""

    def travel(desk, day: date) -> time_machine.travel:
        return Morning(desk, day, working.grower, live_server.url)

    return travel


class Morning:
    """A day at nine; sessions end in the weeks between two days, so the grower signs in on each."""

    def __init__(self, desk, day: date, grower, address: str) -> None:
        self.clock = time_machine.travel(at(day), tick=False)
        self.desk, self.grower, self.address = desk, grower, address

    def __enter__(self) -> None:
        self.clock.start()
        self.desk.context.add_cookies([session_cookie(self.grower, self.address)])

    def __exit__(self, *_failure) -> None:
        self.clock.stop()


def test_from_the_call_to_the_paid_invoice(working, open_page, on_day):
    desk = open_page("desk")
    with on_day(desk, TODAY):
        line = take_what_fits(desk)
    grow(desk, line, on_day)
    with on_day(desk, line.pickup):
        announce(desk)
        hand_over(desk, line)
        bill(desk, line)
        papers_open(desk, line)
    papers_and_mails_are_right(line)


def look_at(desk) -> None:
    assert_fits(desk)
    assert_accessible(desk)


def take_what_fits(desk) -> OrderLine:
    desk.goto(reverse("desk"))
    look_at(desk)
    desk.get_by_label("Customer", exact=True).fill("Dunmore Glasshouse")
    desk.get_by_text("New customer: email and telephone").click()
    desk.get_by_label("Email").fill("plants@dunmore.example")
    desk.get_by_text("Seed, price and notes").click()
    desk.get_by_label("Price each").fill("2.75")
    for label, value in ASKED.items():
        desk.get_by_label(label, exact=True).fill(value)
    answer = desk.locator("#answer")
    answer.get_by_text("does not fit").wait_for()
    assert "Healing chamber" in answer.inner_text()
    look_at(desk)
    later = answer.get_by_role("listitem").filter(has_text="later, everything else as asked")
    follow(desk, later.get_by_role("button"))
    answer.get_by_role("heading", name="Line 1 fits").wait_for()
    assert "€165.00 before tax" in answer.inner_text()
    look_at(desk)
    desk.get_by_role("button", name="Promise it").click()
    desk.wait_for_url("**/orders/*/")
    desk.get_by_text("The confirmation is being made").wait_for()
    jobs.drain()
    line = OrderLine.objects.get(order__customer__name="Dunmore Glasshouse")
    assert line.state == "confirmed"
    assert line.pickup > date(2027, 4, 21)
    look_at(desk)
    return line


def grow(desk, line: OrderLine, on_day: Callable) -> None:
    """Record each day's work as planned until the plants are ready."""
    mine = Work.objects.filter(part__allocations__line=line, state="planned").exclude(kind="hand_over")
    for _day in range(120):
        following = mine.order_by("day").first()
        if following is None:
            break
        with on_day(desk, following.day):
            desk.goto(reverse("today"))
            assert_fits(desk)
            sweep(desk)
            record_one_by_one(desk)
    line.refresh_from_db()
    assert line.state == "ready"


def sweep(desk) -> None:
    """All as planned, where a part of the day offers it."""
    offers = desk.get_by_role("link", name="All as planned, except…")
    while offers.count():
        follow(desk, offers.first)
        follow(desk, desk.get_by_role("button", name="Record what is ticked"))


def record_one_by_one(desk) -> None:
    """What is left, touched one after the other."""
    tasks = desk.locator("article.task:has(form)")
    while tasks.count():
        task = tasks.first
        as_shown = task.element_handle()
        if not task.locator("details.wide").evaluate("each => each.open"):
            task.locator("summary").first.click()
        with desk.expect_response("**/done/") as recorded:
            task.locator("button.go").click()
        assert recorded.value.status == 200, recorded.value.text()
        # An earlier "Recorded:" may still stand there; the answer is in the page once the old sheet is gone.
        as_shown.wait_for_element_state("hidden")
        desk.get_by_text("Recorded: ").wait_for()


def announce(desk) -> None:
    desk.goto(reverse("today"))
    look_at(desk)
    follow(desk, desk.get_by_role("link", name="Say that they are ready"))
    look_at(desk)
    desk.get_by_role("button", name="Send the notice").click()
    desk.get_by_text("sent").first.wait_for()
    jobs.drain()


def hand_over(desk, line: OrderLine) -> None:
    for taken in ("20", "40"):
        desk.goto(reverse("line_hand_over", args=[line.pk]))
        look_at(desk)
        desk.get_by_role("spinbutton", name="Taken now").fill(taken)
        follow(desk, desk.get_by_role("button", name="Hand them over"))
    line.refresh_from_db()
    assert (line.state, line.collected_quantity) == ("collected", 60)


def bill(desk, line: OrderLine) -> None:
    desk.goto(reverse("money"))
    look_at(desk)
    follow(desk, desk.get_by_role("link", name=f"Bill {line.order}"))
    look_at(desk)
    desk.get_by_role("button", name="Make the invoice").click()
    # By hand: 60 × 2.75 = 165.00; 13.5 % of it 22.275 → 22.28.
    desk.get_by_role("heading", name="€187.28 is still to be paid").wait_for()
    jobs.drain()
    for amount, says in (("10", "€177.28 is still to be paid"), ("177.28", "It is paid.")):
        follow(desk, desk.get_by_role("link", name="Record a payment"))
        look_at(desk)
        desk.get_by_label("Amount").fill(amount)
        desk.get_by_role("button", name="Record it").click()
        desk.get_by_role("heading", name=says).wait_for()
    look_at(desk)


def papers_open(desk, line: OrderLine) -> None:
    """The order's page leads to its three papers."""
    desk.goto(reverse("order", args=[line.order.code]))
    desk.wait_for_load_state("networkidle")
    look_at(desk)
    papers = desk.locator("a[href^='/papers/']")
    titles = set(Document.objects.filter(order=line.order).values_list("title", flat=True))
    assert (papers.count(), set(papers.all_inner_texts())) == (3, titles)
    for paper in papers.all():
        answer = desk.request.get(paper.get_attribute("href"))
        assert answer.body().startswith(b"%PDF"), paper.inner_text()
