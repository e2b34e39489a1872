"""How often each page and operation asks the database: no more for a larger season, and no more than said here."""

import re
from collections import Counter
from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import translation

from invoicing.models import Invoice, Payment
from orders.models import Container, Crop, Customer, Document, Letter, MailboxMessage, Order, Price, User, Variety
from production import at_hand
from production.models import (
    Allocation,
    Batch,
    CalendarLink,
    Count,
    OrderList,
    Person,
    Place,
    SeedLot,
    Skill,
    Stay,
)
from tests.grown import grow, small_season
from tests.house.addresses import addresses

pytestmark = pytest.mark.django_db

MOST = 30  # questions, six of them about who asks
# Pages on which many things stand, each with a question of its own.
MORE: dict[str, int] = {
    "today": 40,
    "today_part": 36,
    "api_day": 38,
    "glance": 62,
    "api_glance": 63,  # one more where some of a line were fetched and others wait untold
    "season_file": 35,
    "api_season_file": 35,
    "customer_order": 36,
    "edit_protocol": 60,
}
# Pages that may ask more often when what they are about has grown, and why.
MAY_GROW: dict[str, str] = {
    "edit_protocol": "has forms for each stage of its one protocol",
}
KB = 60  # of a page as it is sent, packed; what each loads beside it (tests/house/test_parts.py) is less than 40

# Addresses without a page of their own.
LEFT_OUT = {
    "api_schema": "describes the operations and asks nothing",
    "api_nowhere": "says that there is no such operation",
    "api_season_level": "says that there is none until a levelling was asked for",
    "sign_in": "leads on whoever has signed in",
    "first_evening": "leads on once there is a nursery",
    "first_evening_account": "closes with the first user",
}

# What stands behind a number or a code in an address, by the beginning of the name.
FIRST: dict[str, Callable[[], Any]] = {
    "edit_crop": lambda: Crop.objects.earliest("pk").pk,
    "edit_variety": lambda: Variety.objects.earliest("pk").pk,
    "edit_container": lambda: Container.objects.earliest("pk").pk,
    "edit_price": lambda: Price.objects.earliest("pk").pk,
    "edit_customer": lambda: Customer.objects.earliest("pk").pk,
    "edit_place": lambda: Place.objects.earliest("pk").pk,
    "edit_person": lambda: Person.objects.earliest("pk").pk,
    "edit_skill": lambda: Skill.objects.earliest("pk").pk,
    "edit_seed_lot": lambda: SeedLot.objects.earliest("pk").pk,
    "edit_user": lambda: User.objects.earliest("pk").pk,
    "lot_": lambda: SeedLot.objects.earliest("pk").pk,
    "letter": lambda: Letter.objects.earliest("pk").pk,
    "mailbox_": lambda: MailboxMessage.objects.earliest("pk").pk,
    "taken_list": lambda: OrderList.objects.earliest("pk").pk,
    "place": lambda: Place.objects.get(name="Long bench").pk,
}


@pytest.fixture
def on(time_machine, settings):
    settings.EMAIL_BACKEND = "orders.mailbox.MailboxBackend"
    return small_season(lambda day: time_machine.move_to(f"{day}T09:00:00Z", tick=False))


def _line(state: str) -> Any:
    return Allocation.objects.filter(line__state=state).earliest("pk").line


