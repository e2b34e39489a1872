"""The bytes of a CSV file or spreadsheet as rows of text, or why they are no list."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext as _

from ..refusals import Refused
from . import sheet, text

MOST_BYTES = 5_000_000
MOST_ROWS = 2_000
MOST_LOOKED_AT = 100_000  # rows with the empty ones: a sheet may say of itself that it goes on for ever

# Control characters and those that turn the direction of what is beside them (Unicode, UAX #9): nobody types them.
UNSEEN = re.compile("[\x00-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
OLD_OFFICE = b"\xd0\xcf\x11\xe0"  # what a workbook of the years before .xlsx begins with, and one under a password
ZIP = b"PK\x03\x04"


@dataclass(frozen=True, slots=True)
class Row:
    """One row that is not empty. `number` counts as the spreadsheet does, empty rows too."""

    number: int
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """The headings and the rows below them; rows may be shorter or longer than the headings."""

    head: Row
    rows: tuple[Row, ...]


def read_table(content: bytes) -> Table:
    """Headings and rows as text: days as 2027-04-21, numbers with a point. Refused if it is none, or too big."""
    if len(content) > MOST_BYTES:
        raise too_big()
    kept: list[Row] = []
    for number, cells in enumerate(_cells_of(content), start=1):
        if number > MOST_LOOKED_AT:
            raise Refused(
                _("The list goes on to row %(n)s and beyond, mostly with empty rows.") % {"n": MOST_LOOKED_AT},
                mend=sheet.alone(),
                field="file",
            )
        cells = [UNSEEN.sub("", cell) for cell in cells]
        if not any(cells):
            continue
        if len(cells) > sheet.MOST_COLUMNS:
            raise Refused(
                _("Row %(n)s has more than %(most)s cells.") % {"n": number, "most": sheet.MOST_COLUMNS},
                mend=_("Leave the columns out that no order needs."),
                field="file",
            )
        if len(kept) > MOST_ROWS:
            raise Refused(
                _("The list has more than %(n)s rows.") % {"n": MOST_ROWS},
                mend=_("Take it in several lists."),
                field="file",
            )
        kept.append(Row(number, tuple(cells)))
    if not kept:
        raise Refused(_("The file is empty."), mend=_("Choose the file with your list."), field="file")
    return Table(kept[0], tuple(kept[1:]))


def too_big() -> Refused:
    return Refused(
        _("The file is larger than %(n)s MB.") % {"n": MOST_BYTES // 1_000_000},
        mend=_("Take the list in several files, without pictures and other sheets."),
        field="file",
    )


def _cells_of(content: bytes) -> Iterable[list[str]]:
    if content.startswith(ZIP):
        return sheet.rows_of(content)
    if content.startswith(OLD_OFFICE):
        raise Refused(
            _("This is a workbook of an older kind, or one under a password."),
            mend=_("Save it as .xlsx without a password, or as CSV."),
            field="file",
        )
    return text.rows_of(content)
