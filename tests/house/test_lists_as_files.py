"""Every page with a list gives it away as a file: same filters and people, safe in a spreadsheet, few queries."""

import csv
from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from io import StringIO

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from orders import services as orders
from orders.models import Customer, OrderLine
from orders.tables import read_table
from orders.tables.writing import cell_of, csv_lines
from orders.views.records import RecordPages
from production.services import promise
from tests.factories import CustomerFactory, UserFactory
from tests.house.addresses import addresses
from tests.nursery import TODAY, working_nursery

LISTS = {
    "orders": "Pickup asked",
    "batches": "Graft day",
    "places_tonight": "There is",
    "today": "Waits for",
    "letters": "What went wrong",
    "papers": "Revision",
    "users": "May sign in",
    "protocols": "Version",
    "closed_days": "Why",
    "invoices": "Still open",
    "season_level": "Move",
    "take_list": "Brought",
    "money": "Comes to",
}
PAGES = {name for _path, name, _view in addresses()}  # which also loads every kind of record
RECORDS = sorted(kind.plural for kind in RecordPages.__subclasses__())
assert RECORDS
assert {*LISTS, *RECORDS} <= PAGES


@pytest.fixture
def working(time_machine):
    time_machine.move_to("2027-01-11 09:00 +0000", tick=False)
    return working_nursery()


@pytest.fixture
def grower(working, client):
    client.force_login(working.grower, backend="django.contrib.auth.backends.ModelBackend")
    return client


def promised(working, n: int = 1, **changes) -> OrderLine:
    order = orders.take_order(
        customer=CustomerFactory(name=f"Farm {n}"), lines=[working.line(**changes)], by=None, today=TODAY
    )
    promise.accept(order=order, by=None, today=TODAY)
    return order.lines.get()


def rows_of(client, address: str, **query) -> list[list[str]]:
    answer = client.get(address, {"list": "csv"} | query)
    assert (answer.status_code, answer["Content-Type"]) == (200, "text/csv; charset=utf-8")
    assert answer["Content-Disposition"].startswith("attachment; filename=")
    assert answer["Cache-Control"] == "private, no-store"
    assert answer.streaming
    content = b"".join(answer.streaming_content)
    assert content.startswith(b"\xef\xbb\xbf")
    return list(csv.reader(StringIO(content.decode("utf-8-sig"))))


@pytest.mark.django_db
@pytest.mark.parametrize("name", [*LISTS, *RECORDS])
def test_a_list_is_given_away_and_its_page_leads_to_it(grower, working, name):
    line = promised(working)
    rows = rows_of(grower, reverse(name), **({"list": "to-bill"} if name == "money" else {}))
    assert LISTS.get(name, rows[0][0]) in rows[0]
    assert all(len(row) == len(rows[0]) for row in rows)
    if name in ("orders", "batches", "customers", "places_tonight", "places", "varieties", "users"):
        assert len(rows) > 1
    if name == "orders":
        assert dict(zip(*rows, strict=True))["Pickup asked"] == line.pickup_asked.isoformat()
        assert b"list=csv" in grower.get(reverse(name)).content


@pytest.mark.django_db
@pytest.mark.parametrize("name", [*LISTS, *RECORDS])
def test_a_file_is_for_those_who_see_its_page(working, client, name):
    client.force_login(UserFactory(), backend="django.contrib.auth.backends.ModelBackend")
    assert client.get(reverse(name), {"list": "csv"}).status_code == 403


@pytest.mark.django_db
def test_a_file_has_what_the_page_was_filtered_to_and_all_its_leaves(grower, working, monkeypatch):
    from orders.views import orders as view

    monkeypatch.setattr(view, "A_PAGE", 1)
    for n in range(3):
        promised(working, n)
    orders.take_order(customer=CustomerFactory(name="Farm 9"), lines=[working.line()], by=None, today=TODAY)
    assert len(rows_of(grower, "/orders/")) == 5
    assert len(rows_of(grower, "/orders/", state="confirmed")) == 4
    assert [row[2] for row in rows_of(grower, "/orders/", q="Farm 9", page="2")[1:]] == ["Farm 9"]
    assert 'href="?q=Farm+9&amp;list=csv"' in grower.get("/orders/", {"q": "Farm 9", "page": 1}).content.decode()


@pytest.mark.django_db
def test_a_batch_gives_its_counts_a_place_its_nights_and_a_lot_where_it_went(grower, working):
    line = promised(working)
    batch = line.allocations.get().part.batch
    assert rows_of(grower, reverse("batch", args=[batch.code]))[0][:4] == ["Batch", "Day", "Counted", "Plants"]
    place = line.allocations.get().part.stays.first().place
    nights = rows_of(grower, reverse("place", args=[place.pk]))
    assert nights[1][0] == TODAY.isoformat()
    assert len(rows_of(grower, reverse("line_trace", args=[line.pk]))) == 3  # a head, two sides


@pytest.mark.django_db
@pytest.mark.parametrize("name", ["orders", "batches", "customers", "today", "varieties"])
def test_the_queries_of_a_file_do_not_grow(grower, working, name):
    def queries() -> int:
        with CaptureQueriesContext(
            connection,
        ) as caught:
            rows_of(grower, reverse(name))
        return len(caught)

    promised(working, 1)
    rows_of(grower, reverse(name))  # what is only read once is read now
    few = queries()
    for n in range(2, 6):
        promised(working, n)
    assert queries() == few


# What OWASP lists under CSV Injection, owasp.org/www-community/attacks/CSV_Injection, read from memory: cells that
# begin with = + - @, tab, carriage return; its own examples among them.
HARMFUL = [
    "=1+1",
    "+1+1",
    "-1+1",
    "@SUM(A1)",
    "\t=1",
    "\r=1",
    "＝1",
    '=cmd|" /C calc"!A0',
    '=HYPERLINK("http://x","y")',
]


@pytest.mark.parametrize("text", HARMFUL)
def test_no_cell_begins_what_a_spreadsheet_would_run(text):
    assert cell_of(text) == f"'{text}"


def test_numbers_days_and_truths_stay_what_they_are():
    assert [cell_of(each) for each in (-3, Decimal("-2.50"), 1.5, date(2027, 4, 21), True, None, "a-b")] == [
        "-3", "-2.50", "1.5", "2027-04-21", "yes", "", "a-b",
    ]  # fmt: skip


@pytest.mark.django_db
def test_a_customer_called_a_formula_comes_out_guarded_and_goes_in_as_it_was(grower, working):
    Customer.objects.create(name="=1+1", phone="+353 1 555", notes='two\nlines; "quoted"')
    rows = rows_of(grower, reverse("customers"))
    assert rows[1][:1] == ["'=1+1"]
    assert 'two\nlines; "quoted"' in rows[1]
    text = "".join(csv_lines(rows[0], rows[1:])).replace("''", "'")
    assert read_table(text.encode()).rows[0].cells[0] == "=1+1"


def test_a_file_is_made_row_by_row():
    def rows() -> Iterator[list[int]]:
        for n in range(3):
            made.append(n)
            yield [n]

    made: list[int] = []
    lines = csv_lines(["n"], rows())
    next(lines)
    next(lines)
    assert made == [0]
