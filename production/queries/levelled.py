"""What a levelling says: its moves with whom to tell and how, what they come to, what they cost. Reads only."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders.models import OrderLine

from .. import bridge
from ..models import SeasonLevelling
from ..planning.level import Cost
from ..planning.level.cost import HUNDREDTHS


def moves_of(run: SeasonLevelling) -> list[dict[str, Any]]:
    """The rows of its moves, each with its `order`, the `customer` to be told ('' if nobody), and `how`."""
    keys = [bridge.line_of(row["key"]) for row in run.moves]
    lines = OrderLine.objects.filter(pk__in=keys).select_related("order__customer")
    found = {bridge.key_of(line.pk): line for line in lines}
    return [{"refused": False, **row, **_telling(row, found.get(row["key"]))} for row in run.moves]


def _telling(row: dict[str, Any], line: OrderLine | None) -> dict[str, str]:
    customer = line.order.customer if line else None
    code = line.order.code if line else ""
    if customer is None or not (row["tells"] or row["was"] == "asked"):
        return {"order": code, "customer": "", "how": ""}
    return {"order": code, "customer": customer.name, "how": "email" if customer.email else "call"}


def cost_words(cost: Sequence[int]) -> str:
    """'all have room and none is late; one customer told another day; 2 lines moved' of a Cost as it is stored."""
    each = Cost(*cost)
    words = _("%(room)s and %(late)s") % {"room": _room_words(each.left_over), "late": _late_words(each.late)}
    if each.left_over % HUNDREDTHS or each.late % HUNDREDTHS:
        words = _("%(words)s (own crops count for less)") % {"words": words}
    told = ngettext("one customer told another day", "%(n)s customers told another day", each.told_anew) % {
        "n": each.told_anew
    }
    moved = ngettext("one line moved", "%(n)s lines moved", each.moved) % {"n": each.moved}
    return "; ".join((words, told, moved))


def _room_words(left_over: int) -> str:
    """Of a weight in hundredths, which an own crop has less of: in whole lines all the same."""
    if not left_over:
        return _("all have room")
    lines = ceil(left_over / HUNDREDTHS)
    return ngettext("%(n)d line without room", "%(n)d lines without room", lines) % {"n": lines}


def _late_words(late: int) -> str:
    if not late:
        return _("none is late")
    days = ceil(late / HUNDREDTHS)
    return ngettext("%(n)d day late in all", "%(n)d days late in all", days) % {"n": days}


def outcome_words(run: SeasonLevelling) -> str:
    """What the moves come to: who finds room, who moves, who must be told."""
    finding = sum(row["was"] == "asked" for row in run.moves)
    moving, told = len(run.moves) - finding, sum(bool(row["tells"]) for row in run.moves)
    said = []
    if finding:
        said.append(ngettext("%(n)s line finds room", "%(n)s lines find room", finding) % {"n": finding})
    if moving:
        said.append(ngettext("%(n)s promised line moves", "%(n)s promised lines move", moving) % {"n": moving})
    if moving:
        said.append(
            ngettext("%(n)s customer must be told another day", "%(n)s customers must be told another day", told)
            % {"n": told}
            if told
            else _("no promised pickup changes")
        )
    return f"{', '.join(said)}.".capitalize() if said else ""
