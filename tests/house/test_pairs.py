"""Whatever can be done on a page can be done by API, by the same people: addresses are paired by their names."""

import re

import pytest
from django.http import HttpResponseNotAllowed
from django.test import RequestFactory

from orders.models import User
from orders.views.records import RecordPages
from tests.house.addresses import addresses, needs

# Pages that a program has no use for.
MAILS = "stands in for a mail server, from which a program gets mails as mails"
BY_LINK = "for a customer, who has a private link and no token of the API; confirming by API is the office's"
PORTIONS = "asks in portions for what the nursery's settings and lists take whole"
ONLY_PAGES = {
    "sign_in": "a program sends its token with each request",
    "sign_out": "a program sends its token with each request",
    "first_evening": PORTIONS,
    "first_evening_account": "the first account is a person's",
    "first_evening_step": PORTIONS,
    "first_evening_done": "only says what comes next",
    "nursery": "only leads to the lists",
    "desk_suggest": "only helps to type; the lists of customers, varieties and orders say more",
    "standing_suggest": "only helps to type; the lists of orders and seed lots say more",
    "customer_order": BY_LINK,
    "customer_paper": BY_LINK,
    "calendar_feed": "is for calendar programs, by the link alone",
    "mailbox": MAILS,
    "mailbox_message": MAILS,
    "mailbox_html": MAILS,
    "mailbox_attachment": MAILS,
}
# Where the operation goes by another name than its page.
OTHER_NAMES = {
    "desk": "api_orders",
    "today": "api_day",
    "batch_count": "api_part_counts",
    "protocol": "api_edit_protocol",
}

VIEWS = {name: view for _path, name, view in addresses() if name}
PAGES = sorted(name for name in VIEWS if not name.startswith("api_"))
PAIRED = [name for name in PAGES if name not in ONLY_PAGES]
WRITING = ("post", "patch", "delete")
PLURALS = {"user": "users"} | {kind.name: kind.plural for kind in RecordPages.__subclasses__()}


def operation_of(page: str) -> str:
    if new := re.fullmatch("new_(.+)", page):
        return f"api_{PLURALS[new[1]]}"
    if remove := re.fullmatch("remove_(.+)", page):
        return f"api_edit_{remove[1]}"
    return OTHER_NAMES.get(page, f"api_{page}")


def methods_of(page: str) -> set[str]:
    """What a page answers to, as it says itself when asked in a way that none knows."""
    request = RequestFactory().generic("NEITHER", "/")
    request.user = User(is_superuser=True)
    said = VIEWS[page](request, **dict.fromkeys(("pk", "code", "day", "part", "number", "token"), None))
    assert isinstance(said, HttpResponseNotAllowed), f"{page} does not say what it answers to"
    return set(said.headers["Allow"].split(", "))


@pytest.mark.parametrize("name", PAIRED)
def test_each_page_has_its_operation_for_the_same_people(name):
    assert operation_of(name) in VIEWS, f"no operation does by API what {name} does"
    writes = "POST" in methods_of(name)
    assert set(needs(VIEWS[name])) == set(needs(VIEWS[operation_of(name)], to_write=writes))


@pytest.mark.parametrize("name", PAIRED)
def test_what_a_page_changes_its_operation_changes(name):
    writes = "POST" in methods_of(name)
    assert not writes or any(hasattr(VIEWS[operation_of(name)].cls, method) for method in WRITING)


@pytest.mark.parametrize(("begins", "method"), [("new_", "post"), ("edit_", "patch"), ("remove_", "delete")])
def test_records_are_made_changed_and_removed_by_the_usual_methods(begins, method):
    pages = [name for name in PAIRED if name.startswith(begins)]
    assert pages
    assert [page for page in pages if not hasattr(VIEWS[operation_of(page)].cls, method)] == []


def test_no_exception_has_outlived_its_page():
    assert set(ONLY_PAGES) | set(OTHER_NAMES) <= set(PAGES)
    assert {page for page in ONLY_PAGES if operation_of(page) in VIEWS} == set()
