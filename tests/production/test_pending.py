"""What Today says beside the work: who is to be told, and what is left over."""

import datetime as dt

import pytest
import time_machine
from django.urls import reverse

from orders import services as orders
from production.queries.pending import left_over, lines_to_tell
from production.services import handing_over, readiness

pytestmark = pytest.mark.django_db


@pytest.fixture
def ready(ground):
    """A line of 60 whose plants were counted ready, a few more than were ordered."""
    ground.lots()
    line = ground.line()
    part = ground.grow_to_ready(ground.part(line))
    ground.do(part, "count_ready")
    line.refresh_from_db()
    return line


def hand_over_all(ground, line) -> None:
    handing_over.hand_over(
        line=line,
        quantity=line.outstanding,
        by=ground.grower,
        today=ground.today,
        close_short=True,
        reason="Taken",
    )


def test_customer_is_to_be_told_until_the_notice_of_these_numbers_is_sent(ground, ready):
    assert lines_to_tell() == [ready]
    readiness.send_notice(line=ready, by=ground.grower, today=ground.today)
    assert lines_to_tell() == []


def test_whoever_fetched_some_is_told_only_of_what_is_counted_ready_later(ground, ready):
    more = ready.ready_quantity
    readiness.declare_ready(line=ready, quantity=more - 10, by=ground.grower, today=ground.today)
    ready.refresh_from_db()
    handing_over.hand_over(line=ready, quantity=more - 12, by=ground.grower, today=ground.today)
    assert ready.outstanding == 2
    assert lines_to_tell() == []
    readiness.declare_ready(line=ready, quantity=more, by=ground.grower, today=ground.today)
    assert lines_to_tell() == [ready]
    handing_over.hand_over(line=ready, quantity=1, by=ground.grower, today=ground.today)
    assert lines_to_tell() == []


def test_own_crop_and_what_was_collected_tell_nobody(ground, ready):
    hand_over_all(ground, ready)
    assert lines_to_tell() == []


def test_plants_are_left_over_once_their_order_has_ended(ground, ready):
    part = ground.part(ready)
    assert left_over() == []
    orders.cancel(line=ready, by=ground.grower, why="The glasshouse burnt down")
    (left,) = left_over()
    assert left.part == part
    assert left.plants >= ready.ready_quantity  # a few more were grown than were ordered
    handing_over.clear_out(part=part, by=ground.grower, today=ground.today, reason="Given away")
    assert left_over() == []


def test_today_shows_both_to_those_who_may_act(ground, ready, client):
    with time_machine.travel(dt.datetime.combine(ground.today, dt.time(12), dt.UTC), tick=False):
        part = ground.part(ready)
        client.force_login(ground.grower)
        assert reverse("line_notice", args=[ready.pk]) in client.get(reverse("today")).content.decode()
        orders.cancel(line=ready, by=ground.grower, why="The glasshouse burnt down")
        assert reverse("part_clear", args=[part.pk]) in client.get(reverse("today")).content.decode()
        client.force_login(ground.crew)
        page = client.get(reverse("today")).content.decode()
        assert reverse("line_notice", args=[ready.pk]) not in page
