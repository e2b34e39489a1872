"""The batches of the shown days: which they are, and their strands."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.core.paginator import Page, Paginator
from django.db.models import Min, Prefetch, Q, QuerySet
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders import states
from orders.days import day_words
from orders.models import OrderLine

from .. import bridge
from ..models import Allocation, Part, Stay, Work
from ..planning import terms
from ..queries.tally import tally_of
from ..sheet import Line
from ..strands import strand_of
from .scope import Scope

STRANDS = 20  # on one page
PageNumber = str | int | None


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which batches are asked for; nothing given means all of them."""

    order: str = ""
    crop: int | None = None
    in_conflict: bool = False


ALL = Wanted()


# --- the strands ----------------------------------------------------------------------------------------------


def strands(
    scope: Scope, wanted: Wanted, conflicts: Iterable[terms.Conflict], number: PageNumber = 1
) -> tuple[tuple[Line, ...], Page[int]]:
    """The strands of one page of the batches that stand or are worked on in the shown days, the earliest first."""
    found = _wanted(_within(scope), wanted, conflicts)
    ordered = found.annotate(begins=Min("stays__first")).order_by("begins", "pk").values_list("pk", flat=True)
    page = Paginator(ordered, STRANDS).get_page(number)
    return strands_of(list(page), scope), page


def strands_of(keys: Sequence[int], scope: Scope) -> tuple[Line, ...]:
    """The strands of these parts, in their order."""
    rows = _with_all(Part.objects.all()).in_bulk(keys)
    return tuple(_line(rows[key], scope.today) for key in keys)


def _within(scope: Scope) -> QuerySet[Part]:
    return Part.objects.exclude(state=Part.State.DROPPED).filter(pk__in=stays_within(scope).values("part"))


def stays_within(scope: Scope) -> QuerySet[Stay]:
    """Stays that hold one of the shown nights: as recorded, or from today on as planned of what lives."""
    stays = Stay.objects.within(scope.first, scope.last)
    really = Q(entered=True)
    if scope.last >= scope.today:
        really |= Q(left=False, part__state__in=bridge.LIVING)
    if scope.has_today:  # what should have moved on stands there still
        stays |= Stay.objects.filter(entered=True, left=False, first__lte=scope.last)
    return stays.filter(really).exclude(part__state=Part.State.DROPPED)


def works_within(scope: Scope) -> QuerySet[Work]:
    """Work of the shown days: done, or to do of what lives; what is overdue is work of today."""
    to_do = Q(state=Work.State.PLANNED, part__state__in=bridge.LIVING, day__lte=scope.last)
    if not scope.has_today:
        to_do &= Q(day__gte=scope.first)
    done = Q(state=Work.State.DONE, done_on__range=(scope.first, scope.last))
    return Work.objects.filter(to_do | done)


def _wanted(parts: QuerySet[Part], wanted: Wanted, conflicts: Iterable[terms.Conflict]) -> QuerySet[Part]:
    if wanted.order:
        parts = parts.filter(
            pk__in=Allocation.objects.filter(line__order__code__iexact=wanted.order).values("part")
        )
    if wanted.crop:
        parts = parts.filter(batch__scion__crop=wanted.crop)
    if wanted.in_conflict:
        parts = parts.filter(_owned_by({cause.owner for each in conflicts for cause in each.causes}))
    return parts


def _owned_by(owners: Iterable[str]) -> Q:
    """Parts that are meant for these lines, and those of nobody."""
    keys: Mapping[str, list[int]] = {"line": [], "part": []}
    for owner in owners:
        kind, _colon, key = owner.partition(":")
        if kind in keys:
            keys[kind].append(int(key))
    return Q(pk__in=Allocation.objects.filter(line__in=keys["line"]).values("part")) | Q(pk__in=keys["part"])


def _with_all(parts: QuerySet[Part]) -> QuerySet[Part]:
    lines = Allocation.objects.select_related(
        "line__order__customer", "line__scion", "line__rootstock", "line__container"
    )
    return parts.select_related("batch__scion", "batch__rootstock", "container").prefetch_related(
        "sowings", "stays", "works", "counts", Prefetch("allocations", queryset=lines)
    )


def _how_many(part: Part, line: OrderLine | None) -> str:
    """What the part is for: its plants, its trays of room, or what is left of it once its orders have ended."""
    if line is not None and line.kind == OrderLine.Kind.ROOM:
        return ngettext("room for %(n)s tray", "room for %(n)s trays", line.quantity) % {"n": line.quantity}
    ended = [each.line.state in states.ENDED for each in part.allocations.all()]
    if part.state != Part.State.GONE and ended and all(ended):
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
    if line is not None and line.state == states.HELD and line.hold_until:
        subs.append(_("held until %(day)s") % {"day": day_words(line.hold_until, today)})
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
