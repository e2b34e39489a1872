"""What is taken of the nursery already, and the season that a promise is judged against."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import chain
from typing import cast

from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _

from orders.models import Nursery

from ..models import Allocation, Part, Stay, Work
from ..planning import terms
from .keys import key_of
from .nursery import empty_season
from .reading import LIVING, hours_of

Claims = tuple[list[terms.RoomClaim], list[terms.HandsClaim]]


def season_of(today: date, *, nursery: Nursery | None = None) -> terms.Season:
    """All that a promise is judged against on `today`, in a handful of queries."""
    return Taken.read(today, nursery or Nursery.current()).season()


@dataclass
class Taken:
    """The nursery and what each living part takes of it, for planning one part after another beside the rest.

    `whole` is the season with all of it, where that has been put together already.
    """

    empty: terms.Season
    claims: dict[int, Claims]
    whole: terms.Season | None = None

    @classmethod
    def read(cls, today: date, nursery: Nursery) -> Taken:
        return cls(empty_season(today, nursery), claims_of(today))

    def season(self, *, but: Collection[int] = ()) -> terms.Season:
        """The season with all that is taken, `but` what these parts take."""
        if self.whole and not any(part in self.claims for part in but):
            return self.whole
        claims = [claimed for part, claimed in self.claims.items() if part not in but]
        return replace(
            self.empty,
            room=tuple(chain.from_iterable(room for room, _hands in claims)),
            hands=tuple(chain.from_iterable(hands for _room, hands in claims)),
        )

    def read_again(self, part: int) -> None:
        """Let what the part takes be what is stored of it now."""
        self.whole = None
        self.claims.pop(part, None)
        self.claims |= claims_of(self.empty.today, {part})


def claims_of(today: date, parts: Collection[int] | None = None) -> dict[int, Claims]:
    """By living part, or of some: the nights from today on that it takes of a place, the hours it still asks."""
    of_parts = Q() if parts is None else Q(part__in=parts)
    owners = _owners(Q() if parts is None else Q(pk__in=parts))
    claims: dict[int, Claims] = {pk: ([], []) for pk in sorted(owners)}
    for pk, room in _room_claims(Stay.objects.filter(of_parts), today, owners):
        claims[pk][0].append(room)
    for pk, hands in _hands_claims(Work.objects.filter(of_parts), today, owners):
        claims[pk][1].append(hands)
    return claims


def _owners(which: Q) -> dict[int, tuple[str, str]]:
    """Whose the claims of each living part are, as key and as label.

    They belong to the first line that the part is for, or to the part itself while nobody ordered it.
    """
    living = Part.objects.filter(which, state__in=LIVING)
    allocated = Allocation.objects.filter(part__in=living)
    owners = {
        pk: (f"part:{pk}", _("Batch %(code)s") % {"code": code})
        for pk, code in living.values_list("pk", "batch__code")
    }
    rows = allocated.order_by("-line_id").values_list("part_id", "line_id", "line__number", "line__order__code")
    for pk, line, number, code in rows:
        words = _("Order %(code)s, line %(number)s") if number > 1 else _("Order %(code)s")
        owners[pk] = (key_of(line), words % {"code": code, "number": number})
    return owners


def _room_claims(
    stays: QuerySet[Stay], today: date, owners: Mapping[int, tuple[str, str]]
) -> Iterable[tuple[int, terms.RoomClaim]]:
    """Plants that should have moved on but were not recorded as gone still take the coming night."""
    rows = stays.filter(part__state__in=LIVING, left=False)
    for part, place, first, nights, load, entered in rows.values_list(
        "part_id", "place_id", "first", "nights", "load", "entered"
    ):
        if part not in owners:
            continue
        if entered and first + timedelta(days=nights) <= today:
            nights = (today - first).days + 1
        if first + timedelta(days=nights) > today:
            owner, label = owners[part]
            yield part, terms.RoomClaim(owner, label, str(place), first, nights, load)


def _hands_claims(
    works: QuerySet[Work], today: date, owners: Mapping[int, tuple[str, str]]
) -> Iterable[tuple[int, terms.HandsClaim]]:
    """What is overdue is work of today."""
    rows = works.filter(state=Work.State.PLANNED, part__state__in=LIVING)
    for part, day, of_day, hours, care in rows.values_list("part_id", "day", "part_of_day", "hours", "care"):
        if part in owners and hours:
            owner, label = owners[part]
            when = cast("terms.PartOfDay", of_day)
            yield part, terms.HandsClaim(owner, label, max(day, today), hours_of(hours), care, when)
