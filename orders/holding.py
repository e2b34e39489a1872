"""A promise that is only held: how its lines are held, held longer, let go by themselves, and asked for again.

Production calls these in the transaction that takes or frees the room (production/services/holding.py).
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from datetime import date

from django.db import transaction
from django.utils.translation import gettext as _

from . import history, states
from .days import day_words
from .models import OrderLine, User
from .models.nursery import new_token
from .models.orders import Order
from .refusals import Refused
from .services import change_state, locked
from .signals import line_cancelled, line_ending

LAPSED = "hold lapsed"  # what history calls a promise that ended by itself
ACCEPTED = "accepted by customer"  # and one that was taken by the private link


@transaction.atomic
def mark_held(*, line: OrderLine, pickup: date, until: date, by: User | str | None) -> None:
    """The line has its room through the end of the day `until`, and its pickup."""
    text = _("Line %(n)s held until %(until)s, pickup %(day)s") % {
        "n": line.number,
        "until": day_words(until, date.min),
        "day": day_words(pickup, date.min),
    }
    change_state(line, states.HELD, by=by, what="line held", text=text, pickup=pickup, hold_until=until)


@transaction.atomic
def hold_until(*, line: OrderLine, until: date, by: User | str | None) -> None:
    """The same room, until another day. MoveRefused when the line is not held any more."""
    row = locked(line)
    if row.state != states.HELD:
        raise states.MoveRefused(row.state, states.HELD)
    if row.hold_until == until:
        return
    row.hold_until = line.hold_until = until
    row.save(update_fields=["hold_until"])
    text = _("Line %(n)s held until %(until)s") % {"n": row.number, "until": day_words(until, date.min)}
    history.record(by=by, what="hold changed", subject=row.order, text=text, line=row.number)


@transaction.atomic
def lapse(*, line: OrderLine, today: date) -> bool:
    """Let the line go if the days that it was held for are over; False if somebody was quicker."""
    line_ending.send(sender=OrderLine, line=line)
    row = locked(line)
    if row.state != states.HELD or row.hold_until is None or row.hold_until >= today:
        return False
    until = day_words(row.hold_until, date.min)
    change_state(
        line,
        states.LET_GO,
        by=None,
        what=LAPSED,
        text=_("Line %(n)s let go: it was held until %(until)s") % {"n": row.number, "until": until},
        ended_reason=_("It was held until %(until)s, and nobody said yes.") % {"until": until},
        hold_until=None,
    )
    line_cancelled.send(sender=OrderLine, line=line, by=None)
    return True


@transaction.atomic
def ask_again(*, line: OrderLine, by: User | None) -> None:
    """A line that was let go is asked for again, as it was asked at first. It takes no room yet."""
    row = locked(line)
    if row.state != states.LET_GO:
        raise states.MoveRefused(row.state, states.ASKED)
    text = _("Line %(n)s is asked for again") % {"n": line.number}
    change_state(line, states.ASKED, by=by, what="line asked again", text=text, pickup=None, ended_reason="")


@transaction.atomic
def new_link(*, order: Order, by: User) -> Order:
    """Another private link for the customer; the one before opens nothing any more."""
    row = Order.objects.select_for_update().get(pk=order.pk)
    row.token = order.token = new_token()
    row.save(update_fields=["token"])
    history.record(
        by=by, what="link renewed", subject=row, text=_("A new private link was made; the one before is dead")
    )
    return order


def refuse_unless_held(lines: Iterable[OrderLine]) -> None:
    if not any(line.state == states.HELD for line in lines):
        raise Refused(_("Nothing of this order is held."), mend=_("Hold it first."))


def quote_key(order: Order, held: Iterable[OrderLine]) -> str:
    """The job that quotes just this: the same lines, days, prices and link are the same quote."""
    held = list(held)
    return f"quote:{order.pk}:{fingerprint(held, order.token, *(line.hold_until for line in held))}"


def fingerprint(lines: Iterable[OrderLine], *more: object) -> str:
    """What is offered in these lines, as a short text that changes with any of it."""
    offered = [
        [
            line.pk, line.quantity, line.what, line.method, line.leaders, line.container_id, str(line.pickup),
            line.room_nights, f"{line.unit_price:.4f}", f"{line.tax_rate:.2f}", line.scion_seed,
            line.rootstock_seed,
        ]
        for line in lines
    ]  # fmt: skip
    return hashlib.sha256(json.dumps([offered, *map(str, more)]).encode()).hexdigest()[:32]
