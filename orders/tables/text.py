"""CSV as spreadsheets write it in different countries: encoding, sign between cells, quotes (RFC 4180)."""

from __future__ import annotations

import codecs
import csv
import re
from collections.abc import Iterator
from io import StringIO

from django.utils.translation import gettext as _

from ..refusals import Refused

SIGNS = ";\t,"
MARKED = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))
# What our own files put an apostrophe before (orders/tables/writing.py): taken off again.
GUARDED = re.compile(r"^'(?=[=+\-@\t\r])")


def rows_of(content: bytes) -> Iterator[list[str]]:
    """Its rows, an empty one for an empty line."""
    written = decoded(content)
    sign = ""
    if told := re.match(r"sep=([;,\t|])\r?\n", written, re.IGNORECASE):
        sign, written = told[1], written[3 + len("=.") :]  # a spreadsheet's own hint; its row stays, an empty one
    first = next((line for line in written.splitlines() if line.strip()), "")
    reader = csv.reader(StringIO(written, newline=""), delimiter=sign or max(SIGNS, key=first.count), strict=True)
    number = 0
    while True:
        number += 1
        try:
            cells = next(reader, None)
        except csv.Error as error:
            raise Refused(
                _("Row %(n)s cannot be read: %(why)s.") % {"n": number, "why": error},
                mend=_("Look for a quotation mark too many or too few in it."),
                field="file",
            ) from error
        if cells is None:
            return
        while cells and not cells[-1].strip():
            cells.pop()
        yield [GUARDED.sub("", " ".join(cell.split())) for cell in cells]


def decoded(content: bytes) -> str:
    """UTF-8, UTF-16 if it is marked as that, else the Windows code page that older spreadsheets write (cp1252)."""
    written = _decoded(content)
    if "\0" in written:  # no spreadsheet writes it, and no database keeps it as text
        raise _no_table()
    return written


def _decoded(content: bytes) -> str:
    encoding = next((name for mark, name in MARKED if content.startswith(mark)), "")
    try:
        if encoding:
            return content.decode(encoding)
        if content.startswith(b"%PDF"):
            raise _no_table()
        try:
            return content.decode("utf-8")
        except UnicodeDecodeError:
            return content.decode("cp1252")
    except UnicodeDecodeError:
        raise _no_table() from None


def _no_table() -> Refused:
    return Refused(
        _("This file is neither CSV nor a spreadsheet."),
        mend=_("Save your list as CSV or as .xlsx, and choose that file."),
        field="file",
    )
