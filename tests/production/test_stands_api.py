"""Batches, places, seed and standing plants by API."""

import datetime as dt

import pytest
import time_machine
from rest_framework.test import APIClient

from production.models import Part, Place, ProtocolStage, SeedLot


@pytest.fixture
def api(ground):
    client = APIClient()
    client.force_authenticate(ground.grower)
    with time_machine.travel(dt.datetime.combine(ground.today, dt.time(9), dt.UTC), tick=False):
        yield client


def standing(ground, **changes):
    stage = ProtocolStage.objects.get(
        protocol__method="splice", protocol__current=True, track="union", kind="growing_on"
    )
    return {
        "scion": ground.scion.pk,
        "rootstock": ground.rootstock.pk,
        "plants": 140,
        "container": ground.nursery.pot.name,
        "place": "Long bench",
        "entered_on": str(ground.today - dt.timedelta(days=3)),
        "pickup": str(ground.today + dt.timedelta(days=16)),
        "stage": stage.pk,
        "own_crop": True,
        **changes,
    }


def test_standing_plants_are_entered_looked_at_regrouped_and_cleared(ground, api):
    entered = api.post("/api/standing/", standing(ground, own_crop=False), format="json")
    assert entered.status_code == 201, entered.json()
    part = Part.objects.get(pk=entered.json()["id"])

    listed = api.get("/api/batches/").json()
    assert [batch["code"] for batch in listed] == [part.batch.code]
    seen = api.get(f"/api/batches/{part.batch.code}/").json()["parts"][0]
    assert seen["stands"][0]["containers"] == 18  # 140 plants, eight to a tray
    bench = Place.objects.get(name="Long bench")
    assert api.get(f"/api/places/{bench.pk}/").json()["nights"][0]["load"] == 18
    tonight = {view["place"]: view["nights"][0]["load"] for view in api.get("/api/places/").json()}
    assert tonight["Long bench"] == 18

    stand = seen["stands"][0]["id"]
    too_few = api.post(f"/api/stands/{stand}/", {"containers": 2}, format="json")
    assert too_few.status_code == 400
    assert too_few.json()["faults"][0]["field"] == "containers"

    gone = api.post(f"/api/parts/{part.pk}/clear/", {"reason": "given away"}, format="json").json()
    assert gone["state"] == "gone"


def test_what_cannot_stand_names_the_field(ground, api):
    answer = api.post("/api/standing/", standing(ground, stage=None), format="json")
    assert answer.status_code == 400
    assert {fault["field"] for fault in answer.json()["faults"]} == {"scion_side", "rootstock_side"}
    later = api.post("/api/standing/", standing(ground, entered_on="2031-01-01"), format="json")
    assert later.status_code == 400
    assert "entered_on" in {fault["field"] for fault in later.json()["faults"]}
    assert not Part.objects.exists()


def test_seed_is_traced_both_ways(ground, api):
    ground.lot(ground.rootstock)
    lot = ground.lot(ground.scion)
    line = ground.line()
    ground.sow(ground.part(line))
    lots = {row["lot"] for row in api.get(f"/api/lines/{line.pk}/seed/").json()}
    assert lots == set(SeedLot.objects.values_list("code", flat=True))
    went = api.get(f"/api/lots/{lot.pk}/trace/").json()
    assert [(row["line"], row["customer"]) for row in went] == [(str(line), line.order.customer.name)]


def test_crew_hand_over_and_the_office_does_not_record_counts(ground, api):
    part = Part.objects.get(pk=api.post("/api/standing/", standing(ground), format="json").json()["id"])
    api.force_authenticate(ground.clerk)
    assert api.post(f"/api/parts/{part.pk}/clear/", {"reason": "x"}, format="json").status_code == 403
    line = part.allocations.get().line
    api.force_authenticate(ground.crew)
    refused = api.post(f"/api/lines/{line.pk}/hand-over/", {"quantity": 1}, format="json")
    assert refused.status_code in (400, 409)  # may, but nothing is ready yet
