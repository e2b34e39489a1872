"""Draws a sheet of days, and the same figures as a table."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django import template
from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _

from orders.strand import Axis

from ..sheet import Band, Box, Row, Sheet

register = template.Library()

WEEK_WIDTH = 70  # px: '14 of 12' fits in a box
FLOOR, FULL = 40.0, 26.0  # where a box stands, and how high a full one is


@dataclass(frozen=True, slots=True)
class Drawn:
    """A box in a row's picture: shares of the width along, pixels across."""

    x: str
    w: str
    middle: str
    y: str
    h: str
    over_y: str
    over_h: str
    words: str
    css: str
    closed: bool


def _share(value: float) -> str:
    return f"{value * 100:.3f}%"


def figure(value: float) -> str:
    """A load in as few digits as serve: 14, 3.5."""
    return number_format(round(value, 1) if value < 100 and value % 1 else round(value), use_l10n=True)


def _words(box: Box) -> str:
    if box.over:
        return _("{load} of {capacity}").format(load=figure(box.load), capacity=figure(box.capacity))
    return figure(box.load) if box.load else ""


def _drawn(box: Box, axis: Axis, today: date | None) -> Drawn:
    x, week = axis.at(box.week), axis.at(box.week + timedelta(days=7)) - axis.at(box.week)
    high = box.share * FULL
    extra = min(10.0, max(5.0, FULL * box.over / box.capacity if box.capacity else 10.0)) if box.over else 0.0
    past = today is not None and box.week + timedelta(days=7) <= today
    css = "b-over" if box.over else "b-past" if past else "b-full" if box.share > 0.9 else ""
    return Drawn(
        x=_share(x + week * 0.03),
        w=_share(week * 0.94),
        middle=_share(x + week / 2),
        y=f"{FLOOR - high:.1f}",
        h=f"{high:.1f}",
        over_y=f"{FLOOR - FULL - extra:.1f}",
        over_h=f"{extra:.1f}" if extra else "",
        words=_words(box),
        css=css,
        closed=not box.capacity,
    )


def _said(row: Row) -> str:
    """A row in one sentence, for those who hear the picture."""
    peak = row.peak
    if peak is None:
        return _("{label}, {room}: nothing asked").format(label=row.label, room=row.room)
    words = _("{label}, {room}: most in the week of {week}, {load} of {capacity}")
    week, load, capacity = date_format(peak.week, "j F"), figure(peak.load), figure(peak.capacity)
    return words.format(label=row.label, room=row.room, week=week, load=load, capacity=capacity)


def _band(band: Band, axis: Axis) -> dict[str, str] | None:
    x1, x2 = max(axis.at(band.first), 0.0), min(axis.at(band.last + timedelta(days=1)), 1.0)
    return {"x": _share(x1), "w": _share(x2 - x1)} if x1 < x2 else None


@register.inclusion_tag("_parts/sheet.html")
def sheet(of: Sheet) -> dict[str, Any]:
    """One axis of days with its rows, strands, bands of conflict and the line of today."""
    axis = of.axis
    today = axis.at(of.today) if of.today else -1.0
    return {
        "axis": axis,
        "weeks": [(_share(axis.at(week)), week) for week in of.weeks],
        "width": WEEK_WIDTH * len(of.weeks),
        "rows": [(row, _said(row), [_drawn(box, axis, of.today) for box in row.boxes]) for row in of.rows],
        "lines": of.lines,
        "bands": [band for band in (_band(band, axis) for band in of.bands) if band],
        "today": _share(today) if 0 <= today <= 1 else "",
        "today_share": f"{today:.4f}",
    }


@register.inclusion_tag("_parts/sheet_table.html")
def sheet_table(of: Sheet) -> dict[str, Any]:
    """The figures of a sheet's rows as a table."""
    return {"weeks": of.weeks, "rows": [(row, [(box, _words(box)) for box in row.boxes]) for row in of.rows]}
