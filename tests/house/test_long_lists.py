"""Lists of the API that may grow long come in parts, and each part says where the rest is."""

import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from rest_framework.test import APIClient

from orders.api import base
from orders.models import Document, Letter
from production.models import OrderList
from tests.factories import CustomerFactory, NurseryFactory, OrderFactory, UserFactory
from tests.invoicing.billing import billed

pytestmark = pytest.mark.django_db


@pytest.fixture
def api(monkeypatch) -> APIClient:
    monkeypatch.setattr(base, "MOST", 2)
    NurseryFactory()
    client = APIClient()
    client.force_authenticate(UserFactory(role="grower"))
    return client


def parts(api: APIClient, address: str) -> Iterator[list[dict[str, Any]]]:
    """Each part, found as RFC 8288 says: by the link whose relation is 'next'."""
    while address:
        answer = api.get(address)
        assert answer.status_code == 200, answer.content
        yield answer.json()
        link = re.fullmatch(r'<(http[^>]+)>; rel="next"', answer.headers.get("Link", ""))
        address = link[1] if link else ""


def ids(address: str, api: APIClient) -> list[list[int]]:
    return [[row["id"] for row in part] for part in parts(api, address)]


def paper(n: int) -> Document:
    return Document.objects.create(kind="labels", code=str(n), title="Labels", content=b"%PDF", sha256="0" * 64)


def letter(n: int) -> Letter:
    return Letter.objects.create(kind="quote", key=str(n), customer=CustomerFactory(), subject="Quote", text="…")


LISTS: dict[str, Callable[[int], Any]] = {
    "/api/orders/": lambda _n: OrderFactory(),
    "/api/invoices/": lambda _n: billed((1, "2")),
    "/api/papers/": paper,
    "/api/letters/": letter,
    "/api/nursery/customers/": lambda _n: CustomerFactory(),
    "/api/lists/": lambda n: OrderList.objects.create(name=f"list {n}"),
}
UP = ("/api/nursery/customers/",)  # the others have the newest first


@pytest.mark.parametrize("address", LISTS)
def test_a_long_list_comes_in_parts_that_lead_from_one_to_the_next(api, address):
    made = [LISTS[address](n).pk for n in range(5)]
    found = ids(address, api)
    in_order = made if address in UP else made[::-1]
    assert found == [in_order[:2], in_order[2:4], in_order[4:]]


def test_the_rest_of_a_search_is_the_rest_of_that_search(api):
    farm = CustomerFactory(name="Long Field")
    mine = [OrderFactory(customer=farm).pk for _n in range(3)]
    OrderFactory()
    assert ids("/api/orders/?q=long+field", api) == [[mine[2], mine[1]], [mine[0]]]


@pytest.mark.parametrize("address", ["/api/orders/?state=grown", "/api/letters/?state=lost"])
def test_a_state_that_there_is_not_is_refused_and_not_passed_over(api, address):
    answer = api.get(address)
    assert answer.status_code == 400
    [fault] = answer.json()["faults"]
    assert fault["field"] == "state"
    assert "Write one of these: " in fault["mend"]


def test_the_schema_says_so(api):
    schema = api.get("/api/schema/?format=json").json()
    for address in LISTS:
        said = schema["paths"][address]["get"]
        names = {parameter["name"] for parameter in said["parameters"]}
        assert names & {"before", "after"}, address
        assert 'rel="next"' in said["responses"]["200"]["headers"]["Link"]["description"], address
