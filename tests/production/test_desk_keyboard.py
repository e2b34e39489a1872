"""The desk in a real browser: three lines by the keyboard alone, and two people selling the last tray at once."""

from collections.abc import Callable
from datetime import date

import pytest
import time_machine
from django.urls import reverse
from playwright.sync_api import expect

from orders import services, states
from orders.models import Order, OrderLine
from tests.browser import assert_holds
from tests.factories import CustomerFactory, UserFactory
from tests.flow.story import at
from tests.nursery import TODAY, working_nursery

from .desk import full_chamber

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def clock():
    with time_machine.travel(at(TODAY), tick=True):
        yield


def typed(page, words: str, *, on: int = 1) -> None:
    """Type in the field that has the focus, and go so many fields on."""
    page.keyboard.type(words)
    for _field in range(on):
        page.keyboard.press("Tab")


def go_to(page, name: str, most: int = 40) -> None:
    """Press Tab until the field of that name has the focus; no other way is used."""
    for _press in range(most):
        if page.evaluate("document.activeElement.name") == name:
            return
        page.keyboard.press("Tab")
    pytest.fail(f"{name} cannot be reached by Tab")


def in_field(page, name: str) -> None:
    """The page has put us there; a moment passes before a page that has just come does so."""
    expect(page.locator(f"[name={name}]")).to_be_focused(timeout=20_000)


def press(page, keys: str) -> None:
    with page.expect_navigation():
        page.keyboard.press(keys)


def test_an_order_of_three_lines_is_taken_with_the_keyboard_alone(clock, open_page: Callable):
    working = working_nursery(healing=8)
    briar = CustomerFactory(name="Briar End")
    before = services.take_order(
        customer=briar, lines=[working.line(leaders="two_topped")], by=working.grower, today=TODAY
    )
    before.lines.update(pickup_asked=date(2026, 4, 22))
    page = open_page("desk", working.grower)
    page.goto(reverse("desk"))
    in_field(page, "customer")
    page.keyboard.type("briar end")
    page.locator("#earlier").get_by_text("Same as last year").wait_for()
    assert_holds(page)
    press(page, "Alt+y")  # the first line, as it was
    in_field(page, "lines-0-quantity")
    page.locator("#answer").get_by_text("Line 1 fits.").wait_for()
    press(page, "Alt+l")  # the second: another quantity of the same
    in_field(page, "lines-1-quantity")
    page.keyboard.press("ControlOrMeta+a")
    typed(page, "40")
    press(page, "Alt+l")  # the third: the combination by its name
    in_field(page, "lines-2-quantity")
    page.keyboard.press("ControlOrMeta+a")
    typed(page, "24")
    page.keyboard.press("ControlOrMeta+a")
    page.keyboard.type("Tallis Red on Kelder")
    expect(page.locator("[name=lines-2-scion]")).to_have_value("Tallis Red")
    in_field(page, "lines-2-scion")
    go_to(page, "lines-2-later")
    page.keyboard.press("ControlOrMeta+a")
    page.keyboard.type("5")
    page.locator("#answer").get_by_text("Line 3 fits.").wait_for()
    press(page, "Alt+p")
    order = Order.objects.exclude(pk=before.pk).get()
    assert order.customer == briar
    assert [line.quantity for line in order.lines.order_by("number")] == [100, 40, 24]
    assert {line.state for line in order.lines.all()} == {states.CONFIRMED}
    assert {line.leaders for line in order.lines.all()} == {"two_topped"}
    assert order.lines.get(number=3).later == 5


def test_the_answer_comes_with_the_typing_and_then_the_ways_out(clock, open_page: Callable):
    working = working_nursery(healing=2)
    full_chamber(working)
    page = open_page("desk", working.grower)
    fill(page)
    answer = page.locator("#answer")
    answer.get_by_role("button", name="Take it").first.wait_for()
    assert "does not fit" in answer.inner_text()
    assert_holds(page)
    page.get_by_label("Plants", exact=True).fill("61")
    answer.get_by_text("at first sight").wait_for()
    answer.get_by_role("button", name="Take it").first.wait_for()
    assert not Order.objects.filter(lines__quantity=61).exists()


def test_two_who_sell_the_last_tray_at_once_end_with_one_order_and_one_clear_answer(clock, open_page: Callable):
    working = working_nursery(healing=1)
    clerk = UserFactory(username="odd", role="office")
    pages = [open_page("desk", working.grower), open_page("desk", clerk)]
    for number, page in enumerate(pages):
        ask_for_the_tray(page, f"Caller {number}")
        page.locator("#answer").get_by_text("Line 1 fits.").wait_for()
    for page in pages:  # both at once: neither waits for the other
        page.evaluate("setTimeout(() => document.querySelector('[value=promise]').click(), 100)")
    for page in pages:
        page.wait_for_url("**/orders/*/")
    promised = OrderLine.objects.get(state=states.CONFIRMED)
    said = {page.url.split("/")[-2]: page.inner_text("body") for page in pages}
    assert f"Order {promised.order.code} is promised." in said.pop(promised.order.code)
    [told] = said.values()
    assert "is kept as asked. Nothing is promised." in told
    assert "Healing chamber" in told
    assert OrderLine.objects.get(state=states.ASKED).order.code in said


def ask_for_the_tray(page, customer: str) -> None:
    page.goto(reverse("desk"))
    page.get_by_label("Customer", exact=True).fill(customer)
    page.get_by_label("Kind", exact=True).select_option("room")
    page.get_by_label("Room in", exact=True).select_option("healing")
    for label, value in {"Plants": "1", "Nights": "4", "Days later": "0", "Pickup": "2027-03-17"}.items():
        page.get_by_label(label, exact=True).fill(value)


def fill(page, customer: str = "Briar End") -> None:
    page.goto(reverse("desk"))
    page.get_by_label("Customer", exact=True).fill(customer)
    for label, value in {
        "Scion": "Tallis Red",
        "Rootstock": "Kelder",
        "Plants": "60",
        "Days later": "0",
        "Pickup": "2027-04-21",
    }.items():
        page.get_by_label(label, exact=True).fill(value)
