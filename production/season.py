"""The season page's content: conflicts in sentences, and the sheet of days. Reads only."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders import states
from orders.models import Nursery, OrderLine

from . import bridge
from .answers import conflict_sentence
from .models import Part, Stay
from .planning import terms
from .planning.conflicts import conflicts
from .planning.load import Load
from .queries.tally import tally_of
from .sheet import Band, Line, Row, Sheet, bars, weeks_over
from .strands import strand_of

BEHIND = 3  # weeks before today that the sheet shows


@dataclass(frozen=True, slots=True)
class Culprit:
    """An order that asks for a place or hands in a conflict, and the line behind it."""

    label: str
    amount: str
    line: OrderLine | None


@dataclass(frozen=True, slots=True)
class Day:
    day: date
    asked: str
    there: str
    over: bool


@dataclass(frozen=True, slots=True)
class Pinch:
    """A conflict with its days and with the orders that cause it, largest first."""

    title: str
    sentence: str
    first: date
    last: date
    days: tuple[Day, ...]
    culprits: tuple[Culprit, ...]


@dataclass(frozen=True, slots=True)
class SeasonView:
    sheet: Sheet
    pinches: tuple[Pinch, ...]
    orders: int
    plants: int


def season_view(today: date, nursery: Nursery) -> SeasonView:
    """Everything on the season page."""
    season = bridge.season_of(today, nursery=nursery)
    parts = list(bridge.living_parts())
    last = max([part.pickup for part in parts] + [claim.leaves for claim in season.room], default=today)
    load = Load(season, last + timedelta(days=14))
    found = conflicts(load)
    return SeasonView(
        sheet=_sheet(load, parts, found, today, nursery, last),
        pinches=tuple(pinches(load, found)),
        orders=len(
            {a.line.order_id for part in parts for a in part.allocations.all() if not a.line.order.own_crop}
        ),
        plants=sum(part.plants for part in parts if part.batch.kind != OrderLine.Kind.ROOM),
    )


# --- conflicts ----------------------------------------------------------------------------------------------


def pinches(load: Load, found: Sequence[terms.Conflict]) -> Iterable[Pinch]:
    owners = {cause.owner for conflict in found for cause in conflict.causes if cause.owner.startswith("line:")}
    keys = [int(owner.removeprefix("line:")) for owner in owners]
    lines = {
        f"line:{line.pk}": line
        for line in OrderLine.objects.filter(pk__in=keys).select_related("order__customer", "scion", "rootstock")
    }
    for conflict in found:
        yield Pinch(
            title=conflict.name,
            sentence=conflict_sentence(conflict),
            first=conflict.first,
            last=conflict.last,
            days=tuple(_days_of(load, conflict)),
            culprits=tuple(
                Culprit(cause.label, _amount(cause.amount, conflict), lines.get(cause.owner))
                for cause in conflict.causes
            ),
        )


def _days_of(load: Load, conflict: terms.Conflict) -> Iterable[Day]:
    if conflict.resource == "place":
        row = load.row[conflict.key]
        asked, there = load.used[row], load.capacity[row]
    else:
        index = load.set_of(conflict)
        asked, there = load.asked[index], load.hours[index]
    for at in range(load.index(conflict.first), load.index(conflict.last) + 1):
        yield Day(
            load.days[at],
            _amount(asked[at], conflict),
            _amount(there[at], conflict),
            bool(asked[at] > there[at] + 1e-6),
        )


def _amount(value: float, conflict: terms.Conflict) -> str:
    number = f"{float(value):.1f}".rstrip("0").rstrip(".")
    return f"{number} h" if conflict.resource == "hands" else number


# --- the sheet ----------------------------------------------------------------------------------------------


def _sheet(
    load: Load,
    parts: Sequence[Part],
    found: Sequence[terms.Conflict],
    today: date,
    nursery: Nursery,
    last: date,
) -> Sheet:
    first = min([today - timedelta(weeks=BEHIND), *(part.graft_day for part in parts if part.graft_day)])
    first = max(first, today - timedelta(weeks=BEHIND))
    weeks = weeks_over([first, last], begins=nursery.first_weekday)
    past = _past_load(weeks[0], today)
    rows = [_place_row(load, place, weeks, past.get(place.key, {})) for place in load.season.places]
    rows += [_hands_row(load, index, weeks) for index in range(len(load.sets)) if load.asked[index].any()]
    return Sheet(
        weeks=weeks,
        rows=tuple(rows),
        lines=tuple(_line(part, today) for part in sorted(parts, key=lambda part: (_starts(part), part.pk))),
        bands=tuple(Band(c.first, c.last, conflict_sentence(c)) for c in found),
        today=today,
    )


def _past_load(first: date, today: date) -> dict[str, dict[date, float]]:
    """What stood where on the nights before today, by place and night."""
    found: dict[str, dict[date, float]] = {}
    for stay in Stay.objects.filter(entered=True, first__lt=today):
        nights = found.setdefault(str(stay.place_id), {})
        for number in range(stay.nights):
            night = stay.first + timedelta(days=number)
            if first <= night < today:
                nights[night] = nights.get(night, 0.0) + stay.load
    return found


def _place_row(load: Load, place: terms.Place, weeks: tuple[date, ...], past: dict[date, float]) -> Row:
    row = load.row[place.key]
    used = dict(past) | {day: float(load.used[row, at]) for at, day in enumerate(load.days)}
    there = {night: place.capacity_on(night) for night in _all_days(weeks)}
    unit = _("trays") if place.measure == "positions" else _("m²")
    return bars(
        place.name, f"{place.capacity:g} {unit}", weeks, used, there, reverse("place", args=[int(place.key)])
    )


def _hands_row(load: Load, index: int, weeks: tuple[date, ...]) -> Row:
    skills = load.sets[index].skills
    asked = {day: float(load.asked[index, at]) for at, day in enumerate(load.days)}
    there = {day: float(load.hours[index, at]) for at, day in enumerate(load.days)}
    most = max(there.values(), default=0)
    name = _(" or ").join(skills)
    return bars(
        _("Hands: %(skills)s") % {"skills": name},
        _("%(n)s h a day at most") % {"n": f"{most:g}"},
        weeks,
        asked,
        there,
    )


def _all_days(weeks: tuple[date, ...]) -> Iterable[date]:
    return (week + timedelta(days=number) for week in weeks for number in range(7))


def _starts(part: Part) -> date:
    days = [sowing.sown_on or sowing.day for sowing in part.sowings.all()]
    return min(days, default=part.graft_day or part.ready_day)


def _how_many(part: Part, line: OrderLine | None) -> str:
    """What the part is for: its plants, its trays of room, or what is left of it once its orders have ended."""
    if line is not None and line.kind == OrderLine.Kind.ROOM:
        return ngettext("room for %(n)s tray", "room for %(n)s trays", line.quantity) % {"n": line.quantity}
    if part.allocations.all() and all(each.line.state in states.ENDED for each in part.allocations.all()):
        left = tally_of(part).standing
        return ngettext("%(n)s plant left over", "%(n)s plants left over", left) % {"n": left}
    return ngettext("%(n)s plant", "%(n)s plants", part.plants) % {"n": part.plants}


def _line(part: Part, today: date) -> Line:
    allocation = next(iter(part.allocations.all()), None)
    line = allocation.line if allocation else None
    own = line is not None and line.order.own_crop
    code = _("own") if own else (line.order.code if line else part.batch.code)
    subs = [_how_many(part, line)]
    if part.batch.kind == OrderLine.Kind.GRAFTED:
        subs.append(str(part.batch.get_method_display()).lower())
    if part.topped:
        subs.append(_("two leaders"))
    if part.late_by:
        subs.append(ngettext("%(n)s day late", "%(n)s days late", part.late_by) % {"n": part.late_by})
    return Line(
        code=str(code),
        label=part.batch.what,
        sub=" · ".join(subs),
        url=reverse("batch", args=[part.batch.code]),
        strand=strand_of(
            bridge.part_plan_of(part),
            method=part.batch.method,
            pickup=part.pickup,
            collection=line.collection_days if line else 1,
            today=today,
        ),
    )
