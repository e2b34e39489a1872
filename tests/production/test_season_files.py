"""The season as a file, on pages and by API: given away whole, looked at and not stored, refused with faults."""

import json
from datetime import timedelta
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from rest_framework.test import APIClient

from orders import services as orders
from orders.models import Nursery, Order
from production import bridge
from production.models import Batch, Part, Place, Stay
from production.planning import check
from production.planning.filed import judge_plan, plan_of
from production.planning.season_file import Goodness, PlanFile, PlannedLine, read_plan, read_season, write_season
from production.services import answering, promise, replan, season_files
from tests.factories import CustomerFactory
from tests.nursery import TODAY, working_nursery

pytestmark = pytest.mark.django_db
FOLDER = Path(__file__).parents[1] / "planning" / "season_files"


@pytest.fixture
def working(time_machine):
    time_machine.move_to("2027-01-11 09:00 +0000", tick=False)
    return working_nursery()


@pytest.fixture
def grower(client, working):
    client.force_login(working.grower, backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.fixture
def api(working):
    client = APIClient()
    client.force_authenticate(working.grower)
    return client


def order(working, *, promised: bool, **line):
    taken = orders.take_order(customer=CustomerFactory(), lines=[working.line(**line)], by=None, today=TODAY)
    if promised:
        promise.accept(order=taken, by=None, today=TODAY)
    return taken.lines.get()


def downloaded(client, name: str = "season_file"):
    answer = client.get(reverse(name))
    assert (answer.status_code, answer.headers["Content-Type"]) == (200, "application/json")
    return read_season(answer.content.decode())


# --- given away -------------------------------------------------------------------------------------------------


def test_the_file_holds_the_season_as_it_is_judged_and_the_plans_of_promised_lines(grower, working):
    line = order(working, promised=True)
    asked = order(working, promised=False, quantity=40)
    file = downloaded(grower)
    assert file.season == bridge.season_of(TODAY)
    assert [wish.key for wish in file.lines] == [f"line:{asked.pk}"]
    (promised,) = file.promised
    assert (promised.plan.wish.key, promised.plan.pickup) == (f"line:{line.pk}", line.pickup)
    assert promised.plan.parts == (bridge.part_plan_of(Part.objects.get()),)
    assert promised.begun == ()
    assert {claim.owner for claim in file.season.room} == {promised.plan.wish.key}


def test_what_a_file_answers_is_what_the_desk_answers(grower, working):
    asked = order(working, promised=False)
    (said,) = answering.what_if([asked], today=TODAY)
    (line,) = plan_of(downloaded(grower)).lines
    assert line.plan == said.plan


def test_plans_given_away_pass_the_referee_as_they_stand(grower, working):
    order(working, promised=True)
    order(working, promised=True, quantity=250)
    file = downloaded(grower)
    lines = tuple(PlannedLine(each.plan.wish, None, each.plan) for each in file.promised)
    verdict = judge_plan(file, PlanFile(TODAY, lines, Goodness("as they stand")))
    assert (verdict.faults, verdict.conflicts) == ((), ())


@pytest.mark.parametrize("until", ["count_emerged", "graft", "take_out", "count_ready"])
def test_living_parts_come_with_what_is_recorded_of_them_and_pass_the_referee(ground, until):
    """At each milestone of a part that is grown day by day as planned, beside one that is only promised."""
    ground.lots()
    part = ground.part(ground.line())
    ground.line(quantity=40, pickup_asked=TODAY + timedelta(days=160))
    ground.grow_until(part, (until, "hand_over"))
    replan.roll_over(ground.today)
    file = season_files.running_season(today=ground.today, nursery=Nursery.current())
    assert read_season(write_season(file)) == file
    living, planned = file.promised
    (begun,) = living.begun
    part.refresh_from_db()
    assert begun == (1, bridge.facts_of(bridge.living_parts().get(pk=part.pk)))
    assert {each.sown for each in begun[1].sowings} <= {each.day for each in living.plan.sowings}
    assert planned.begun == ()
    lines = tuple(PlannedLine(each.plan.wish, None, each.plan) for each in file.promised)
    verdict = judge_plan(file, PlanFile(ground.today, lines, Goodness("as they stand")))
    assert (verdict.faults, verdict.conflicts) == ((), ())


def test_by_api_it_is_the_same_file(api, grower, working):
    order(working, promised=True)
    assert downloaded(api, "api_season_file") == downloaded(grower)


def test_claims_of_a_place_given_up_are_left_out(grower, working):
    order(working, promised=True)
    Place.objects.filter(name="Pickup corner").update(active=False)
    assert Stay.objects.filter(place__active=False).exists()
    file = downloaded(grower)
    assert {claim.place for claim in file.season.room} <= {place.key for place in file.season.places}


# --- looked at --------------------------------------------------------------------------------------------------


def send(client, content: str | bytes, **more: str):
    raw = content if isinstance(content, bytes) else content.encode()
    return client.post(reverse("season_try"), {"file": SimpleUploadedFile("season.json", raw), **more})


def test_a_file_is_answered_line_by_line_and_nothing_is_stored(grower):
    page = send(grower, (FOLDER / "full_chamber.json").read_text()).content.decode()
    assert "Order first" in page
    assert "Line 1 fits. Ready" in page
    assert "Line 3 does not fit on" in page
    assert "Pick up on Sat 16 May" in page
    assert not Order.objects.exists()
    assert not Batch.objects.exists()


def test_what_is_given_away_can_be_looked_at_again(grower, working):
    order(working, promised=True)
    order(working, promised=False, quantity=40)
    page = send(grower, write_season(downloaded(grower))).content.decode()
    assert "Line 1 fits. Ready" in page


def test_its_plan_can_be_taken_away_and_passes_the_referee(grower):
    text = (FOLDER / "full_chamber.json").read_text()
    answer = send(grower, text, action="plan")
    assert answer.headers["Content-Disposition"] == 'attachment; filename="plan-2026-03-02.json"'
    file = read_season(text)
    plan = read_plan(answer.content.decode(), file)
    assert plan == plan_of(file)
    assert check.faults(file.season, plan.plans) == []


def test_by_api_a_season_is_answered_with_its_plan(api):
    text = (FOLDER / "full_chamber.json").read_text()
    answer = api.post(reverse("api_season_try"), json.loads(text), format="json")
    assert answer.status_code == 200
    assert read_plan(answer.content.decode(), read_season(text)) == plan_of(read_season(text))


BAD = json.dumps({"format": "season of a grafting nursery", "version": 1, "today": "soon", "plcaes": []})


def test_a_faulty_file_is_refused_with_every_fault_by_its_path(grower):
    answer = send(grower, BAD)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "<b>today</b>: &quot;soon&quot; is no day." in page
    assert "<b>plcaes</b>: There is no such field here. Write “places” if that is meant." in page
    assert "<b>lines</b>: It is missing." in page


def test_by_api_a_faulty_file_gets_problem_details(api):
    answer = api.post(reverse("api_season_try"), json.loads(BAD), format="json")
    assert (answer.status_code, answer.headers["Content-Type"]) == (400, "application/problem+json")
    faults = {fault["field"]: fault for fault in answer.json()["faults"]}
    assert faults["today"]["reason"] == '"soon" is no day.'
    assert faults["plcaes"]["mend"] == "Write “places” if that is meant."
    assert {"calendar", "places", "people", "lines"} <= faults.keys()


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"\xff\xfe", "This is no text in UTF-8."),
        (b"[" * 100_000, "groups within groups"),
        (b"{", "This is no JSON"),
        (b" " * 2_000_001, "The file is larger than 2 MB."),
        (b"", "empty"),
    ],
    ids=["no text", "deep", "broken off", "big", "empty"],
)
def test_what_is_no_season_file_is_refused(grower, api, content, words):
    answer = send(grower, content)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    said = api.post(reverse("api_season_try"), content, content_type="application/json")
    assert said.status_code == 400
    assert said.json()["faults"]


def test_more_lines_than_anybody_waits_for_are_left_to_the_command(grower, monkeypatch):
    monkeypatch.setattr(season_files, "MOST_LINES", 2)
    page = send(grower, (FOLDER / "full_chamber.json").read_text()).content.decode()
    assert "<b>lines</b>: The file asks for 3 lines; 2 are answered while you wait." in page


def test_of_very_many_faults_the_first_are_told_and_the_rest_counted(grower, monkeypatch):
    monkeypatch.setattr(season_files, "MOST_FAULTS", 2)
    page = send(grower, BAD).content.decode()
    assert "more are wrong. Mend these first." in page


def test_without_a_file_the_page_asks_for_one(grower):
    answer = grower.post(reverse("season_try"), {"action": "look"})
    assert (answer.status_code, "No file is chosen. Choose one." in answer.content.decode()) == (422, True)
