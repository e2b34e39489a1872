"""The desk by API."""

from datetime import date, timedelta

import pytest
from rest_framework.test import APIClient

from orders.models import Order, Variety
from production.models import Batch
from tests.nursery import working_nursery

pytestmark = pytest.mark.django_db


@pytest.fixture
def working():
    return working_nursery(healing=2)


@pytest.fixture
def api(working):
    client = APIClient()
    client.force_authenticate(working.grower)
    return client


def wanted(working, **changes):
    day = working.nursery.today() + timedelta(days=105)
    line = {
        "quantity": 100,
        "scion": "Tallis Red",
        "rootstock": "Kelder",
        "container": working.pot.name,
        "pickup": (day - timedelta(days=day.weekday())).isoformat(),
    }
    return line | changes


def test_an_order_is_asked_answered_taken_confirmed_and_moved(api, working):
    line = wanted(working)
    said = api.post("/api/promise/", {"lines": [line]}, format="json").json()[0]
    assert said["fits"]
    assert {sowing["subject"] for sowing in said["plan"]["parts"][0]["sowings"]} == {"rootstock", "scion"}
    assert not Order.objects.exists()

    order = api.post("/api/orders/", {"customer": "Ostler farm", "lines": [line]}, format="json")
    assert order.status_code == 201
    code = order.json()["code"]
    confirmed = api.post(f"/api/orders/{code}/confirm/", {}, format="json").json()
    assert confirmed["lines"][0]["state"] == "confirmed"

    pk = confirmed["lines"][0]["id"]
    later = (date.fromisoformat(line["pickup"]) + timedelta(days=7)).isoformat()
    pieces = [{"quantity": 40, "pickup": line["pickup"]}, {"quantity": 60, "pickup": later}]
    looked = api.post(f"/api/lines/{pk}/move/", {"pieces": pieces}, format="json").json()
    assert not looked["saved"]
    assert Batch.objects.count() == 1
    assert api.post(f"/api/lines/{pk}/move/", {"pieces": pieces, "keep": True}, format="json").json()["saved"]
    assert [line["quantity"] for line in api.get(f"/api/orders/{code}/").json()["lines"]] == [40, 60]
    assert api.get(f"/api/lines/{pk}/plan/").json()[0]["plants"] == 40
    assert api.get("/api/season/").json()["places"]


def test_the_same_submit_key_makes_one_order(api, working):
    body = {
        "customer": "Ostler farm",
        "lines": [wanted(working)],
        "submit_key": "b3c5a1de-4e70-4d3c-9d4a-0d2f8f3f6a10",
    }
    codes = {api.post("/api/orders/", body, format="json").json()["code"] for _twice in range(2)}
    assert len(codes) == 1


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"quantity": 0}, "lines.0.quantity"),
        ({"quantity": 3_000_000}, "lines.0.quantity"),
        ({"pickup": "2020-01-06"}, "lines.0.pickup_asked"),
        ({"pickup": "soon"}, "lines.0.pickup"),
        ({"scion": "Kelder"}, "lines.0.scion"),
        ({"scion": "Nobody knows it"}, "lines.0.scion"),
        ({"container": "a bucket"}, "lines.0.container"),
    ],
)
def test_a_bad_value_is_a_problem_that_names_its_field(api, working, change, field):
    answer = api.post(
        "/api/orders/", {"customer": "Ostler farm", "lines": [wanted(working, **change)]}, format="json"
    )
    assert answer.status_code == 400
    assert answer["Content-Type"].startswith("application/problem+json")
    assert field in {fault["field"] for fault in answer.json()["faults"]}
    assert not Order.objects.exists()


def test_a_name_not_quite_written_is_answered_with_the_one_that_is_near(api, working):
    lines = [
        wanted(working, scion=f"{working.scion.name[:-2]}x"),
        wanted(working, scion=working.rootstock.name + "x"),
    ]
    faults = api.post("/api/promise/", {"lines": lines}, format="json").json()["faults"]
    said = {fault["field"]: str(fault) for fault in faults}
    assert f"Did you mean {working.scion.name}?" in said["lines.0.scion"]
    assert "Did you mean" not in said["lines.1.scion"], "a rootstock is no scion"


def test_an_unknown_variety_is_made_when_its_crop_is_named(api, working):
    line = wanted(working, scion="Pomfret", scion_crop=working.scion.crop.name)
    assert api.post("/api/promise/", {"lines": [line]}, format="json").json()[0]["fits"]
    assert not Variety.objects.filter(name="Pomfret").exists()
    api.post("/api/orders/", {"customer": "Ostler farm", "lines": [line, line]}, format="json")
    assert Variety.objects.filter(name="Pomfret").count() == 1


def test_a_stranger_gets_nothing(working):
    assert APIClient().get("/api/orders/").status_code == 401
    assert APIClient().post("/api/promise/", {"lines": []}, format="json").status_code == 401


def test_the_openapi_document_is_served(api):
    assert b"desk_answer" in api.get("/api/schema/").content


def test_an_order_is_held_held_longer_let_go_asked_again_and_confirmed(api, working):
    code = api.post("/api/orders/", {"customer": "Ostler farm", "lines": [wanted(working)]}, format="json").json()[
        "code"
    ]
    today = working.nursery.today()

    def post(way, **body):
        return api.post(f"/api/orders/{code}/{way}/", body, format="json")

    def only(answer):
        [line] = answer.json()["lines"]
        return line["state"], line["hold_until"]

    assert only(post("hold")) == ("held", str(today + timedelta(days=3)))
    assert only(post("hold/until", until=str(today + timedelta(days=5)))) == (
        "held",
        str(today + timedelta(days=5)),
    )
    past = post("hold/until", until=str(today - timedelta(days=1)))
    assert (past.status_code, [fault["field"] for fault in past.json()["faults"]]) == (400, ["until"])
    assert post("hold/until").status_code == 400
    assert only(post("let-go", why="They think on")) == ("let_go", None)
    assert post("let-go").status_code == 409
    assert post("confirm").status_code == 409
    line = Order.objects.get().lines.get()
    assert api.post(f"/api/lines/{line.pk}/again/").json()["state"] == "asked"
    assert api.post(f"/api/lines/{line.pk}/again/").status_code == 409
    assert only(post("hold", until=str(today)))[0] == "held"
    assert only(post("confirm")) == ("confirmed", None)
