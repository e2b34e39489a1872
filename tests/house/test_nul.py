"""What no page, operation or database can go on with is turned away wherever an address or a body brings it.

A NUL character above all, which PostgreSQL keeps in no text.

https://www.postgresql.org/docs/current/datatype-character.html: 'the character with code zero cannot be stored'.
"""

import pytest

from orders.posted import words_of
from tests.factories import NurseryFactory, UserFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def grower():
    NurseryFactory()
    return UserFactory(role="grower")


@pytest.mark.parametrize(
    "way", ["/o/%00x/", "/o/x/papers/%00/", "/calendar/%00x.ics", "/orders/%00x/", "/papers/%00/"]
)
def test_an_address_with_a_nul_leads_nowhere(client, grower, way):
    assert client.get(way).status_code == 404
    client.force_login(grower)
    assert client.get(way).status_code == 404


@pytest.mark.parametrize(
    "way", ["/orders/?q=%00x", "/orders/?list=csv&state=%00", "/batches/?q=a%00", "/money/?q=%00"]
)
def test_a_search_for_a_nul_is_refused_by_name(client, grower, way):
    client.force_login(grower)
    answer = client.get(way)
    assert answer.status_code == 400
    assert "holds a character that is no text" in answer.content.decode()


def test_by_api_as_a_problem_with_its_field(client, grower):
    client.force_login(grower)
    answer = client.get("/api/orders/?state=%00")
    assert (answer.status_code, answer["Content-Type"]) == (400, "application/problem+json")
    [fault] = answer.json()["faults"]
    assert (fault["field"], bool(fault["reason"]), bool(fault["mend"])) == ("state", True, True)


def test_a_reason_is_kept_without_it(rf):
    """Of a form of one field, a reason: no form class stands before it."""
    request = rf.post("/", {"why": " The tunnel\0 blew away ", "long": "x" * 400})
    assert words_of(request, "why") == "The tunnel blew away"
    assert (len(words_of(request, "long")), words_of(request, "none")) == (300, "")


@pytest.mark.parametrize("number", ["²", "9" * 5000])
def test_what_only_looks_like_a_number_is_refused_by_name(client, grower, number):
    """'²' is a digit to str.isdigit, but not to int; and int refuses to read more than 4,300 digits."""
    client.force_login(grower)
    answer = client.get(f"/api/letters/?before={number}")
    assert (answer.status_code, answer.json()["faults"][0]["field"]) == (400, "before")


@pytest.mark.parametrize(
    ("sent", "status", "says"),
    [
        ('{"others": "\\ud800"}', 400, "half a character"),
        ('{"\\udfff": 1}', 400, "half a character"),
        ("[" * 100_000, 400, "nested too deeply"),
        ('{"a":' * 50_000, 400, "nested too deeply"),
        (" " * 3_000_000, 413, "larger than 2.6 MB"),
    ],
    ids=["half a value", "half a key", "lists", "objects", "size"],
)
def test_what_is_json_and_yet_nothing_to_go_on_with_is_a_problem_by_api(client, grower, sent, status, says):
    client.force_login(grower)
    answer = client.post("/api/promise/", sent, content_type="application/json")
    assert (answer.status_code, answer["Content-Type"]) == (status, "application/problem+json")
    assert says in answer.json()["detail"]


def test_a_character_written_as_two_halves_is_one(client, grower):
    client.force_login(grower)
    answer = client.post(
        "/api/promise/", r'{"lines": [{"kind": "\ud83c\udf31"}]}', content_type="application/json"
    )
    assert {"field": "lines.0.kind", "reason": '"🌱" is not a valid choice.', "mend": ""} in answer.json()[
        "faults"
    ]


@pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31"])
def test_the_first_and_the_last_day_there_is_lead_nowhere(client, grower, day):
    client.force_login(grower)
    assert client.get(f"/day/{day}/").status_code == 404
    assert client.get(f"/api/day/{day}/").status_code == 404
