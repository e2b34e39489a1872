"""Draws a strand: fluid on pages (classes, shares of the width), fixed on papers (colours written out)."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from django import template
from django.utils.formats import date_format
from django.utils.translation import gettext, ngettext

from ..strand import HEIGHT, Axis, Mark, Speech, Strand, axis_of, marks, sentence

register = template.Library()

SPEECH = Speech(gettext=gettext, ngettext=ngettext, month=lambda day: date_format(day, "F"))
AXIS_HEIGHT = 24

# Papers know no stylesheet inside a drawing, so that each stroke carries its own ink.
LEAF, CLAY, DUSK, INK = "#1f6b4a", "#8f4a1f", "#3e4c78", "#20262b"
INKS = {
    "scion": f'stroke="{LEAF}" stroke-width="2.6"',
    "rootstock": f'stroke="{CLAY}" stroke-width="2.6"',
    "scion-sown": f'fill="{LEAF}" stroke="none"',
    "rootstock-sown": f'fill="{CLAY}" stroke="none"',
    "scion-again": f'fill="#fff" stroke="{LEAF}" stroke-width="1.6"',
    "rootstock-again": f'fill="#fff" stroke="{CLAY}" stroke-width="1.6"',
    "own-root": f'stroke="{LEAF}" stroke-width="1.3"',
    "cut": f'stroke="{INK}" stroke-width="1.6"',
    "graft": f'stroke="{INK}" stroke-width="2.6"',
    "healing": f'fill="{DUSK}" fill-opacity=".14" stroke="{DUSK}" stroke-width="1.4"',
    "cover": f'stroke="{DUSK}" stroke-width="1.2" stroke-dasharray="3 2"',
    "growing": f'stroke="{INK}" stroke-width="5"',
    "hardening": f'stroke="{INK}" stroke-width="5" stroke-dasharray="3.5 2.5"',
    "leader": f'stroke="{INK}" stroke-width="2.6"',
    "waiting": f'stroke="{INK}" stroke-width="1.4" stroke-dasharray="1.5 3"',
    "window": f'stroke="{INK}" stroke-width="1.3"',
    "promised": f'fill="{INK}" stroke="none"',
    "cold": f'stroke="{INK}" stroke-width="1"',
    "room": f'stroke="{INK}" stroke-width="1.4"',
}


@dataclass(frozen=True, slots=True)
class Stroke:
    """A mark with its numbers as the SVG wants them; `shape` picks the element in the template."""

    shape: str
    css: str
    ink: str
    x: str = ""
    w: str = ""
    x1: str = ""
    x2: str = ""
    y: str = ""
    h: str = ""
    d: str = ""


def _share(value: float) -> str:
    return f"{value * 100:.2f}".rstrip("0").rstrip(".") + "%"


def _px(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def fluid(mark: Mark) -> Stroke:
    """A mark whose place along the axis is a share of the width, so that text and strokes keep their size."""
    css = f"s-{mark.kind}" + ("" if mark.done else " s-later")
    x, w = _share(mark.x1), _share(mark.x2 - mark.x1)
    y, h = _px(mark.y), _px(mark.y2 - mark.y)
    if mark.shape != "line":
        return Stroke(mark.shape, css, "", x=x, w=w, y=y, h=h, d=mark.d)
    if mark.dx2:  # hung from its end: the strand runs up to a few pixels before the graft
        return Stroke("hung", css, "", x=_share(mark.x2), w=w, x1="-100%", x2=_px(mark.dx2), y=y)
    if mark.dx1:
        return Stroke("hung", css, "", x=x, w=w, x1=_px(mark.dx1), x2="100%", y=y)
    return Stroke("line", css, "", x1=x, x2=_share(mark.x2), y=y)


def fixed(mark: Mark, width: float) -> Stroke:
    """A mark with every number in pixels of a picture `width` wide, and its ink."""
    ink = INKS[mark.kind] + ("" if mark.done else ' opacity=".6"')
    x1, x2 = mark.x1 * width + mark.dx1, mark.x2 * width + mark.dx2
    if mark.shape == "line":
        return Stroke("line", "", ink, x1=_px(x1), x2=_px(x2), y=_px(mark.y))
    if mark.shape == "dome":
        round_ = min(12.0, (x2 - x1) / 2)
        top = f"V{_px(mark.y + round_)}q0-{_px(round_)} {_px(round_)}-{_px(round_)}H{_px(x2 - round_)}"
        d = f"M{_px(x1)} {_px(mark.y2)}{top}q{_px(round_)} 0 {_px(round_)} {_px(round_)}V{_px(mark.y2)}"
        return Stroke("path", "", ink, d=d)
    return Stroke(mark.shape, "", ink, x=_px(x1), w=_px(x2 - x1), y=_px(mark.y), h=_px(mark.y2 - mark.y), d=mark.d)


@dataclass(frozen=True, slots=True)
class Tick:
    """The beginning of a week on an axis; `css` says from which width of the picture its date is written."""

    x: str
    day: date
    css: str


# Container widths (px) at which the stylesheet lets more dates appear, narrowest first.
WIDTHS = (("", 300), (" w-some", 480), (" w-more", 760), (" w-all", 1100))
DATE_WIDTH = 56


def ticks(axis: Axis, begins: int = 0) -> list[Tick]:
    """A tick for each week; its date is written only where there is room for it beside the others."""
    weeks = axis.weeks(begins)
    return [Tick(_share(axis.at(week)), week, _appears(number, week, axis)) for number, week in enumerate(weeks)]


def _appears(number: int, week: date, axis: Axis) -> str:
    if axis.at(week) > 0.92:
        return " w-never"
    weeks = (axis.last - axis.first).days / 7
    for css, width in WIDTHS:
        every = 1
        while width * every / weeks < DATE_WIDTH:
            every *= 2
        if number % every == 0:
            return css
    return " w-never"


@register.inclusion_tag("_parts/strand.html")
def strand(of: Strand, begins: int = 0, bare: bool = False) -> dict[str, Any]:
    """One strand with its own axis of weeks; `bare` leaves the axis out. `begins`: first weekday, Monday 0."""
    axis = axis_of(of)
    shown = of.today is not None and 0 <= axis.at(of.today) <= 1
    return {
        "words": sentence(of, SPEECH),
        "strokes": [fluid(mark) for mark in marks(of, axis)],
        "ticks": [] if bare else ticks(axis, begins),
        "top": 0 if bare else AXIS_HEIGHT,
        "height": HEIGHT if bare else HEIGHT + AXIS_HEIGHT + 4,
        "today": _share(axis.at(of.today)) if shown and of.today else "",
        "bare": bare,
    }


@register.inclusion_tag("_parts/strand.html")
def strand_row(of: Strand, axis: Axis) -> dict[str, Any]:
    """A strand on an axis that it shares with others: no dates and no line of today of its own."""
    strokes = [fluid(mark) for mark in marks(of, axis)]
    return {"words": sentence(of, SPEECH), "strokes": strokes, "top": 0, "height": HEIGHT, "bare": True}


@register.inclusion_tag("_parts/strand_paper.html")
def strand_paper(
    of: Strand, width: int = 600, begins: int = 0, dates: bool = True, axis: Axis | None = None
) -> dict[str, Any]:
    """A strand for a paper, drawn `width` units wide and 40 (with `dates` 60) high; the paper scales it.

    Strands that stand under one another share an `axis`.
    """
    axis = axis or axis_of(of)
    weeks = [week for week in axis.weeks(begins) if axis.at(week) < 0.95] if dates else []
    every = max(1, -(-len(weeks) * 60 // width))
    return {
        "words": sentence(of, SPEECH),
        "strokes": [fixed(mark, width) for mark in marks(of, axis)],
        "ticks": [(_px(axis.at(week) * width), week) for week in weeks[::every]],
        "width": width,
        "top": 20 if dates else 0,
        "height": HEIGHT + (20 if dates else 0),
    }


@register.inclusion_tag("_parts/strand_key.html")
def strand_key() -> dict[str, Any]:
    """What the marks of a strand mean."""
    return {}
