"""The nursery's own data by API: made, read, changed and taken away as on its pages."""

import json
from decimal import Decimal

import pytest
from django.core.management import call_command
from rest_framework.test import APIClient

from orders.models import Crop, Customer, HistoryEntry, Nursery, User, Variety
from production.models import ClosedDay, Person, Place, PlaceOpening, Protocol, SeedLot
from production.services import answering
from tests.factories import UserFactory
from tests.nursery import TODAY, working_nursery

pytestmark = pytest.mark.django_db


@pytest.fixture
def working():
    return working_nursery()


@pytest.fixture
def api(working):
    return signed_in(working.grower)


def signed_in(user: User) -> APIClient:
    client = APIClient()
    client.force_authenticate(user)
    return client


def send(api: APIClient, method: str, path: str, body: object = None, *, code: int = 200):
    answer = getattr(api, method)(f"/api/nursery/{path}", body, format="json")
    assert answer.status_code == code, answer.content
    return json.loads(answer.content) if answer.content else None


def faults(answer: dict) -> dict[str, str]:
    return {fault["field"]: fault["reason"] for fault in answer["faults"]}


# --- plain data -------------------------------------------------------------------------------------------------


def test_a_place_is_made_read_changed_and_taken_away_with_its_rows_and_history(api):
    body = {
        "name": "Fog tunnel",
        "kinds": ["healing"],
        "capacity": 8,
        "temperature": 28.5,
        "openings": [{"first": "2027-02-01", "last": "2027-05-31"}, {"first": "2027-08-01", "last": "2027-09-30"}],
    }
    made = send(api, "post", "places/", body, code=201)
    path = f"places/{made['id']}/"
    assert send(api, "get", path) == made
    assert [row["last"] for row in made["openings"]] == ["2027-05-31", "2027-09-30"]

    spring = made["openings"][0] | {"last": "2027-06-15"}
    changed = send(
        api, "patch", path, {"capacity": 10, "openings": [spring, {"first": "2028-02-01", "last": "2028-05-31"}]}
    )
    assert (changed["capacity"], changed["temperature"]) == (10, 28.5)
    assert changed["openings"][0] == spring
    assert [row.first.year for row in PlaceOpening.objects.filter(place_id=made["id"])] == [2027, 2028]
    assert send(api, "patch", path, {"humidity": 90})["openings"] == changed["openings"]

    said = HistoryEntry.objects.filter(code="Fog tunnel").order_by("id").values_list("what", "text")
    assert [what for what, _text in said] == ["place made", "place changed", "place changed"]
    assert said[1][1] == "Changed: Capacity, Open only on these days."
    send(api, "delete", path, code=204)
    assert not Place.objects.filter(name="Fog tunnel").exists()


def test_degrees_and_lengths_are_celsius_and_centimetres_whatever_the_pages_show(api):
    Nursery.objects.update(temperature_unit="F", length_unit="in")
    made = send(
        api, "post", "places/", {"name": "Shed", "kinds": ["bench"], "capacity": 4, "temperature": 20}, code=201
    )
    assert Place.objects.get(pk=made["id"]).temperature == 20
    tray = {"name": "Long tray", "plants": 60, "length_cm": 60, "width_cm": 40}
    assert send(api, "post", "trays-and-pots/", tray, code=201)["length_cm"] == 60


def test_every_fault_is_named_and_nothing_is_saved(api):
    body = {
        "name": "",
        "kinds": ["cellar"],
        "capacity": "plenty",
        "humidty": 90,
        "openings": [{"first": "2027-06-01", "last": "2027-06-31"}, {"frist": "2027-06-01"}],
    }
    said = faults(send(api, "post", "places/", body, code=400))
    assert set(said) == {
        "name", "kinds.0", "capacity", "humidty", "openings.0.last", "openings.1.first", "openings.1.last",
        "openings.1.frist",
    }  # fmt: skip
    assert said["humidty"] == "There is no such field here."

    sound = {"name": "Cold room", "kinds": ["cold"], "capacity": 9, "temperature": 20}
    assert set(faults(send(api, "post", "places/", sound | {"temperature": 80}, code=400))) == {"temperature"}
    rows = [{"first": "2027-06-01", "last": "2027-06-02"}, {"first": "2027-06-09", "last": "2027-06-01"}]
    said = faults(send(api, "post", "places/", sound | {"openings": rows}, code=400))
    assert set(said) == {"openings.1.last"}
    assert not Place.objects.filter(name="Cold room").exists()


