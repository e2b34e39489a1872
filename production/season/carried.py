"""What the shown days carry, read by SQL for those days only: on days past as it was, then as it is planned."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta

from orders.models import Nursery

from .. import bridge
from ..models import Stay, Work
from ..planning import terms
from ..planning.conflicts import conflicts
from ..planning.load import Load
from .scope import Scope

MARGIN = timedelta(days=14)  # beyond the shown days: a conflict is told with all its nights
PAST = "past"  # owner of what was carried before today; nobody is asked to move that
ONE = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Carried:
    """The load of the shown days, and the conflicts from today on that touch them."""

    load: Load
    conflicts: tuple[terms.Conflict, ...]


def carried(scope: Scope, nursery: Nursery) -> Carried:
    first = scope.first if scope.first <= scope.today else max(scope.today, scope.first - MARGIN)
    last = scope.last + MARGIN if scope.last >= scope.today else scope.last
    season = bridge.empty_season(first, nursery)
    room, hands = bridge.claims_within(max(first, scope.today), last, today=scope.today)
    room = [_from(claim, scope.today) for claim in room]
    if first < scope.today:
        until = min(scope.today, last + ONE)
        room += _stood(first, until)
        hands += _done(first, until)
    load = Load(replace(season, room=tuple(room), hands=tuple(hands)), last)
    found = conflicts(_ahead(load, scope.today, last))
    return Carried(load, tuple(each for each in found if scope.first <= each.last and each.first <= scope.last))


def _from(claim: terms.RoomClaim, today: date) -> terms.RoomClaim:
    """The nights from today on; those before are told by what was recorded."""
    gone = max((today - claim.first).days, 0)
    return replace(claim, first=claim.first + gone * ONE, nights=claim.nights - gone)


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


def _ahead(load: Load, today: date, last: date) -> Load:
    """The load without what lies before today, and after the days that were read whole."""
    ahead = load.copy()
    begins, ends = max(load.index(today), 0), max(load.index(last) + 1, 0)
    for carried_ in (ahead.used, ahead.asked):
        carried_[:, :begins] = 0
        carried_[:, ends:] = 0
    return ahead
