"""What the customer was told of an order's days: by the newest confirmation that reached them or is on its way.

What lies as a draft, was put aside, or is still to be rung has told nobody anything. Letters say by this which day
is new, and the page of the private link shows no other day before a letter does. Reads only.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from orders import states
from orders.models import Document, Letter, Order, OrderLine

CONFIRMING = ("confirmation", "pickup_moved")  # letters that carry a confirmation
UNREAD = (Letter.State.DRAFT, Letter.State.PUT_ASIDE)
UNHEARD = (*UNREAD, Letter.State.TO_CALL)


@dataclass(frozen=True, slots=True)
class Told:
    """Of an order: the `revision` of the confirmation told last (0: none), and its pickups by number of line."""

    revision: int = 0
    confirmed: dict[int, date] = field(default_factory=dict)
    quoted: dict[int, date] = field(default_factory=dict)
    unread: frozenset[int] = frozenset()  # papers whose letter waits for a person, or was put aside
    noticed: frozenset[str] = frozenset()  # codes of the pickup notes, '31-2'

    def day_of(self, line: OrderLine) -> date | None:
        """The pickup that the customer knows; None where the day is another than asked, and not told yet."""
        nothing_said = not self.revision and not self.unread
        if line.state not in states.PROMISED or nothing_said or f"{line.order.code}-{line.number}" in self.noticed:
            return line.pickup
        asked = line.pickup if line.pickup == line.pickup_asked else None
        return self.confirmed.get(line.number) or self.quoted.get(line.number) or asked

    def may_be_shown(self, paper: Document) -> bool:
        """Whether the paper gives nothing away that no letter has said."""
        if paper.kind != Document.Kind.CONFIRMATION:
            return True
        return paper.revision <= self.revision or (not self.revision and paper.pk not in self.unread)


def told_to(order: Order) -> Told:
    """In four queries."""
    revision, confirmed = _newest(order, CONFIRMING)
    notes = order.documents.filter(kind=Document.Kind.PICKUP_NOTE)
    unread = order.letters.filter(kind__in=CONFIRMING, document__isnull=False, state__in=UNREAD)
    return Told(
        revision,
        confirmed,
        quoted=_newest(order, ["quote"])[1],
        unread=frozenset(unread.values_list("document_id", flat=True)),
        noticed=frozenset(notes.values_list("code", flat=True)),
    )


def _newest(order: Order, kinds: Iterable[str]) -> tuple[int, dict[int, date]]:
    """Revision and pickups of the newest paper that a letter of these kinds has told."""
    heard = order.letters.filter(kind__in=kinds, document__isnull=False).exclude(state__in=UNHEARD)
    newest = heard.order_by("-document__revision").values_list("document__revision", "document__data").first()
    return (newest[0], _pickups(newest[1])) if newest else (0, {})


def _pickups(data: dict[str, Any]) -> dict[int, date]:
    said = {line["number"]: line.get("pickup") for line in data.get("lines", ())}
    return {number: date.fromisoformat(day) for number, day in said.items() if day}
