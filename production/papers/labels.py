"""Tray labels: one for each tray that is sown, or filled with grafts, on a day or for a batch."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _

from orders.days import day_words
from orders.documents import letterhead
from orders.models import Nursery
from orders.strand import Strand

from .. import bridge
from ..models import Batch, Part, Sowing
from ..queries.works import which_sowing
from ..strands import strand_of

# Labels of 70 × 37 mm: three across; as many rows as a sheet holds.
ON_A_SHEET = {"A4": 24, "letter": 21}


@dataclass(frozen=True, slots=True)
class Label:
    code: str  # of the sowing, or of the part of the batch
    what: str
    side: str  # which side of which combination; the method of a graft
    when: str
    tray: str  # '2 of 3'
    whose: str
    strand: Strand


def labels_data(labels: Iterable[Label], *, nursery: Nursery) -> dict[str, Any]:
    """The labels by sheets, as the template lays them out."""
    head = letterhead(nursery)
    every, found = ON_A_SHEET[head["sheet"]], list(labels)
    sheets = [found[first : first + every] for first in range(0, len(found), every)]
    return {"nursery": head, "title": _("Tray labels"), "sheets": sheets}


def labels_of_day(day: date) -> list[Label]:
    """For the trays that are sown or grafted on a day, as planned or as recorded."""
    sown = Q(sown_on=day) | Q(sown_on__isnull=True, day=day)
    sowings = Sowing.objects.filter(sown).exclude(part__state=Part.State.DROPPED)
    grafted = Part.objects.filter(graft_day=day).exclude(state=Part.State.DROPPED)
    return list(_labels(_parts(Part.objects.filter(Q(sowings__in=sowings) | Q(pk__in=grafted)).distinct()), day))


def labels_of_batch(batch: Batch) -> list[Label]:
    """For every tray of a batch: its sowings, then its grafts."""
    return list(_labels(_parts(batch.parts.exclude(state=Part.State.DROPPED)), None))


def _parts(parts: QuerySet[Part]) -> QuerySet[Part]:
    related = parts.select_related("batch__scion", "batch__rootstock", "container")
    return related.order_by("batch_id", "number").prefetch_related(
        "sowings__variety", "stays", "works", "allocations__line__order"
    )


def _labels(parts: Iterable[Part], day: date | None) -> Iterator[Label]:
    for part in parts:
        whose = ", ".join(dict.fromkeys(str(allocation.line.order) for allocation in part.allocations.all()))
        strand = strand_of(bridge.part_plan_of(part), method=part.batch.method, pickup=part.pickup)
        for sowing in part.sowings.all():
            if day in (None, sowing.sown_on or sowing.day):
                yield from _sown(part, sowing, whose, strand)
        if part.graft_day and day in (None, part.graft_day):
            yield from _grafted(part, whose, strand)


def _sown(part: Part, sowing: Sowing, whose: str, strand: Strand) -> Iterator[Label]:
    sides = {
        Sowing.Subject.ROOTSTOCK: _("rootstock for %(scion)s") % {"scion": part.batch.scion},
        Sowing.Subject.SCION: _("scion for %(rootstock)s") % {"rootstock": part.batch.rootstock},
    }
    side = str(sides.get(Sowing.Subject(sowing.subject), ""))
    side = ", ".join(word for word in (side, which_sowing(part, sowing.pk)) if word)
    when = _("Sown %(day)s") % {"day": day_words(sowing.sown_on or sowing.day)}
    for tray in _trays(sowing.trays):
        yield Label(sowing.code, str(sowing.variety), side, when, tray, whose, strand)


def _grafted(part: Part, whose: str, strand: Strand) -> Iterator[Label]:
    assert part.graft_day is not None
    unions = [stay for stay in part.stays.all() if stay.subject == "union"]
    begin = min((stay.first for stay in unions), default=None)
    when = _("Grafted %(day)s") % {"day": day_words(part.graft_day)}
    side = str(part.batch.get_method_display())
    for tray in _trays(sum(stay.containers for stay in unions if stay.first == begin)):
        yield Label(str(part), part.batch.what, side, when, tray, whose, strand)


def _trays(number: int) -> Iterator[str]:
    for tray in range(1, number + 1):
        yield _("%(tray)s of %(number)s") % {"tray": tray, "number": number}
