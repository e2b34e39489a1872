"""What production does when the order file changes: free what nobody wants, mark plans stale, write jobs."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from django.dispatch import receiver

from orders.models import OrderLine, User
from orders.signals import line_cancelled, line_changed

from .models import Part, Work
from .services import promise, replan
from .services.common import locked


@receiver(line_changed, dispatch_uid="production-line-changed")
def line_was_changed(*, line: OrderLine, **_more: Any) -> None:
    for part in _parts_of(line):
        replan.touch(part)


@receiver(line_cancelled, dispatch_uid="production-line-cancelled")
def line_was_cancelled(*, line: OrderLine, by: User | None, **_more: Any) -> None:
    """Nobody waits for these plants now: what is not sown is dropped and its room free, what lives goes on.

    Whoever had a confirmation of the line gets one that says so.
    """
    if line.confirmed_at:
        promise.paper(line.order, by=by)
    for part in _parts_of(line):
        part.allocations.filter(line=line).delete()
        if part.state == Part.State.PLANNED and not part.allocations.exists():
            drop(part)
        else:
            replan.touch(part)


def drop(part: Part) -> None:
    part.stays.all().delete()
    part.works.filter(state=Work.State.PLANNED).update(state=Work.State.DROPPED)
    part.state = Part.State.DROPPED
    part.save(update_fields=["state"])


def _parts_of(line: OrderLine) -> list[Part]:
    parts: QuerySet[Part] = Part.objects.filter(allocations__line=line).order_by("pk")
    return [locked(part) for part in parts]