def test_a_row_of_another_record_is_not_touched(api):
    one = {
        "name": "A",
        "kinds": ["bench"],
        "capacity": 4,
        "openings": [{"first": "2027-02-01", "last": "2027-03-01"}],
    }
    row = send(api, "post", "places/", one, code=201)["openings"][0]
    other = send(api, "post", "places/", {"name": "B", "kinds": ["bench"], "capacity": 4}, code=201)
    said = faults(send(api, "patch", f"places/{other['id']}/", {"openings": [row]}, code=400))
    assert said == {"openings.0.id": "No such row belongs to this."}


def test_what_is_in_use_is_not_taken_away(api, working):
    said = send(api, "delete", f"varieties/{working.scion.pk}/", code=204)
    assert said is None
    SeedLot.objects.create(code="K1", variety=working.rootstock, seeds=100, received_on=TODAY)
    refused = send(api, "delete", f"varieties/{working.rootstock.pk}/", code=409)
    assert "1 seed lot" in refused["detail"]


def test_a_new_variety_begins_with_the_clock_of_its_crop(api, working):
    crop = Crop.objects.get(pk=working.scion.crop_id)
    made = send(api, "post", "varieties/", {"crop": crop.pk, "name": "Orla", "role": "scion"}, code=201)
    assert made["graftable_aim"] == crop.graftable_aim
    send(api, "post", "varieties/", {"crop": crop.pk, "name": "Orla", "role": "scion"}, code=400)
    said = faults(send(api, "patch", f"varieties/{made['id']}/", {"graftable_first": 500}, code=400))
    assert set(said) == {"graftable_aim"}
    changed = send(api, "patch", f"varieties/{made['id']}/", {"emerged_share": 0.8125})
    assert changed["emerged_share"] == 0.8125
    assert Variety.objects.get(pk=made["id"]).graftable_aim == crop.graftable_aim


def test_people_have_hours_skills_and_absences(api):
    [first, *_rest] = send(api, "get", "hands/")
    skills = [skill["id"] for skill in send(api, "get", "skills/")]
    away = [{"first": "2027-03-01", "last": "2027-03-05"}]
    said = send(api, "patch", f"hands/{first['id']}/", {"friday": "4.5", "skills": skills[:2], "absences": away})
    person = Person.objects.get(pk=first["id"])
    assert (person.friday, person.monday) == (Decimal("4.5"), Decimal("8"))
    assert set(person.skills.values_list("pk", flat=True)) == set(skills[:2])
    assert len(said["absences"]) == 1
    assert faults(send(api, "patch", f"hands/{first['id']}/", {"monday": 25}, code=400)).keys() == {"monday"}


def test_hours_are_said_by_part_of_the_day(api):
    [first, *_rest] = send(api, "get", "hands/")
    path, evening = f"hands/{first['id']}/", {"part": "evening", "monday": "2.00"}
    said = send(api, "patch", path, {"hours_by_part": [evening]})
    assert {"part": "evening", "monday": "2.00", "tuesday": None}.items() <= said["hours_by_part"][0].items()
    twice = {"hours_by_part": [evening, evening]}
    assert set(faults(send(api, "patch", path, twice, code=400))) == {"hours_by_part.1.part"}
    moved = {"hours_by_part": [{"id": said["hours_by_part"][0]["id"], "part": "morning"}]}
    assert set(faults(send(api, "patch", path, moved, code=400))) == {"hours_by_part.0.part"}
    assert send(api, "patch", path, {"hours_by_part": []})["hours_by_part"] == []


