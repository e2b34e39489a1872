"""What would help in a conflict: found for each line in it, looked at first, saved in place."""

from datetime import date, timedelta

import pytest
import time_machine
from django.db.models import F
from django.urls import reverse

from orders import services as orders
from orders import states
from production import bridge
from production.models import Place, Protocol, ProtocolStage
from production.planning.conflicts import conflicts
from production.planning.load import Load
from production.services import promise
from tests.factories import CustomerFactory
from tests.nursery import TODAY

pytestmark = pytest.mark.django_db
PLANTS, THURSDAY = 80, date(2027, 4, 22)
HTMX = {"HX-Request": "true"}


@pytest.fixture(autouse=True)
def _on_the_day():
    with time_machine.travel(TODAY):
        yield


@pytest.fixture
def pair(ground):
    return two_in_one_chamber(ground)


def two_in_one_chamber(ground):
    """Two lines that ask a chamber of two trays for four at once; the first could come four weeks later.

    Stages are never longer or shorter than usual, so that no other night before the pickup helps.
    """
    Place.objects.filter(name="Healing chamber").update(capacity=2)
    ProtocolStage.objects.filter(track="union").update(shortest=F("usual"), longest=F("usual"))
    Protocol.objects.update(keeping_nights=1)
    return [over(ground, later=28), over(ground, later=0)]


def over(ground, **changes):
    line = ground.nursery.line(**({"quantity": PLANTS, "pickup_asked": THURSDAY} | changes))
    order = orders.take_order(customer=CustomerFactory(), lines=[line], by=ground.grower, today=TODAY)
    promise.accept(order=order, by=ground.grower, today=TODAY, over_conflict="to see it")
    return order.lines.get()


def chamber():
    return [each for each in conflicts(Load(bridge.season_of(TODAY))) if each.name == "Healing chamber"]


def sent(pieces):
    data = {"pieces-TOTAL_FORMS": len(pieces), "pieces-INITIAL_FORMS": 0}
    for number, (quantity, pickup) in enumerate(pieces):
        data |= {f"pieces-{number}-quantity": quantity, f"pieces-{number}-pickup": pickup.isoformat()}
    return data


def test_a_conflict_is_ended_by_the_first_thing_that_helps(client, ground, pair):
    assert chamber()
    client.force_login(ground.grower)
    season = client.get(reverse("season"), {"view": "year"}).content.decode()
    assert reverse("line_ways", args=[pair[0].pk]) in season
    shown = client.get(reverse("line_ways", args=[pair[0].pk]), headers=HTMX)
    assert "<html" not in shown.content.decode()
    best = shown.context["options"][0]
    move = reverse("line_move", args=[pair[0].pk])
    looked = client.post(move, sent(best.pieces) | {"action": "look"}, headers=HTMX)
    assert "<html" not in looked.content.decode()
    assert "Save this move" in looked.content.decode()
    assert chamber(), "looking stores nothing"
    saved = client.post(move, sent(best.pieces) | {"action": "save"}, headers=HTMX)
    assert saved.headers["HX-Refresh"] == "true"
    assert not chamber()


def test_inside_the_agreed_days_is_offered_before_anything_else(client, ground, pair):
    client.force_login(ground.grower)
    best = client.get(reverse("line_ways", args=[pair[0].pk])).context["options"][0]
    ((quantity, pickup),) = best.pieces
    assert quantity == PLANTS
    assert pair[0].pickup_asked <= pickup <= pair[0].pickup_asked + timedelta(days=28)


def test_a_line_without_latitude_is_offered_other_days_a_split_and_more_room(client, ground, pair):
    client.force_login(ground.grower)
    for _n in range(2):  # so much that the day itself is full whatever is done
        over(ground, later=0)
    line = over(ground, later=0)
    options = client.get(reverse("line_ways", args=[line.pk])).context["options"]
    assert options
    for option in options:
        assert option.url or sum(quantity for quantity, _pickup in option.pieces) == PLANTS
        assert all(pickup >= TODAY for _quantity, pickup in option.pieces)
    ((_all, other),) = next(option.pieces for option in options if len(option.pieces) == 1)
    assert other != line.pickup


def test_a_line_that_is_sown_is_not_moved_and_says_so(client, ground, pair):
    client.force_login(ground.grower)
    type(pair[0]).objects.filter(pk=pair[0].pk).update(state=states.GROWING)
    page = client.get(reverse("line_ways", args=[pair[0].pk]))
    assert "not yet sown" in str(page.context["refusal"])
    refused = client.get(reverse("api_line_ways", args=[pair[0].pk]))
    assert refused.status_code in (400, 409)
    assert refused.json()["faults"][0]["field"] == "line"


def test_the_operation_says_the_same(client, ground, pair):
    client.force_login(ground.grower)
    said = client.get(reverse("api_line_ways", args=[pair[0].pk])).json()["answer"]
    assert said["fits"]
    best = client.get(reverse("line_ways", args=[pair[0].pk])).context["options"][0]
    assert date.fromisoformat(said["plan"]["pickup"]) == best.pieces[0][1]


def test_only_who_may_replan_sees_what_would_help(client, ground, pair):
    client.force_login(ground.clerk)
    assert client.get(reverse("line_ways", args=[pair[0].pk])).status_code == 403
    assert reverse("line_ways", args=[pair[0].pk]) not in client.get(reverse("season")).content.decode()
