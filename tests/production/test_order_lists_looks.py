"""A spreadsheet with 3 wrong rows of 60, in a real browser, through to orders promised; and files refused."""

import csv
from datetime import date, timedelta
from io import BytesIO, StringIO
from pathlib import Path

import pytest
from openpyxl import load_workbook

from orders import jobs, states
from orders.models import Order, OrderLine
from tests.browser import assert_holds, follow
from tests.nursery import working_nursery
from tests.production.order_lists import HEADS, csv_text, row, workbook

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

MENDED = {"Scion": "Tallis Red", "Pickup": "3.5.2027", "Plants": "40"}


@pytest.fixture
def working(time_machine):
    time_machine.move_to("2027-01-11 09:00 +0000")
    return working_nursery(healing=40, bench=400)


def sixty_rows(working) -> list[list]:
    """60 orders over ten weeks, one row each but for two rows of one order; rows 8, 21 and 43 are wrong."""
    first = date(2027, 4, 5)
    rows = [row(working, n, Pickup=first + timedelta(days=n % 10 * 7), Plants=40, Days_later=4) for n in range(60)]
    rows[6][HEADS.index("Scion")] = "Talis Red"
    rows[19][HEADS.index("Pickup")] = "31.2.2027"
    rows[41][HEADS.index("Plants")] = "some"
    rows[11][:3] = rows[10][:3]
    return rows


def brought(page, path: Path) -> None:
    page.get_by_label("The list").set_input_files(path)
    follow(page, page.get_by_role("button", name="Check the list"))


def test_a_spreadsheet_with_three_wrong_rows_of_sixty(open_page, working, tmp_path):
    path = tmp_path / "spring orders.xlsx"
    path.write_bytes(workbook(sixty_rows(working)))
    page = open_page("phone", working.grower)
    page.goto("/orders/")
    follow(page, page.get_by_role("link", name="Take a list of orders"))
    assert_holds(page)
    brought(page, path)
    page.get_by_role("heading", name="The rows are being checked.").wait_for()
    assert_holds(page)
    jobs.drain()
    page.get_by_role("heading", name="56 orders fit.").wait_for()  # the page asks by itself
    page.get_by_text("3 rows need mending.").wait_for()
    for number, column, found in ((8, "Scion", "Talis Red"), (21, "Pickup", "31.2.2027"), (43, "Plants", "some")):
        fault = page.get_by_role("row", name=f"Row {number} ").first
        assert column in fault.inner_text()
        assert found in fault.inner_text()
    assert_holds(page)
    assert Order.objects.count() == 0

    follow(page, page.get_by_role("button", name="Promise the 56 orders that fit"))
    page.get_by_role("heading", name="The orders are being taken.").wait_for()
    jobs.drain()
    page.get_by_role("heading", name="56 orders are promised.").wait_for()
    assert_holds(page)
    assert Order.objects.count() == 56
    assert set(OrderLine.objects.values_list("state", flat=True)) == {states.CONFIRMED}
    assert OrderLine.objects.count() == 57

    with page.expect_download() as taken:
        page.get_by_role("link", name="Download the rows to mend").click()
    mended = list(csv.reader(StringIO(Path(taken.value.path()).read_bytes().decode("utf-8-sig"))))
    assert mended[0] == ["What to mend", *HEADS]
    assert [line[1] for line in mended[1:]] == ["A-6", "A-19", "A-41"]
    for line, (column, right) in zip(mended[1:], MENDED.items(), strict=True):
        line[1 + HEADS.index(column)] = right
    again = tmp_path / "mended.csv"
    again.write_text(csv_text(mended[1:], mended[0], ","), encoding="utf-8-sig")
    follow(page, page.get_by_role("link", name="Take a list of orders"))
    brought(page, again)
    while jobs.drain():  # the confirmations come first
        pass
    page.get_by_role("heading", name="3 orders fit.").wait_for()


def test_a_file_that_is_no_list_says_what_to_do(open_page, working, tmp_path):
    page = open_page("phone", working.grower)
    page.goto("/desk/list/")
    path = tmp_path / "list.csv"
    path.write_text("Customer;Skion;Plants\nFarm;Tallis Red;60\n")
    brought(page, path)
    assert "Is it “Scion”?" in page.get_by_role("alert").inner_text()
    assert_holds(page)


def test_the_empty_list_can_be_filled_and_brought(open_page, working, tmp_path):
    page = open_page("desk", working.grower)
    page.goto("/desk/list/")
    with page.expect_download() as taken:
        page.get_by_role("link", name="As a spreadsheet").click()
    book = load_workbook(BytesIO(Path(taken.value.path()).read_bytes()))
    sheet = book.active
    heads = [cell.value for cell in sheet[1]]
    sheet.cell(2, heads.index("Pot or tray") + 1).value = working.pot.name
    book.save(tmp_path / "filled.xlsx")
    brought(page, tmp_path / "filled.xlsx")
    jobs.drain()
    page.get_by_role("heading", name="One order fits.").wait_for()
