"""What a piece of work asks to be counted, and which number is 'as planned'."""

from __future__ import annotations

from django.db.models import Prefetch, QuerySet
from django.utils.translation import gettext as _

from ..models import Allocation, Count, Part, ProtocolStage, StageWork, Stay, Work
from ..planning import terms
from .tally import Tally

# The number that a kind of work asks for when it is done.
ASKS: dict[str, str] = {
    terms.SOW: Count.Kind.SOWN,
    terms.COUNT_EMERGED: Count.Kind.EMERGED,
    terms.COUNT_USABLE: Count.Kind.USABLE,
    terms.GRAFT: Count.Kind.GRAFTED,
    terms.COUNT_TAKEN: Count.Kind.TAKEN,
    terms.COUNT_READY: Count.Kind.READY,
}

# Work in which plants come to another place or stage.
CARRYING = frozenset({terms.SOW, terms.MOVE, terms.TAKE_OUT, terms.POT, terms.GRAFT})

SIDES = ("rootstock", "scion")


def with_all(works: QuerySet[Work]) -> QuerySet[Work]:
    """Works with all that recording or showing them needs, in a handful of queries."""
    stages = ProtocolStage.objects.prefetch_related(Prefetch("works", queryset=StageWork.objects.all()))
    return works.select_related(
        "part__batch__scion",
        "part__batch__rootstock",
        "part__batch__protocol",
        "part__container",
        "sowing__variety",
        "sowing__lot",
        "sowing__container",
    ).prefetch_related(
        Prefetch("part__batch__protocol__stages", queryset=stages),
        Prefetch("part__stays", queryset=Stay.objects.select_related("place", "container")),
        "part__works",
        "part__sowings__variety",
        "part__counts",
        Prefetch(
            "part__allocations",
            queryset=Allocation.objects.select_related("line__order__customer", "line__scion", "line__rootstock"),
        ),
    )


def as_planned(work: Work, tally: Tally) -> int:
    """The number that is recorded when the work was done as planned: never more than there is."""
    part = work.part
    if work.kind == terms.SOW and work.sowing:
        return work.sowing.seeds
    if work.kind == terms.COUNT_EMERGED and work.sowing:
        sown = tally.of(work.sowing).sown or 0
        return round(sown * work.sowing.variety.emerged_share)
    if work.kind == terms.COUNT_USABLE and work.sowing:
        own = tally.of(work.sowing)
        return round(own.seedlings * work.sowing.variety.usable_share)
    if work.kind == terms.GRAFT:
        return min(part.grafts, tally.graftable)
    if work.kind == terms.COUNT_TAKEN:
        share = part.batch.protocol.take_share if part.batch.protocol else 1.0
        return round((tally.grafted or 0) * share)
    if work.kind == terms.COUNT_READY:
        return max(0, tally.grown)
    return work.plants


def most(work: Work, tally: Tally) -> int | None:
    """The most that can be counted; None where nothing limits it."""
    own = tally.of(work.sowing) if work.sowing and work.sowing.pk in {t.sowing.pk for t in tally.sowings} else None
    if work.kind == terms.COUNT_EMERGED and own:
        return own.sown or 0
    if work.kind == terms.COUNT_USABLE and own:
        return own.seedlings
    if work.kind == terms.GRAFT:
        return tally.graftable
    if work.kind == terms.COUNT_TAKEN:
        return tally.grafted or 0
    if work.kind == terms.COUNT_READY:
        return max(0, tally.grown)
    return None


def own_sowing(subject: str, sowing: int | None) -> int | None:
    """The sowing whose plants go their own way: up to the graft those of each do, later all together."""
    return sowing if subject in SIDES else None


def stands_of(part: Part, subject: str, sowing: int | None) -> list[Stay]:
    """The stands of a subject; of a side, those of one sowing if it is named: each stands in trays of its own."""
    own = own_sowing(subject, sowing)
    return [stay for stay in part.stays.all() if stay.subject == subject and own in (None, stay.sowing_id)]


def which_sowing(part: Part, sowing: int | None) -> str:
    """'sowing 2 of 3', of the sowing with that key; nothing where its side is sown only once."""
    sowings = {each.pk: each for each in part.sowings.all()}
    own = sowings.get(sowing) if sowing else None
    times = sum(own is not None and each.subject == own.subject for each in sowings.values())
    if own is None or times < 2:
        return ""
    return _("sowing %(number)s of %(times)s") % {"number": own.number, "times": times}


def label_of(part: Part) -> str:
    """Whom the plants are for: 'Order 31', 'Order 31, line 2', our own crop by its order, or the batch's code."""
    allocations = list(part.allocations.all())
    if not allocations:
        return str(part.batch)
    labels = [str(a.line) if a.line.number > 1 else str(a.line.order) for a in allocations]
    return ", ".join(dict.fromkeys(labels))
