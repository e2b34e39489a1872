"""The demo nursery as `./run demo` serves it, looked through in a browser, link by link."""

import json
import re
from collections import deque
from collections.abc import Iterator
from datetime import timedelta
from urllib.parse import urljoin, urlsplit

import pytest
from django.urls import resolve
from django.utils import timezone

from config import demo
from orders import states
from tests import browser
from tests.served import serving
from tests.services import ROOT

pytestmark = [pytest.mark.browser, pytest.mark.papers, pytest.mark.xdist_group("demo")]

NO_PAGES = frozenset(  # papers and files
    {
        "paper",
        "customer_paper",
        "season_sheet_paper",
        "day_sheet_paper",
        "day_labels",
        "batch_labels",
        "mailbox_attachment",
        "mailbox_html",
        "season_file",
        "take_list_empty",
        "taken_list_rows",
    }
)


@pytest.fixture(scope="module")
def address(tmp_path_factory) -> Iterator[str]:
    """The demo nursery, lived up to today and served."""
    with serving(tmp_path_factory.mktemp("demo"), GRAFTWRIGHT_DEMO="true") as served:
        served.first_page(240)
        yield served.address


@pytest.fixture
def grower(address, new_context):
    """The page that is shown to who signs in at a desk as `./run demo` says."""
    page = browser.open_page(new_context, address, "desk")
    page.goto("/sign-in/")
    page.get_by_label("Name").fill("grower")
    page.get_by_label("Password").fill(demo.PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    yield page
    assert not page.trouble, page.trouble


def test_every_page_opens_fits_and_is_accessible(grower):
    for link in one_of_each_kind(grower):
        if kind(link) in NO_PAGES:
            file = grower.request.get(link)
            assert (file.status, bool(file.body())) == (200, True), link
            continue
        assert grower.goto(link).status == 200, link
        browser.assert_fits(grower)
        browser.assert_accessible(grower)


def one_of_each_kind(page) -> Iterator[str]:
    """Addresses within the service that links lead to from here, one of each kind; the page is opened on each."""
    ahead, seen = deque([page.url]), set()
    while ahead:
        link = ahead.popleft()
        if kind(link) in seen:
            continue
        seen.add(kind(link))
        yield link
        ahead.extend(links(page))


def links(page) -> list[str]:
    found = page.eval_on_selector_all("a[href]", "links => links.map(link => link.href)")
    here = urlsplit(page.url).netloc
    return [urljoin(page.url, link).split("#")[0] for link in found if urlsplit(link).netloc == here]


def kind(link: str) -> str:
    return resolve(urlsplit(link).path).view_name


def test_conflicts_are_there_to_find_and_open_to_their_days_and_orders(grower):
    grower.goto("/season/")
    conflicts = grower.locator("details.answer.no")
    assert conflicts.count() >= 2
    for conflict in conflicts.all():
        if conflict.get_attribute("open") is None:
            conflict.locator("summary").click()
        assert conflict.get_by_text("Who asks most").is_visible()
        assert conflict.locator("tbody tr").count() >= 1
    named = " ".join(conflicts.all_inner_texts())
    assert "Healing chamber" in named
    assert "Hands for grafting" in named


def test_orders_stand_in_every_state_that_a_line_can_be_brought_to(grower):
    grower.goto("/orders/")
    shown = {each.partition(" until ")[0] for each in grower.locator("table .status").all_inner_texts()}
    assert grower.locator("table tbody tr").count() == 42
    assert shown == {state.replace("_", " ") for state in states.STATES}


def test_the_example_of_the_readme_is_answered_to_who_has_a_token(grower):
    grower.goto("/nursery/users/")
    grower.get_by_role("link", name="grower").click()
    grower.get_by_role("button", name="Make a token").click()
    token = grower.locator("code").inner_text()
    example = re.search(r"curl .*?-d '(.*?)'", (ROOT / "README.md").read_text(), re.DOTALL)
    body = json.loads(example[1])
    body["lines"][0]["pickup"] = (timezone.localdate() + timedelta(days=120)).isoformat()
    answer = grower.request.post("/api/promise/", data=body, headers={"Authorization": f"Token {token}"})
    assert answer.status == 200, answer.text()
    assert answer.json()[0]["plan"], answer.text()