def test_who_works_alone_has_all_skills_and_is_told_so(api):
    alone = Person.objects.order_by("pk").first()
    Person.objects.exclude(pk=alone.pk).delete()
    evening = [{"part": "evening", "monday": 1}]
    said = faults(send(api, "patch", f"hands/{alone.pk}/", {"hours_by_part": evening}, code=400))
    assert set(said) == {"hours_by_part"}
    assert set(faults(send(api, "patch", f"hands/{alone.pk}/", {"skills": []}, code=400))) == {"skills"}


def test_a_seed_lot_gets_the_next_number_and_is_in_hand_today(api, working):
    made = send(api, "post", "seed-lots/", {"variety": working.scion.pk, "seeds": 500}, code=201)
    assert made["code"].startswith("L")
    assert made["received_on"] == working.nursery.today().isoformat()
    theirs = {
        "variety": working.scion.pk,
        "seeds": 500,
        "code": "X9",
        "received_on": None,
        "expected_on": "2027-03-01",
    }
    assert send(api, "post", "seed-lots/", theirs, code=201)["received_on"] is None


def test_a_long_list_comes_in_pieces(api):
    Customer.objects.bulk_create(Customer(name=f"Customer {number}") for number in range(205))
    first = send(api, "get", "customers/")
    rest = send(api, "get", f"customers/?after={first[-1]['id']}")
    assert (len(first), len(rest)) == (200, 5)
    assert set(faults(send(api, "get", "customers/?after=x", code=400))) == {"after"}


def test_prices_and_settings(api, working):
    price = send(
        api,
        "post",
        "prices/",
        {"kind": "grafted", "crop": working.scion.crop_id, "unit_price": "2.7500"},
        code=201,
    )
    assert send(api, "get", "prices/")[-1] == price
    assert send(api, "patch", "settings/", {"latitude_later": 3})["latitude_later"] == 3
    assert Nursery.current().latitude_later == 3
    for wrong in ({"currency": "XQX"}, {"time_zone": "Mars"}, {"open_weekdays": [7]}):
        said = faults(send(api, "patch", "settings/", wrong, code=400))
        assert [name.split(".")[0] for name in said] == [*wrong]
    assert HistoryEntry.objects.filter(what="nursery changed").count() == 1


# --- who signs in -----------------------------------------------------------------------------------------------


def test_people_who_sign_in_their_tokens_and_the_last_grower(api, working):
    new = {"username": "cas", "name": "Cas", "role": "crew", "password": "nineteen-trays"}
    made = send(api, "post", "users/", new, code=201)
    assert "password" not in made
    path = f"users/{made['id']}/"
    token = send(api, "post", f"{path}token/", code=201)["token"]
    program = APIClient(headers={"Authorization": f"Token {token}"})
    assert program.get("/api/places/").status_code == 200
    assert program.get("/api/nursery/users/").status_code == 403
    assert send(api, "patch", path, {"role": "office"})["role"] == "office"
    send(api, "delete", f"{path}token/", code=204)
    assert program.get("/api/places/").status_code == 401
    assert set(faults(send(api, "post", "users/", new | {"password": "short"}, code=400))) >= {"username"}
    last = faults(send(api, "patch", f"users/{working.grower.pk}/", {"role": "crew"}, code=400))
    assert set(last) == {"role"}


def test_the_office_keeps_customers_and_nothing_else():
    office = signed_in(UserFactory(role="office"))
    working_nursery()
    made = send(office, "post", "customers/", {"name": "Ostler farm", "email": "o@ostler.example"}, code=201)
    assert send(office, "patch", f"customers/{made['id']}/", {"phone": "1"})["email"] == "o@ostler.example"
    for path in ("places/", "settings/", "protocols/", "users/", "closed-days/"):
        send(office, "get", path, code=403)