def arguments(name: str, on: Any) -> dict[str, Any]:
    """Of an address: always the same things, of which there are more rows in the larger season."""
    bare = name.removeprefix("api_")
    ready = _line("ready")
    by_name: dict[str, Any] = {
        "pk": next((found() for begin, found in FIRST.items() if bare.startswith(begin)), 1),
        "day": on.today,
        "number": 1,
        "code": ready.order.code,
        "token": Document.objects.earliest("pk").token,
        "kind": "csv",
        "part": "late",
        "name": "about",
    }
    if bare.startswith("batch"):
        by_name["code"] = Batch.objects.earliest("pk").code
    if bare.startswith(("line_", "order_hold", "order_let")):
        by_name["pk"] = ready.pk
    for begin, found in {
        "line_move": lambda: _line("confirmed").pk,
        "line_ways": lambda: _line("confirmed").pk,
        "protocol": lambda: Batch.objects.earliest("pk").protocol_id,
        "edit_protocol": lambda: Batch.objects.earliest("pk").protocol_id,
        "stand_": lambda: Stay.objects.filter(entered=True, left=False).earliest("pk").pk,
        "part_": lambda: Batch.objects.earliest("pk").parts.earliest("pk").pk,
        "count_": lambda: Count.objects.order_by("recorded_at", "pk").first().pk,
        "payment_": lambda: Payment.objects.earliest("pk").pk,
    }.items():
        if bare.startswith(begin):
            by_name["pk"] = found()
    if bare.startswith("invoice"):
        by_name["number"] = Invoice.objects.earliest("pk").number
    if bare.startswith("customer_"):
        by_name["token"] = Order.objects.earliest("pk").token
        by_name["paper"] = Document.objects.filter(order__token=by_name["token"]).earliest("pk").token
    if bare == "calendar_feed":
        by_name["token"] = CalendarLink.objects.get().token
    if bare == "desk_suggest":
        by_name["kind"] = "customer"
    if bare == "standing_suggest":
        by_name["kind"] = "line"
    if bare == "mailbox_attachment":
        by_name["number"] = 0
    return by_name


def opened(on: Any) -> dict[str, tuple[list[str], int]]:
    """Of each address that answers GET with 200: what it asked the database, and how many bytes it sent."""
    client = Client()
    client.force_login(on.grower)
    client.get(reverse("today"))  # the day turns once, and what is kept for good is read
    found, lost = {}, {}
    for path, name, _view in addresses():
        if not name or name in LEFT_OUT or path.endswith((".pdf", "/labels/", "/sheet/")):
            continue  # papers are drawn longer than all of this takes
        given = arguments(name, on)
        asked = re.findall(r"<(?:\w+:)?(\w+)>", path)
        url = reverse(name, kwargs={key: given[key] for key in asked})
        at_hand._kept.clear()  # what is kept between two questions is to be counted as well
        with CaptureQueriesContext(connection) as queries:
            answer = client.get(url, headers={"accept-encoding": "gzip"})
            sent = b"".join(answer.streaming_content) if answer.streaming else answer.content
        if answer.status_code == 200:
            found[name] = [query["sql"] for query in queries], len(sent)
        elif answer.status_code not in (302, 405):
            lost[name] = f"{answer.status_code} at {url}"
    assert lost == {}
    return found


def test_no_page_asks_more_often_for_a_larger_season(on):
    few = opened(on)
    with translation.override(None):
        grow()
    many = opened(on)
    assert few.keys() == many.keys()
    grown = {
        name: f"{len(few[name][0])} -> {len(asked)}: {_worst(few[name][0], asked)}"
        for name, (asked, _size) in many.items()
        if len(asked) > len(few[name][0]) and name not in MAY_GROW
    }
    assert grown == {}, "\n".join(f"{name} {said}" for name, said in grown.items())
    often = {name: len(asked) for name, (asked, _size) in many.items() if len(asked) > MORE.get(name, MOST)}
    assert often == {}
    # The season as a file is the whole of it; a program takes lists as long as they are.
    pages = {
        name: size
        for name, (_asked, size) in many.items()
        if not name.startswith("api_") and name != "season_file"
    }
    assert {name: size for name, size in pages.items() if size > KB * 1000} == {}


def _worst(few: list[str], many: list[str]) -> str:
    """What is asked more often than before."""
    shapes = [Counter(re.sub(r"\b\d+\b|'[^']*'|\([?, ]+\)", "?", sql) for sql in asked) for asked in (few, many)]
    more = shapes[1] - shapes[0]
    return "; ".join(f"{n} x {shape[:60]}... {shape[-160:]}" for shape, n in more.most_common(2))
