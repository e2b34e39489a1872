"""Files around a list of orders: an empty one to fill, and the rows of one that are to be mended."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from io import BytesIO
from typing import Any

from django.utils.translation import gettext as _
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Font

from orders.models import Container

from ..models import OrderList
from .columns import COLUMNS, TO_MEND

NUMBERS = ("quantity", "earlier", "later", "collection_days", "unit_price")
SHOWN_AHEAD = timedelta(days=100)  # of the example's pickup: long enough to grow it
SPREADSHEET = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def heads() -> list[str]:
    return [str(column.word) for column in COLUMNS]


def example(today: date) -> list[Any]:
    """A row that shows how, with a real day, real numbers, and a pot of this nursery's own if it has any."""
    pots = Container.objects.filter(active=True).order_by("name")
    pot = pots.filter(kind=Container.Kind.POT_TRAY).first() or pots.first()
    row: list[Any] = []
    for column in COLUMNS:
        if column.key == "pickup_asked":
            row.append(today + SHOWN_AHEAD)
        elif column.key == "container":
            row.append(pot.name if pot else column.example)
        elif column.key in NUMBERS:
            row.append(float(column.example) if "." in column.example else int(column.example))
        else:
            row.append(column.example)
    return row


def empty_sheet(today: date) -> bytes:
    """An .xlsx workbook with the headings and the example."""
    book = Workbook(write_only=True)
    sheet = book.create_sheet(_("Orders"))
    sheet.freeze_panes = "A2"
    bold = []
    for word in heads():
        cell = WriteOnlyCell(sheet, value=word)
        cell.font = Font(bold=True)
        bold.append(cell)
    sheet.append(bold)
    sheet.append(example(today))
    held = BytesIO()
    book.save(held)
    return held.getvalue()


def to_mend(kept: OrderList) -> tuple[list[str], Iterator[list[str]]]:
    """Headings and rows, as they were brought, of all orders that were not taken; the first column says why."""
    said: dict[int, list[str]] = {}
    words = {column.key: str(column.word) for column in COLUMNS}
    for fault in kept.faults:
        where = f"{words[fault['column']]}: " if fault["column"] in words else ""
        said.setdefault(fault["row"], []).append(f"{where}{fault['reason']} {fault['mend']}".strip())
    out = (OrderList.Outcome.FAULTY, OrderList.Outcome.FULL, OrderList.Outcome.UNJUDGED, OrderList.Outcome.LEFT)
    wanted = set[int]()
    for order in kept.orders:
        if order["state"] in out:
            wanted |= set(order["rows"])
            for line in order["lines"]:
                if line["says"]:
                    said.setdefault(line["row"], []).append(line["says"])
    head = [str(TO_MEND), *_own(kept.head)]
    rows = ([" ".join(said.get(n, [])), *_without_note(kept.head, cells)] for n, cells in kept.rows if n in wanted)
    return head, rows


def _noted(head: list[str]) -> int | None:
    return head.index(str(TO_MEND)) if str(TO_MEND) in head else None


def _own(head: list[str]) -> list[str]:
    return _without_note(head, head)


def _without_note(head: list[str], cells: list[str]) -> list[str]:
    """A list that was mended once has our own column already; it is written anew."""
    at = _noted(head)
    return [cell for place, cell in enumerate(cells) if place != at]
