"""The first sheet of an .xlsx workbook (ECMA-376), read row by row and never unpacked beyond a limit."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterator
from datetime import date, datetime
from io import BytesIO
from typing import IO, Any
from xml.parsers import expat

from django.utils.translation import gettext as _
from openpyxl import load_workbook

from ..refusals import Refused

MOST_UNPACKED = 60_000_000  # bytes: some twenty times what a full list takes
MOST_FILES = 2_000
MOST_COLUMNS = 80
# The library holds a row, a text or all styles whole, at some four hundred bytes for each element.
LOOKED_INTO = 1_000_000  # bytes of a member from which on it is gone through before the library reads it
MOST_ROWS, MOST_TEXTS = 100_000, 200_000
MOST_HELD, MOST_CHARACTERS, MOST_DEEP = 200_000, 1_000_000, 60


def rows_of(content: bytes) -> Iterator[list[str]]:
    """Its rows as text. A formula stays as it is written ('=B2*10'), for whoever reads the cell to refuse it."""
    _refuse_bombs(content)
    try:
        book = load_workbook(BytesIO(content), read_only=True, data_only=False, keep_links=False)
        sheet = book.worksheets[0]
        merged = _merged(content, sheet)
    except Refused:
        raise
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
            mend=alone(),
            field="file",
        )
    if not any(member.filename == "xl/workbook.xml" for member in members):
        raise Refused(
            _("This is no .xlsx spreadsheet."),
            mend=_("Save your list as .xlsx or as CSV."),
            field="file",
        )
    with zipfile.ZipFile(BytesIO(content)) as book:
        for member in members:
            if member.file_size > LOOKED_INTO and not _is_picture(book, member):
                with book.open(member) as opened:
                    _gone_through(opened)


def _is_picture(book: zipfile.ZipFile, member: zipfile.ZipInfo) -> bool:
    """Something else than XML, in whatever encoding: the library reads none of it."""
    with book.open(member) as opened:
        return not re.match(rb"[\xef\xbb\xbf\xff\xfe\0\s]*<", opened.read(200))


def _merged(content: bytes, sheet: Any) -> list[str]:
    """Ranges of merged cells, which the library's reading by rows does not tell."""
    with zipfile.ZipFile(BytesIO(content)) as book, book.open(sheet._worksheet_path.lstrip("/")) as member:
        return _gone_through(member)


def _gone_through(member: IO[bytes]) -> list[str]:
    """Ranges of merged cells in an XML member. Refused where the library would hold too much of it at once."""
    counts = dict.fromkeys(("row", "si", "held", "characters", "depth"), 0)
    merged: list[str] = []

    def start(name: str, attributes: dict[str, str]) -> None:
        bare = name.rpartition(":")[2]
        if bare in ("row", "si"):
            counts[bare] += 1
            counts["held"] = counts["characters"] = 0
        elif bare == "mergeCell":
            merged.append(attributes.get("ref", ""))
        counts["held"] += 1
        counts["depth"] += 1
        if (
            counts["row"] > MOST_ROWS
            or counts["si"] > MOST_TEXTS
            or counts["held"] > MOST_HELD
            or counts["depth"] > MOST_DEEP
        ):
            raise _unwieldy()

    def end(_name: str) -> None:
        counts["depth"] -= 1

    def characters(text: str) -> None:
        counts["characters"] += len(text)
        if counts["characters"] > MOST_CHARACTERS:
            raise _unwieldy()

    def document_type(*_more: object) -> None:  # in which entities could be defined
        raise _broken()

    parser = expat.ParserCreate()
    parser.StartElementHandler, parser.EndElementHandler = start, end
    parser.CharacterDataHandler, parser.StartDoctypeDeclHandler = characters, document_type
    try:
        parser.ParseFile(member)
    except expat.ExpatError as trouble:
        raise _broken() from trouble
    return merged


def alone() -> str:
    return _("Copy the rows of your list alone into a new sheet, or save them as CSV.")


def _unwieldy() -> Refused:
    return Refused(
        _("The spreadsheet holds more rows, or longer ones, than any list of orders."), mend=alone(), field="file"
    )


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
