"""The confirmation: what we promise, by line, with its days, its price and the strand of its plants.

The letter with it goes by itself where it says what was asked for. Where it says another day than the customer
knows, it is a draft: a person reads it first.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator, Sequence
from copy import copy
from dataclasses import asdict
from datetime import date
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders import documents, drafts, history, jobs, letters, money, states
from orders.days import day_words
from orders.links import private_link
from orders.models import Document, Nursery, Order, OrderLine, User
from orders.queries import orders
from orders.strand import Axis, Strand, axis_of

from . import needless
from .lines import Behind, behind, named, window_of
from .told import CONFIRMING, told_to

STANDING = states.PROMISED | {states.COLLECTED}  # lines that count in the sum


def ask_for_confirmation(order: Order, *, by: User | str | None, draft: bool = False) -> None:
    """Have a (new) confirmation made and sent, once this transaction is committed.

    With `draft` its letter waits until a person has read it: it says another day than the customer was told.
    """
    if order.own_crop:
        return
    newest = history.of(order).values_list("pk", flat=True).first()  # each change of the order has its own paper
    payload = {"order": order.pk, "by": history.name_of(by), "draft": draft}
    jobs.enqueue("confirmation", f"confirmation:{order.pk}:{newest}", payload)


@jobs.handler("confirmation")
def issue_confirmation(payload: dict[str, Any]) -> None:
    """Issue the order's confirmation as it stands now and have it sent.

    Payload: order (its pk), by (a name), draft (a person is to read the letter before it is sent). A draft that
    lies ready is rewritten with what came after it, so that there is one for each order.
    """
    order = orders().get(pk=payload["order"])
    if order.customer is None:  # our own crop gets no letters
        return
    by = payload.get("by", "")
    draft = payload.get("draft", False) or drafts.lies_ready(order)
    with letters.in_language_of(order.customer) as nursery:
        data = confirmation_data(order, nursery=nursery, today=nursery.today())
        if not data["lines"]:
            return  # let go or taken back before the paper was made
        document = documents.issue(
            kind=Document.Kind.CONFIRMATION,
            code=order.code,
            title=_("Confirmation of order %(code)s") % {"code": order.code},
            template="pdf/confirmation.html",
            data=data,
            order=order,
            customer=order.customer,
            by=by,
            cause=payload["cause"],
        )
        moved = list(_moved(data["lines"], told_to(order).confirmed, nursery.today())) if draft else []
    letters.queue(
        kind="pickup_moved" if any(row["before"] for row in moved) else "confirmation",
        key=f"confirmation:{order.code}:{document.revision}",
        customer=order.customer,
        order=order,
        document=document,
        context=data | {"revision": document.revision, "moved": moved, "link": private_link(order)},
        by=by,
        draft=draft,
        instead_of=CONFIRMING if needless.still_held(order) else (*CONFIRMING, "quote"),
    )


def _moved(lines: Iterable[dict[str, Any]], known: dict[int, date], today: date) -> Iterator[dict[str, Any]]:
    """The lines with another pickup than the customer knows, and in words the day known so far, or ''."""
    for line in lines:
        before, now = known.get(line["number"]), line.get("pickup")
        if now and before != now:
            yield line | {"before": day_words(before, today) if before else ""}


def confirmation_data(order: Order, *, nursery: Nursery, today: date) -> dict[str, Any]:
    """All that the confirmation says, of every line that was ever confirmed."""
    rows = [line for line in order.lines.all() if line.state in STANDING or _withdrawn(line)]
    return paper_data(order, rows, counting=STANDING, nursery=nursery, today=today)


def paper_data(
    order: Order, rows: Sequence[OrderLine], *, counting: Container[str], nursery: Nursery, today: date
) -> dict[str, Any]:
    """What a paper says of an order and these lines of it; lines in the states `counting` make up the sum."""
    totals = totals_of([line for line in rows if line.state in counting], nursery)
    known = behind(rows, nursery)
    lines = [line_data(line, nursery, today, known) for line in rows]
    strands = [(line["number"], line["what"], strand) for line in lines for strand in line.pop("strands", ())]
    return {
        "issued": today,
        "nursery": documents.letterhead(nursery),
        "customer": documents.addressee(order.customer),
        "code": order.code,
        "taken_on": order.taken_on,
        "notes": order.notes,
        "currency": nursery.currency,
        "tax_included": nursery.prices_include_tax,
        "lines": lines,
        "grafted": any(line["grafted"] and not line["cancelled"] for line in lines),
        "strands": strands,
        "axis": _shared_axis([strand for _number, _what, strand in strands]),
        "totals": asdict(totals),
        "deposit": deposit_of(order, totals.gross),
    }


def _shared_axis(strands: Sequence[Strand]) -> Axis | None:
    axes = [axis_of(strand) for strand in strands]
    return Axis(min(axis.first for axis in axes), max(axis.last for axis in axes)) if axes else None


def _withdrawn(line: OrderLine) -> bool:
    return line.state == states.CANCELLED and line.confirmed_at is not None


def totals_of(lines: Iterable[OrderLine], nursery: Nursery) -> money.Totals:
    """Net, tax by rate and gross of these lines, as they would be billed."""
    return money.totals(
        ((_amount(line), line.tax_rate) for line in lines), tax_included=nursery.prices_include_tax
    )


def _amount(line: OrderLine) -> Decimal:
    return money.line_amount(line.quantity, line.unit_price)


def deposit_of(order: Order, gross: Decimal) -> dict[str, Decimal] | None:
    """The share of the sum that is asked beforehand, and what it comes to."""
    if not order.deposit_percent or not gross:
        return None
    return {"percent": order.deposit_percent, "amount": money.percent_of(gross, order.deposit_percent)}


def line_as_told(
    line: OrderLine, day: date | None, nursery: Nursery, today: date, known: Behind
) -> dict[str, Any]:
    """A line that was moved, as long as its customer knows of `day` only: without the days of its new plan."""
    if day:
        told = copy(line)
        told.pickup = day
        when = _when(told, nursery, today, known)
    else:
        when = _("We will write to you about the day.")
    return line_data(line, nursery, today, known) | {"pickup": day, "when": when, "days": [], "strands": ()}


def line_data(line: OrderLine, nursery: Nursery, today: date, known: Behind) -> dict[str, Any]:
    """A line in the customer's words, with its strands."""
    if line.state == states.CANCELLED:
        return named(line) | {"cancelled": True, "why": line.ended_reason}
    strands = known.strands[line.pk]
    return named(line) | {
        "cancelled": False,
        "pickup": line.pickup,
        "when": _when(line, nursery, today, known),
        "seeds": list(_seeds(line, today)),
        "days": list(_days(strands, than=line.pickup or today)),
        "strands": strands,
        "unit_price": line.unit_price,
        "amount": _amount(line),
        "tax_rate": line.tax_rate,
        "notes": line.notes,
    }


