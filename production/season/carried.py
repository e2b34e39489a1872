"""What the shown days carry: of days past as it was, read by SQL for those days only; then the season at hand."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta

from orders.models import Nursery

from .. import at_hand
from ..models import Stay, Work
from ..planning import terms
from ..planning.load import Load
from .scope import Scope

PAST = "past"  # owner of what was carried before today; nobody is asked to move that
ONE = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Carried:
    """The load of the shown days, and the conflicts from today on that touch them, each with all its days.

    `ahead` is the load of the whole season from today on.
    """

    load: Load
    conflicts: tuple[terms.Conflict, ...]
    ahead: Load


def carried(scope: Scope, nursery: Nursery) -> Carried:
    ahead, found = at_hand.pinched(scope.today, nursery)
    room: tuple[terms.RoomClaim, ...] = ()
    hands: tuple[terms.HandsClaim, ...] = ()
    until = min(scope.today, scope.last + ONE)
    if scope.first < until:
        room, hands = tuple(_stood(scope.first, until)), tuple(_done(scope.first, until))
    season = replace(ahead.season, today=scope.first, room=room, hands=hands)
    load = Load(season, scope.last, ahead.asks)
    load.go_on_as(ahead)
    touching = (each for each in found if scope.first <= each.last and each.first <= scope.last)
    return Carried(load, tuple(touching), ahead)


def _stood(first: date, until: date) -> Iterable[terms.RoomClaim]:
    """What stood where on the nights before `until`, which is today or a day past."""
    stays = Stay.objects.within(first, until - ONE) | Stay.objects.filter(left=False, first__lt=until)
    stays = stays.filter(entered=True)
    for place, begins, nights, load, left in stays.values_list("place_id", "first", "nights", "load", "left"):
        ends = min(begins + timedelta(days=nights), until) if left else until
        if ends > first:
            yield terms.RoomClaim(PAST, "", str(place), begins, (ends - begins).days, load)


def _done(first: date, until: date) -> Iterable[terms.HandsClaim]:
    """The hours that the work done before `until` was planned with."""
    works = Work.objects.filter(state=Work.State.DONE, done_on__gte=first, done_on__lt=until)
    for day, hours, care in works.values_list("done_on", "hours", "care"):
        if day and hours:
            yield terms.HandsClaim(PAST, "", day, tuple((str(s), float(h)) for s, h in hours), care)
