"""The pages of work in a real browser: axe finds nothing, nothing scrolls sideways, the CSP keeps nothing out."""

import datetime as dt

import pytest
import time_machine
from django.urls import reverse

from production.models import SeedLot, Stay
from production.services.readiness import declare_ready
from tests.browser import assert_holds

from .growing import Ground, ground

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def ready():
    """A line of 60 of which 50 are counted ready."""
    ground_ = ground()
    ground_.lots()
    first = ground_.line()
    part = ground_.grow_to_ready(ground_.part(first))
    declare_ready(line=first, quantity=50, by=ground_.grower, today=ground_.today, reason="fewer took")
    ground_.line_, ground_.part_ = first, part
    noon = dt.datetime.combine(ground_.today, dt.time(12), tzinfo=dt.UTC)
    with time_machine.travel(noon, tick=True):
        yield ground_


def addresses(ground_: Ground) -> list[str]:
    line, part = ground_.line_, ground_.part_
    stay = Stay.objects.filter(part=part, entered=True, left=False).first()
    count = part.counts.filter(kind="taken").first()
    named = {
        "today": [],
        "day": [ground_.today + dt.timedelta(days=1)],
        "batches": [],
        "batch": [part.batch.code],
        "place": [stay.place_id],
        "count_correct": [count.pk],
        "stand_regroup": [stay.pk],
        "part_clear": [part.pk],
        "standing": [],
        "line_ready": [line.pk],
        "line_notice": [line.pk],
        "line_hand_over": [line.pk],
        "line_trace": [line.pk],
        "lot_trace": [SeedLot.objects.first().pk],
        "order": [line.order.code],
    }
    pairs = reverse("batch_stems", args=[part.batch.code, part.number])
    return [
        *(reverse(name, args=args) for name, args in named.items()),
        pairs,
        f"{pairs}?by=measured&rootstocks=2.0x4+2.3&scions=2.1x4&thicker=0.2&thinner=0.2",
        f"{pairs}?by=spread&rootstock_stems=none",
    ]


def test_every_page_of_work_can_be_read_and_reached(ready, open_page):
    page = open_page("phone", ready.grower)
    for address in addresses(ready):
        page.goto(address)
        page.wait_for_load_state("networkidle")
        page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
        assert_holds(page)
