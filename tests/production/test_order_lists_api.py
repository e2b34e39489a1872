"""Lists of orders by API and on the command line: the same rules, the same words, for the same people."""

import os
import subprocess
import sys
from io import BytesIO, StringIO

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command
from rest_framework.test import APIClient

from orders import jobs
from orders.models import Order
from production.models import OrderList
from tests.factories import UserFactory
from tests.nursery import working_nursery
from tests.production.order_lists import HEADS, csv_text, row, workbook

pytestmark = pytest.mark.django_db


@pytest.fixture
def working(time_machine):
    time_machine.move_to("2027-01-11 09:00 +0000", tick=False)
    return working_nursery()


def client_of(user) -> APIClient:
    client = APIClient()
    client.force_authenticate(user)
    return client


def sent(content: bytes, name: str) -> dict:
    file = BytesIO(content)
    file.name = name
    return {"file": file}


def test_a_list_is_brought_watched_and_confirmed_by_api(working):
    client = client_of(UserFactory(role="office"))
    rows = [row(working, 1), row(working, 2, Plants="some")]
    answer = client.post("/api/lists/", sent(workbook(rows), "list.xlsx"), format="multipart")
    assert (answer.status_code, answer.json()["state"]) == (202, "waiting")
    pk = answer.json()["id"]
    assert client.post(f"/api/lists/{pk}/confirm/", {}, format="json").status_code == 409  # not checked yet
    jobs.drain()
    found = client.get(f"/api/lists/{pk}/").json()
    assert [order["state"] for order in found["orders"]] == ["fits", "faulty"]
    assert [tuple(map(fault.get, ("row", "column", "found"))) for fault in found["faults"]] == [
        (3, "quantity", "some")
    ]
    for _ in range(2):
        assert client.post(f"/api/lists/{pk}/confirm/", {"others": "leave"}, format="json").status_code == 200
    jobs.drain()
    assert client.get(f"/api/lists/{pk}/").json()["orders"][0]["order"] == Order.objects.get().code
    mend = b"".join(client.get(f"/api/lists/{pk}/rows-to-mend/").streaming_content).decode("utf-8-sig")
    assert "Plants: “some” is no whole number." in mend
    assert [each["name"] for each in client.get("/api/lists/").json()] == ["list.xlsx"]
    assert {each["key"] for each in client.get("/api/lists/columns/").json()} >= {"customer", "pickup_asked"}


def test_faults_of_headings_are_problem_details(working):
    client = client_of(working.grower)
    answer = client.post("/api/lists/", sent(b"Customer,Skion\nFarm,x\n", "list.csv"), format="multipart")
    assert (answer.status_code, answer["Content-Type"]) == (400, "application/problem+json")
    faults = answer.json()["faults"]
    assert [fault["field"] for fault in faults] == ["B1", "row 1"]
    assert "Scion" in faults[0]["mend"]
    assert OrderList.objects.count() == 0


@pytest.mark.parametrize("role", ["crew", None])
def test_the_crew_brings_no_lists(working, client, role):
    user = UserFactory(role=role)
    assert client_of(user).get("/api/lists/").status_code == 403
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    kept = OrderList.objects.create(name="x", state="checked")
    assert client.get(f"/desk/list/{kept.pk}/").status_code == 403
    assert client.get(f"/desk/list/{kept.pk}/rows-to-mend.csv").status_code == 403


def command(*arguments: object) -> tuple[int, str]:
    out = StringIO()
    try:
        call_command("take_list", *map(str, arguments), stdout=out)
    except SystemExit as left:
        return int(left.code or 0), out.getvalue()
    return 0, out.getvalue()


def test_the_command_checks_and_takes_only_when_told(working, tmp_path):
    path = tmp_path / "list.csv"
    path.write_text(csv_text([row(working, 1), row(working, 2, Plants="some")]))
    code, said = command(path)
    assert code == 1
    assert "Row 3, Plants: “some” is no whole number. Write digits only" in said
    assert "Row 2: fits, pickup Wed 21 April 2027" in said
    assert Order.objects.count() == 0
    code, said = command(path, "--promise", "--by", "grower")
    assert (code, Order.objects.get().taken_by) == (1, working.grower)
    assert "Orders to mend: 1, promised: 1." in said
    path.write_text(csv_text([row(working, 3)]))
    assert command(path, "--promise")[0] == 0


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["nowhere.csv"], "cannot be read"),
        (["--by", "nobody", "x.csv"], "Nobody signs in as nobody"),
        (["--keep-others", "x.csv"], "goes with --promise"),
    ],
)
def test_the_command_says_what_is_wrong(working, arguments, says):
    with pytest.raises(CommandError, match=says) as wrong:
        command(*arguments)
    assert wrong.value.returncode == 2


def test_the_command_says_where_a_nursery_is_when_the_folder_has_none(tmp_path):
    elsewhere = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    ran = subprocess.run(
        [sys.executable, "manage.py", "take_list", "list.csv"],
        cwd=settings.BASE_DIR, env={**elsewhere, "GRAFTWRIGHT_DATA": str(tmp_path)},
        capture_output=True, text=True, timeout=120,
    )  # fmt: skip
    assert ran.returncode == 2
    assert "There is no nursery in this folder yet." in ran.stderr
    assert "Traceback" not in ran.stderr


def test_the_command_tells_every_heading_that_is_wrong(working, tmp_path):
    path = tmp_path / "list.csv"
    path.write_text(csv_text([], [*HEADS[:3], "Skion", "Kolour"], ","))
    with pytest.raises(CommandError) as wrong:
        command(path)
    assert [line.split(":")[0].strip() for line in str(wrong.value).splitlines()[1:]] == ["D1", "E1", "row 1"]
