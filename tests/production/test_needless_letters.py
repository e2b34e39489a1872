"""Calls and drafts that a later event made needless are put aside, and say why."""

import pytest
from django.urls import reverse

from orders import jobs
from orders import services as orders
from orders.models import Letter
from production.services import handing_over, readiness
from tests.factories import CustomerFactory

pytestmark = [pytest.mark.django_db, pytest.mark.papers]


@pytest.fixture
def rung():
    return CustomerFactory(email="", phone="+353 1 555 0142")


@pytest.fixture
def ready(ground, rung):
    """A line counted ready, whose customer has no address and was told nothing yet."""
    ground.lots()
    line = ground.line(customer=rung)
    jobs.drain()
    assert waiting(line) == ["confirmation"]
    ground.do(ground.grow_to_ready(ground.part(line)), "count_ready")
    line.refresh_from_db()
    return line


def waiting(line) -> list[str]:
    calls = line.order.letters.filter(state=Letter.State.TO_CALL)
    return list(calls.order_by("pk").values_list("kind", flat=True))


def aside(line) -> dict[str, str]:
    put = line.order.letters.filter(state=Letter.State.PUT_ASIDE)
    return dict(put.order_by("pk").values_list("kind", "ended_reason"))


def notice(ground, line) -> None:
    readiness.send_notice(line=line, by=ground.grower, today=ground.today)
    jobs.drain()


def hand_over(ground, line, quantity) -> None:
    handing_over.hand_over(line=line, quantity=quantity, by=ground.grower, today=ground.today)


def test_once_it_is_ready_nobody_is_rung_to_hear_that_it_is_confirmed(ground, ready):
    notice(ground, ready)
    assert waiting(ready) == ["pickup_ready"]
    assert aside(ready) == {"confirmation": "since then the plants became ready"}


def test_whoever_fetched_all_is_not_rung_up_any_more(ground, ready, client):
    notice(ground, ready)
    hand_over(ground, ready, ready.quantity)
    assert waiting(ready) == []
    day = ground.today.strftime("%a %-d %B")
    assert aside(ready)["pickup_ready"] == f"fetched on {day}"
    client.force_login(ground.grower)
    page = client.get(reverse("letters")).content.decode()
    assert f"put aside: fetched on {day}" in page


def test_fetched_without_a_notice_the_confirmation_is_put_aside_too(ground, ready):
    hand_over(ground, ready, ready.quantity)
    assert waiting(ready) == []
    assert list(aside(ready)) == ["confirmation"]


def test_whoever_fetched_some_knows_that_they_are_ready(ground, ready):
    notice(ground, ready)
    hand_over(ground, ready, 20)
    assert waiting(ready) == []


def test_a_line_that_still_grows_is_still_to_be_told_of(ground, ready):
    twin = orders.split_off(line=ready, quantity=5, by=None)
    type(twin).objects.filter(pk=twin.pk).update(state="growing", ready_quantity=0)
    notice(ground, ready)
    hand_over(ground, ready, ready.quantity)
    assert waiting(ready) == ["confirmation"]


def test_a_newer_notice_takes_the_place_of_the_older_of_its_line(ground, ready):
    notice(ground, ready)
    readiness.declare_ready(line=ready, quantity=ready.quantity - 1, by=ground.grower, today=ground.today)
    ready.refresh_from_db()
    notice(ground, ready)
    assert waiting(ready) == ["pickup_ready"]
    assert aside(ready)["pickup_ready"] == "a newer one took its place"


def test_what_was_taken_back_is_told_still_though_the_plants_were_ready(ground, ready):
    notice(ground, ready)
    orders.cancel(line=ready, by=ground.grower, why="The glasshouse burnt down")
    jobs.drain()
    assert waiting(ready) == ["confirmation"]
    assert aside(ready)["pickup_ready"] == "the line has ended"
    assert "is cancelled" in Letter.objects.get(order=ready.order, state="to_call").call_words