# --- closed days ------------------------------------------------------------------------------------------------


def test_days_are_closed_by_name_or_from_the_public_holidays_and_opened_again(api):
    made = send(api, "post", "closed-days/", {"day": "2027-05-04", "name": "Market"}, code=201)
    assert set(faults(send(api, "post", "closed-days/", {"day": "2027-05-04"}, code=400))) == {"day"}
    year = Nursery.current().today().year
    # The national day of Ireland, 17 March: Public Holidays, citizensinformation.ie (from memory)
    listed = send(api, "get", f"closed-days/holidays/?country=IE&year={year}")
    assert f"{year}-03-17" in [holiday["day"] for holiday in listed]
    closed = send(api, "post", "closed-days/holidays/", {"days": [listed[0], listed[1]]}, code=201)
    assert len(closed) == 2
    assert [day["closed"] for day in send(api, "get", f"closed-days/holidays/?country=IE&year={year}")][:3] == [
        True,
        True,
        False,
    ]
    assert set(faults(send(api, "get", "closed-days/holidays/?year=soon", code=400))) == {"year"}
    send(api, "delete", f"closed-days/{made['id']}/", code=204)
    assert not ClosedDay.objects.filter(pk=made["id"]).exists()


# --- protocols --------------------------------------------------------------------------------------------------


def splice(api) -> dict:
    return next(each for each in send(api, "get", "protocols/") if each["method"] == "splice")


def test_longer_healing_is_sent_as_it_was_read_and_changes_the_next_promise(api, working):
    protocol = splice(api)
    assert send(api, "patch", f"protocols/{protocol['id']}/", protocol) == protocol
    for stage in protocol["stages"]:
        if stage["kind"] == "healing":
            stage |= {"shortest": 6, "usual": 6, "longest": 6}
    revised = send(api, "patch", f"protocols/{protocol['id']}/", {"stages": protocol["stages"]})
    said = answering.what_if([working.line()], today=TODAY)[0]
    assert next(stay.nights for stay in said.plan.stays if stay.stage_kind == "healing") == 6
    assert revised["take_share"] == protocol["take_share"]


def test_a_protocol_that_could_not_be_planned_with_is_refused(api):
    protocol = splice(api)
    before = Protocol.objects.count()
    path = f"protocols/{protocol['id']}/"
    heal = next(number for number, stage in enumerate(protocol["stages"]) if stage["kind"] == "healing")
    broken = json.loads(json.dumps(protocol["stages"]))
    broken[heal]["usual"] = 99
    assert f"stages.{heal}.usual" in faults(send(api, "patch", path, {"stages": broken}, code=400))
    assert "stages" in faults(send(api, "patch", path, {"stages": broken[1:2]}, code=400))
    assert "take_share" in faults(send(api, "patch", path, {"take_share": 1.4}, code=400))
    broken[heal]["works"][0]["per_hour"] = 0
    assert f"stages.{heal}.works.0.per_hour" in faults(send(api, "patch", path, {"stages": broken}, code=400))
    assert Protocol.objects.count() == before


def test_a_protocol_is_copied_for_another_crop(api):
    crop = Crop.objects.create(name="Tree tomato")
    path, wanted = f"protocols/{splice(api)['id']}/copy/", {"crop": crop.pk, "method": "splice"}
    made = send(api, "post", path, wanted, code=201)
    assert (made["crop"], made["version"]) == (crop.pk, 1)
    assert set(faults(send(api, "post", path, wanted, code=400))) == {"method"}


# --- the description of it all ----------------------------------------------------------------------------------


def test_the_description_of_the_api_is_whole(tmp_path):
    call_command("spectacular", "--validate", "--fail-on-warn", "--file", str(tmp_path / "api.yml"))
    assert "operationId: edit_place" in (tmp_path / "api.yml").read_text()
