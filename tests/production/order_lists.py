"""Lists of orders as somebody's office would send them, made here and now: CSV in several dialects, workbooks."""

import csv
from datetime import date
from io import BytesIO, StringIO
from typing import Any

from openpyxl import Workbook

HEADS = ("Order", "Customer", "Email", "Scion", "Rootstock", "Pot or tray", "Plants", "Pickup", "Days later")


def workbook(rows, heads=HEADS, **cells: Any) -> bytes:
    """An .xlsx file; `cells` (B3="=1+1") are set after the rows."""
    book = Workbook()
    sheet = book.active
    for row in (heads, *rows):
        sheet.append(list(row))
    for name, value in cells.items():
        sheet[name] = value
    held = BytesIO()
    book.save(held)
    return held.getvalue()


def csv_text(rows, heads=HEADS, sign=";") -> str:
    held = StringIO()
    csv.writer(held, delimiter=sign).writerows([heads, *rows])
    return held.getvalue()


def row(working, number: int = 1, **changes: Any) -> list[Any]:
    """A good row: 60 plants for a day in April, some days later allowed."""
    values = {
        "Order": f"A-{number}",
        "Customer": f"Farm {number}",
        "Email": f"farm{number}@example.org",
        "Scion": working.scion.name,
        "Rootstock": working.rootstock.name,
        "Pot or tray": working.pot.name,
        "Plants": 60,
        "Pickup": date(2027, 4, 21),
        "Days later": 2,
    }
    return list((values | {key.replace("_", " "): value for key, value in changes.items()}).values())
