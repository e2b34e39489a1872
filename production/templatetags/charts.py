"""Draws a chart: bars in shares of the width and pixels of the height, so that text keeps its size on a phone."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby
from math import ceil
from typing import Any

from django import template
from django.utils.formats import date_format

from ..season.charts import Chart, Lane
from ..season.standing import amount_words
from ..sheet import WEEK
from .sheets import share

register = template.Library()

LOW, TALL = 56, 170  # pixels of a bar that reaches the top
ABOVE, BELOW = 18, 18  # room for the number of the largest bar, and for the months
ROOMY = 14  # weeks up to which each bar has its number, on a phone too
GAP = 0.12  # of a bar's width, between two
HIGH = 18  # pixels that a number takes above its bar
WORD = 0.05  # half of a number on a phone, as a share of the width


@dataclass(frozen=True, slots=True)
class Shape:
    """A bar, a piece of the limit, or the tick of a month; x and w as shares, y and h in pixels."""

    x: str
    y: str
    w: str = ""
    h: str = ""
    css: str = ""
    words: str = ""


@register.inclusion_tag("_parts/chart.html")
def chart(of: Chart) -> dict[str, Any]:
    height = TALL if of.tall else LOW
    shown = [(lane, _lane(lane, of, height)) for lane in of.lanes]
    return {
        "chart": of,
        "lanes": shown,
        "months": list(_months(of)),
        "height": ABOVE + height + BELOW,
        "floor": ABOVE + height,
        "foot": ABOVE + height + BELOW - 4,
        "today": _today(of),
        "legend": list(zip(of.fills, of.legend, strict=True)),
    }


@register.inclusion_tag("_parts/chart_fills.html")
def chart_fills() -> dict[str, Any]:
    """The patterns that tell the parts of bars apart in black and white; once on a page with charts."""
    return {}


def _lane(lane: Lane, of: Chart, height: int) -> dict[str, Any]:
    top = max([*(sum(bar) for bar in lane.bars), *lane.limits, 1e-9])
    wide = 1 / len(of.weeks)

    def y(value: float) -> float:
        return ABOVE + height * (1 - value / top)

    bars, limits = [], []
    for n, bar in enumerate(lane.bars):
        below = 0.0
        for fill, part in zip(of.fills, bar, strict=True):
            if part > 0:
                bars.append(
                    Shape(
                        x=share((n + GAP / 2) * wide),
                        y=f"{y(below + part):.1f}",
                        w=share(wide * (1 - GAP)),
                        h=f"{max(height * part / top, 1):.1f}",
                        css=fill,
                    )
                )
                below += part
    for limit, run in groupby(enumerate(lane.limits), key=lambda each: each[1]):
        weeks = [n for n, _limit in run]
        if limit > 0:
            limits.append(Shape(x=share(weeks[0] * wide), y=f"{y(limit):.1f}", w=share((weeks[-1] + 1) * wide)))
    return {"bars": bars, "limits": limits, "said": list(_said(lane, wide, y))}


def _said(lane: Lane, wide: float, y: Callable[[float], float]) -> Iterator[Shape]:
    """The number above the largest bar, and above each where there is room for it; clear of the limits near it."""
    sums = [sum(bar) for bar in lane.bars]
    most = max(sums, default=0)
    for n, value in enumerate(sums):
        if value and (len(sums) <= ROOMY or n == sums.index(most)):
            at = (n + 0.5) * wide
            anchor = "start" if at < 0.04 else "end" if at > 0.96 else "middle"
            near = lane.limits[max(n - ceil(WORD / wide), 0) : n + ceil(WORD / wide) + 1]
            yield Shape(
                x=share(at), y=f"{_clear(y(value), map(y, near)) - 4:.1f}", css=anchor, words=amount_words(value)
            )


def _clear(foot: float, lines: Iterable[float]) -> float:
    """What stands on `foot`, or on the first line above it that leaves it room, from below upwards."""
    for line in sorted(lines, reverse=True):
        if foot - HIGH < line < foot:
            foot = line
    return foot


def _months(of: Chart) -> Iterator[Shape]:
    """A tick where a month begins, with its name where there is room for it."""
    last = -1.0
    for n, week in enumerate(of.weeks):
        days = [week + (WEEK / 7) * k for k in range(7)]
        first = next((day for day in days if day.day == 1), None)
        if first is None and n:
            continue
        at = (n + (first - week).days / 7 if first else 0) / len(of.weeks)
        room = at - last > 0.075 and at < 0.96
        if room:
            last = at
        yield Shape(x=share(at), y="", words=date_format(first or week, "M") if room else "")


def _today(of: Chart) -> str:
    at = (of.today - of.weeks[0]).days / 7 / len(of.weeks)
    return share(at) if 0 <= at <= 1 else ""
