"""The first sheet of an .xlsx workbook (ECMA-376), read row by row and never unpacked beyond a limit."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterator
from datetime import date, datetime
from io import BytesIO
from typing import Any

from django.utils.translation import gettext as _
from openpyxl import load_workbook

from ..refusals import Refused

MOST_UNPACKED = 60_000_000  # bytes: some twenty times what a full list takes
MOST_FILES = 2_000
MOST_COLUMNS = 80
MERGED = re.compile(rb"<(?:\w+:)?mergeCell\s[^<>]*?ref=\"([A-Z]+\d+:[A-Z]+\d+)\"")


def rows_of(content: bytes) -> Iterator[list[str]]:
    """Its rows as text. A formula stays as it is written ('=B2*10'), for whoever reads the cell to refuse it."""
    _refuse_bombs(content)
    try:
        book = load_workbook(BytesIO(content), read_only=True, data_only=False, keep_links=False)
        sheet = book.worksheets[0]
        merged = _merged(content, sheet)
    except Exception as trouble:  # a broken workbook breaks the library in ways that it does not promise
        raise _broken() from trouble
    if merged:
        raise Refused(
            _("Cells of the sheet are merged: %(cells)s.") % {"cells": ", ".join(merged[:5])},
            mend=_("Split them, and write in each row what belongs to it."),
            field="file",
        )
    sheet.reset_dimensions()  # what the file says of its size need not be so
    rows = sheet.iter_rows(max_col=MOST_COLUMNS)
    while True:
        try:
            row = next(rows, None)
        except Exception as trouble:
            raise _broken() from trouble
        if row is None:
            return
        cells = [_text(cell.value) for cell in row]
        while cells and not cells[-1]:
            cells.pop()
        yield cells


def _refuse_bombs(content: bytes) -> None:
    """A small file that would unpack to a huge one. zipfile never unpacks more than a member says of itself."""
    try:
        members = zipfile.ZipFile(BytesIO(content)).infolist()
    except (zipfile.BadZipFile, ValueError) as trouble:
        raise _broken() from trouble
    if len(members) > MOST_FILES or sum(member.file_size for member in members) > MOST_UNPACKED:
        raise Refused(
            _("Unpacked, the spreadsheet would be larger than %(n)s MB.") % {"n": MOST_UNPACKED // 1_000_000},
            mend=_("Copy the rows of your list alone into a new sheet, or save them as CSV."),
            field="file",
        )
    if not any(member.filename == "xl/workbook.xml" for member in members):
        raise Refused(
            _("This is no .xlsx spreadsheet."),
            mend=_("Save your list as .xlsx or as CSV."),
            field="file",
        )


def _merged(content: bytes, sheet: Any) -> list[str]:
    """Ranges of merged cells, which the library's reading by rows does not tell."""
    with zipfile.ZipFile(BytesIO(content)) as book:
        written = book.read(sheet._worksheet_path.lstrip("/"))
    return [each.decode() for each in MERGED.findall(written)]


def _broken() -> Refused:
    return Refused(
        _("The spreadsheet cannot be read; it is damaged or of another kind."),
        mend=_("Open it, save it as .xlsx or as CSV, and choose that file."),
        field="file",
    )


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == datetime.min.time() else value.isoformat(" ", "minutes")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return f"{value:.10f}".rstrip("0").rstrip(".")
    return " ".join(str(value).split())
