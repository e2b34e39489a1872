"""A batch that a line joined, lived through: sown once, grafted once, handed over twice on two days."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.db.models import F

from orders import states
from production import shared
from production.models import Part, Place, Protocol, ProtocolStage, Stay
from production.services import joining, promise
from production.services.handing_over import hand_over

pytestmark = pytest.mark.django_db
THURSDAY = date(2027, 4, 22)


@pytest.fixture
def narrow(ground):
    """Three trays in the chamber, and stages never longer or shorter: two lines of 65 fit only together."""
    Place.objects.filter(name="Healing chamber").update(capacity=3)
    ProtocolStage.objects.filter(track="union").update(shortest=F("usual"), longest=F("usual"))
    Protocol.objects.update(keeping_nights=3)
    ground.lots()
    return ground


def trays(part: Part) -> int:
    return sum(stay.containers for stay in Stay.objects.filter(part=part, entered=True, left=False))


def test_two_lines_of_one_batch_are_each_handed_over_on_their_day(narrow):
    first = narrow.line(quantity=65, pickup_asked=THURSDAY, later=0)
    second = narrow.asked(quantity=65, pickup_asked=THURSDAY + timedelta(days=1), later=0, collection_days=1)
    name = str(narrow.part(first))
    promise.accept(order=second.order, by=narrow.grower, today=narrow.today, joining=[joining.named(name)])
    part = narrow.grow_to_ready(narrow.part(first))
    part.refresh_from_db()
    assert (part.late_by, part.pickup) == (0, THURSDAY)
    narrow.do(part, "count_ready", 130)
    for line in (first, second):
        line.refresh_from_db()
        assert (line.state, line.ready_quantity) == (states.READY, 65)

    narrow.today, before = THURSDAY, trays(part)
    hand_over(line=first, quantity=65, by=narrow.clerk, today=narrow.today)
    part.refresh_from_db()
    assert part.state == Part.State.READY
    assert trays(part) < before  # the room of the first is free

    narrow.today = THURSDAY + timedelta(days=1)
    hand_over(line=second, quantity=65, by=narrow.clerk, today=narrow.today, spare_too=True)
    for line in (first, second):
        line.refresh_from_db()
        assert line.state == states.COLLECTED
    part.refresh_from_db()
    assert part.state == Part.State.GONE


def test_of_too_few_plants_the_earlier_pickup_gets_its_own_first(narrow):
    first = narrow.line(quantity=65, pickup_asked=THURSDAY, later=0)
    second = narrow.asked(quantity=65, pickup_asked=THURSDAY + timedelta(days=1), later=0, collection_days=1)
    into = joining.named(str(narrow.part(first)))
    promise.accept(order=second.order, by=narrow.grower, today=narrow.today, joining=[into])
    part = narrow.grow_to_ready(narrow.part(first))
    narrow.do(part, "count_ready", 100, reason="a cold week")
    for line in (first, second):
        line.refresh_from_db()
    assert (first.ready_quantity, second.ready_quantity) == (65, 35)


def test_a_part_is_for_all_its_lines_and_never_meant_for_more_than_it_holds(narrow):
    first = narrow.line(quantity=65, pickup_asked=THURSDAY, later=0)
    second = narrow.asked(quantity=65, pickup_asked=THURSDAY, later=0)
    into = joining.named(str(narrow.part(first)))
    promise.accept(order=second.order, by=narrow.grower, today=narrow.today, joining=[into])
    part = narrow.part(first)
    assert sum(part.allocations.values_list("quantity", flat=True)) == part.plants == 130
    assert [line.pk for line in shared.lines_of(part)] == [first.pk, second.pk]
