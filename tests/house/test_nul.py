"""What PostgreSQL keeps in no text, a NUL character, is turned away wherever an address brings it.

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
