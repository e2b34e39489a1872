"""A list as a CSV file to take away: UTF-8 with its mark, days as 2027-04-21, sent row by row.

A cell that a spreadsheet would run as a formula gets an apostrophe before it, as OWASP advises ('CSV Injection',
owasp.org/www-community/attacks/CSV_Injection: cells that begin with = + - @, tab or carriage return; full-width
forms of the four too). Numbers that are numbers are written bare: -3 is no formula.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from decimal import Decimal
from typing import Any

from django.http import HttpRequest, StreamingHttpResponse
from django.utils import timezone, translation
from django.utils.functional import Promise
from django.utils.http import content_disposition_header
from django.utils.text import slugify

MARK = "\ufeff"  # without it, spreadsheets take UTF-8 for the code page of their country
RUNS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


class _Echo:
    """Gives back what is written to it, so that the csv module writes into an answer that is being sent."""

    def write(self, text: str) -> str:
        return text


def cell_of(value: Any) -> str:
    """A value as a cell's text."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float | Decimal):
        return f"{value:f}" if isinstance(value, Decimal) else str(value)
    if isinstance(value, datetime):
        return (timezone.localtime(value) if timezone.is_aware(value) else value).isoformat(" ", "minutes")[:16]
    if isinstance(value, date):
        return value.isoformat()
    text = str(value)
    return f"'{text}" if text.startswith(RUNS) else text


def csv_lines(heads: Sequence[Any], rows: Iterable[Sequence[Any]]) -> Iterator[str]:
    """The file, line by line (RFC 4180)."""
    writer = csv.writer(_Echo())
    yield MARK + writer.writerow([cell_of(head) for head in heads])
    for row in rows:
        yield writer.writerow([cell_of(value) for value in row])


def _as_now(lines: Iterator[str], zone: tzinfo, language: str | None) -> Iterator[str]:
    """Each line made in this zone and language: the middleware that set them has gone home when they are sent."""
    while True:
        with timezone.override(zone), translation.override(language):
            line = next(lines, None)
        if line is None:
            return
        yield line


def file_headers(name: str) -> dict[str, str]:
    """Of a file to keep. It holds what its reader may see, so nobody between keeps a copy."""
    return {
        "Content-Disposition": content_disposition_header(True, name) or "attachment",
        "Cache-Control": "private, no-store",
    }


def csv_answer(name: str, heads: Sequence[Any], rows: Iterable[Sequence[Any]]) -> StreamingHttpResponse:
    """The file as an answer; `name` without its ending."""
    lines = _as_now(csv_lines(heads, rows), timezone.get_current_timezone(), translation.get_language())
    headers = file_headers(f"{name}.csv")
    return StreamingHttpResponse(lines, content_type="text/csv; charset=utf-8", headers=headers)


@dataclass(frozen=True, slots=True)
class ListFile:
    """A list that a page gives away: the file's name, and of each column its heading and what it says."""

    name: str | Promise
    columns: Sequence[tuple[str | Promise, Callable[[Any], Any]]]

    def answer(self, rows: Iterable[Any]) -> StreamingHttpResponse:
        """All of the rows, whatever the page shows of them at once."""
        heads = [head for head, _says in self.columns]
        said = ([says(row) for _head, says in self.columns] for row in rows)
        return csv_answer(slugify(str(self.name)), heads, said)


def file_asked(request: HttpRequest) -> str:
    """Which of its lists a page is asked to give as a file ('csv' if it has one), '' for the page itself.

    The same address with `?list=`, so that filters and permissions are the page's own.
    """
    return request.GET.get("list", "") if request.method in ("GET", "HEAD") else ""
