"""A batch not sown yet with fewer lines on it than it was planned for is planned anew for those that are left."""

from __future__ import annotations

from typing import Any

from django.db import transaction

from orders.jobs import handler
from orders.models import Nursery

from .. import at_hand, bridge
from ..models import Part
from . import joining
from .common import locked
from .judging import HoldsNoMore, judged, lock_the_plan

TRIES = 3  # when others change the part while we compute


@handler("resize")
def resize_job(payload: dict[str, Any]) -> None:
    """Plan a part anew at its size; one that was sown meanwhile, or that finds no better way, stays as it is."""
    today = Nursery.current().today()
    for _try in range(TRIES):
        part = bridge.living_parts().filter(pk=payload["part"], state=Part.State.PLANNED).first()
        if part is None or any(sowing.sown_on for sowing in part.sowings.all()):
            return
        nursery = Nursery.current()
        season = at_hand.taken(today, nursery).season(but={part.pk})
        plan = joining.smaller(part, season=season, nursery=nursery)
        if plan is None:
            return
        try:
            with transaction.atomic():
                nursery = lock_the_plan()
                now = locked(part)
                if now.revision != part.revision:
                    raise HoldsNoMore
                season = at_hand.taken(today, nursery).season(but={part.pk})
                judged([plan], season, over_conflict="")
                joining.store_smaller(now, plan, season)
        except HoldsNoMore:
            continue
        return
