"""Draws a sheet of days: a table that pictures lie on, so that whoever hears it reads the same figures."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django import template
from django.utils.formats import number_format

from orders.strand import Axis

from ..sheet import Band, Box, Sheet

register = template.Library()

FILLS = 10  # steps in which a box is shown fuller


@dataclass(frozen=True, slots=True)
class Cell:
    """A box of the table: what is asked, what there is, and its look (config/static/season.css)."""

    url: str
    load: str
    capacity: str
    asked: bool
    there: bool
    over: bool
    css: str


def figure(value: float) -> str:
    """A load in as few digits as serve: 14, 3.5."""
    return number_format(round(value, 1) if value < 100 and value % 1 else round(value), use_l10n=True)


def share(value: float) -> str:
    return f"{value * 100:.3f}%"


def cell_of(box: Box, of: Sheet) -> Cell:
    past = of.today is not None and box.week + timedelta(days=of.step) <= of.today
    fill = f"f{math.ceil(box.share * FILLS - 1e-6)}" if box.load else ""
    looks = [fill, "over" if box.over else "", "past" if past else "", "" if box.capacity or box.load else "shut"]
    return Cell(
        url=box.url,
        load=figure(box.load),
        capacity=figure(box.capacity),
        asked=bool(box.load),
        there=bool(box.capacity),
        over=bool(box.over),
        css=" ".join(filter(None, looks)),
    )


def _band(band: Band, axis: Axis) -> dict[str, str] | None:
    x1, x2 = max(axis.at(band.first), 0.0), min(axis.at(band.last + timedelta(days=1)), 1.0)
    return {"x": share(x1), "w": share(x2 - x1)} if x1 < x2 else None


@register.inclusion_tag("_parts/sheet.html")
def sheet(of: Sheet) -> dict[str, Any]:
    """One table on one axis of days: rows of boxes, strands below them, bands of conflict, the line of today."""
    axis = of.axis
    today = axis.at(of.today) if of.today else -1.0
    urls = of.urls or ("",) * len(of.weeks)
    return {
        "axis": axis,
        "days": of.step == 1,
        "columns": list(zip(of.weeks, urls, strict=True)),
        "rows": [(row, [cell_of(box, of) for box in row.boxes]) for row in of.rows],
        "lines": of.lines,
        "bands": [band for band in (_band(band, axis) for band in of.bands) if band],
        "today": share(today) if 0 <= today <= 1 else "",
        "today_share": f"{today:.4f}",
    }


@register.inclusion_tag("_parts/sheet_year.html")
def sheet_year(of: Sheet) -> dict[str, Any]:
    """A year: a row for each week, a column for each place and each set of hands."""
    cells = [[cell_of(box, of) for box in row.boxes] for row in of.rows]
    urls = of.urls or ("",) * len(of.weeks)
    now = [of.today is not None and week <= of.today < week + timedelta(days=of.step) for week in of.weeks]
    weeks = zip(of.weeks, urls, now, zip(*cells, strict=True), strict=True) if cells else ()
    return {"heads": of.rows, "weeks": list(weeks)}