def _when(line: OrderLine, nursery: Nursery, today: date, known: Behind) -> str:
    """'Pickup Tue 20 to Wed 21 April, 9:00 to 17:00', or the nights of room."""
    window = window_of(line, known.calendar)
    if line.kind == OrderLine.Kind.ROOM:
        nights = line.room_nights or 0
        words = ngettext("%(n)s night, until %(day)s", "%(n)s nights, until %(day)s", nights)
        return words % {"n": nights, "day": day_words(line.pickup or line.pickup_asked, today)}
    return _("Pickup %(days)s, %(hours)s") % {"days": window.words(today), "hours": nursery.pickup_hours}


def _seeds(line: OrderLine, today: date) -> Iterator[str]:
    """Whose seed each side is grown from, and by when we expect yours."""
    if line.kind == OrderLine.Kind.ROOM:
        return
    sides = [(line.scion, line.scion_seed, line.scion_seed_expected)]
    if line.kind == OrderLine.Kind.GRAFTED:
        sides.append((line.rootstock, line.rootstock_seed, line.rootstock_seed_expected))
    if all(whose == OrderLine.Seed.OURS for _variety, whose, _expected in sides):
        yield _("Our seed")
        return
    for variety, whose, expected in sides:
        if whose == OrderLine.Seed.OURS:
            words = _("%(variety)s: our seed")
        elif expected:
            words = _("%(variety)s: your seed, needed here by %(day)s")
        else:
            words = _("%(variety)s: your seed")
        yield words % {"variety": variety, "day": day_words(expected, today) if expected else ""}


def _days(strands: Iterable[Strand], than: date) -> Iterator[tuple[str, str]]:
    """The days that matter on the way, earliest first: (what, when); the year only where `than` has another."""
    found: dict[str, set[date]] = {}
    for strand in strands:
        for what, days in (_sown(strand) | {_("grafted"): strand.grafted}).items():
            found.setdefault(what, set()).update(days)
        if strand.ready:
            found.setdefault(_("ready"), set()).add(strand.ready)
    known = {what: sorted(days) for what, days in found.items() if days}
    for what, dates in sorted(known.items(), key=lambda item: item[1]):
        yield what, _(" and ").join(day_words(day, than) for day in dates)


def _sown(strand: Strand) -> dict[str, tuple[date, ...]]:
    if strand.plain_sown or strand.scion_sown == strand.rootstock_sown:
        return {_("sown"): strand.plain_sown or strand.scion_sown}
    return {_("rootstock sown"): strand.rootstock_sown, _("scion sown"): strand.scion_sown}
