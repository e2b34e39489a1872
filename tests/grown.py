"""A nursery in full work, small, and the same one grown: rows copied, so that lists and what stands in them grow.

The small one is made by services, as people would make it. Living through a large one would take minutes; how
often a page asks is the same whichever way the rows came to be.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from decimal import Decimal
from itertools import count
from typing import Any

from django.db import models
from django.utils import timezone

from invoicing import services as money
from invoicing.models import Collection, Invoice, InvoiceLine, InvoiceTax, Payment
from orders import jobs
from orders.models import (
    Customer,
    Document,
    HistoryEntry,
    Job,
    Letter,
    MailboxMessage,
    Order,
    OrderLine,
    Price,
    User,
    Variety,
)
from production.models import (
    Allocation,
    Batch,
    ClosedDay,
    Count,
    OrderList,
    Part,
    Place,
    Protocol,
    ProtocolStage,
    SeedLot,
    Sowing,
    StageWork,
    Stay,
    Work,
)
from production.services import (
    calendar_links,
    handing_over,
    holding,
    order_lists,
    promise,
    quoting,
    readiness,
    replan,
)
from tests.factories import CustomerFactory
from tests.production.growing import Ground, ground
from tests.production.order_lists import csv_text, row

PICKUP = date(2027, 4, 21)

# What grows on a line, what is told and billed of an order, what orders name. Parents come before their children.
GROWN = (Batch, Part, Allocation, Sowing, Stay, Work, Count)
TOLD = (Document, Letter, Collection, Invoice, InvoiceLine, InvoiceTax, Payment)
NAMED = (Customer, Variety, Price, SeedLot)
BESIDE = (User, ClosedDay, Job, MailboxMessage, HistoryEntry, OrderList)


COUNTED = ("number", "code", "version", "order", "rate", "name")  # what tells rows of one thing apart


# --- small ------------------------------------------------------------------------------------------------------


def small_season(move_to: Callable[[date], object]) -> Ground:
    """One customer's orders in every state, on the day in April on which the first of them are ready."""
    on = ground()
    move_to(on.today)
    on.lots()
    customer = CustomerFactory(name="Longacre")
    ready = [on.line(customer, quantity=20, unit_price=Decimal("2.75")) for _n in range(2)]
    growing = on.line(customer, quantity=20, pickup_asked=PICKUP + timedelta(days=21))
    for line in ready:
        on.grow_to_ready(on.part(line))
        readiness.declare_ready(line=_again(line), quantity=20, by=on.grower, today=on.today)
    on.grow_until(on.part(growing), ("count_taken", "move"))
    on.today = max(on.today, PICKUP)
    move_to(on.today)
    replan.roll_over(on.today)
    _billed(on, _again(ready[0]))
    readiness.send_notice(line=_again(ready[1]), by=on.grower, today=on.today)
    _to_come(on, customer)
    _in_trouble(on)
    _beside(on)
    return on


def _again(line: OrderLine) -> OrderLine:
    return OrderLine.objects.select_related("order__customer").get(pk=line.pk)


def _billed(on: Ground, line: OrderLine) -> None:
    """Half is collected and billed, paid in part, credited and billed again in part; the rest is to bill."""
    by: dict[str, Any] = {"by": on.grower, "today": on.today}
    money.record_payment(order=line.order, amount=Decimal(5), on=on.today, **by)
    handing_over.hand_over(line=line, quantity=6, reason="", **by)
    invoice = money.issue(order=line.order, **by)
    money.record_payment(invoice=invoice, amount=Decimal(2), on=on.today, **by)
    first = invoice.lines.get()
    money.credit(invoice=invoice, reason="Two were broken", quantities={first: 2}, bill_again=False, **by)
    handing_over.hand_over(line=_again(line), quantity=4, reason="", **by)


def _to_come(on: Ground, customer: Customer) -> None:
    """Orders that are confirmed, held with a quote, asked, and confirmed over a conflict."""
    later = PICKUP + timedelta(weeks=18)
    on.line(customer, quantity=20, pickup_asked=later, unit_price=Decimal(2))
    held = on.asked(customer, quantity=20, pickup_asked=later, unit_price=Decimal(2))
    holding.hold(order=held.order, by=on.grower, today=on.today)
    quoting.send_quote(order=held.order, by=on.grower)
    on.asked(customer, quantity=20, pickup_asked=later)
    Place.objects.filter(name="Healing chamber").update(capacity=1)
    over = on.asked(customer, quantity=60, pickup_asked=later)
    promise.accept(order=over.order, by=on.grower, today=on.today, over_conflict="A chamber can be had")


def _in_trouble(on: Ground) -> None:
    """Something late, something short, work for today, letters in every state."""
    Part.objects.filter(state=Part.State.ALIVE).update(late_by=3, chance=0.4)
    planned = Work.objects.filter(state=Work.State.PLANNED, part__state__in=(Part.State.ALIVE, Part.State.PLANNED))
    for part in Part.objects.filter(works__in=planned).distinct():
        part.works.filter(pk=planned.filter(part=part).order_by("day").first().pk).update(day=on.today)
    jobs.drain(limit=1000)
    written = Letter.objects.first()
    for state in Letter.State.values:
        copied(written, key=f"in-state-{state}", state=state).save()
    Job.objects.create(
        kind="confirmation", key="failed", state="failed", error="No printer", done_at=timezone.now()
    )


def _beside(on: Ground) -> None:
    Price.objects.create(kind="grafted", unit_price=Decimal("2.75"))
    calendar_links.make(user=on.grower)
    ClosedDay.objects.create(day=on.today + timedelta(days=9), name="Fair")
    Variety.objects.create(**_values(on.scion, name="Old Red", active=False))
    order_lists.start(name="list", content=csv_text([row(on.nursery, 1, Pickup="x")]).encode(), by=on.grower)
    jobs.drain(limit=1000)


# --- grown ------------------------------------------------------------------------------------------------------


def grow() -> None:
    """Four times the orders; more lines of each, parts of each batch, orders of each customer, and customers."""
    passes = count(1)
    orders = (Order, OrderLine, *GROWN, *TOLD)
    copy((OrderLine, *GROWN, InvoiceLine), next(passes))
    copy((Part, Allocation, Sowing, Stay, Work, Count), next(passes))
    copy((InvoiceTax, Payment), next(passes))
    copy((ProtocolStage, StageWork), next(passes))
    copy(orders, next(passes))
    copy((Protocol, ProtocolStage, StageWork, *NAMED, *orders, *BESIDE), next(passes))


def copy(kinds: Sequence[type[models.Model]], number: int) -> None:
    """Every row of these models once more. What refers to a row that is copied refers to its copy."""
    made: dict[type[models.Model], dict[Any, models.Model]] = {}
    for kind in kinds:
        made[kind] = {}
        old = list(kind._default_manager.order_by("pk"))
        new = []
        for at, one in enumerate(old):
            changes = {
                field.name: made[field.related_model][key]
                for field in kind._meta.fields
                if field.related_model in made
                and (key := getattr(one, field.attname)) in made[field.related_model]
            }
            one_more = copied(one, **changes, **_unlike(one, changes, number, at))
            if any(field.related_model is kind for field in kind._meta.fields):
                one_more.save(force_insert=True)  # so that the next may refer to it
            new.append(one_more)
            made[kind][one.pk] = one_more
        if new and new[0]._state.adding:
            kind._default_manager.bulk_create(new)


def copied(one: models.Model, **changes: Any) -> Any:
    return type(one)(**_values(one, **changes))


def _values(one: models.Model, **changes: Any) -> dict[str, Any]:
    fields = {field.name: getattr(one, field.attname) for field in one._meta.fields if not field.primary_key}
    by_key = {field.name: field.attname for field in one._meta.fields}
    kept = {by_key[name]: value for name, value in fields.items() if name not in changes}
    if isinstance(one._meta.pk, models.UUIDField):
        kept["id"] = uuid.uuid4()
    return kept | changes


def _unlike(one: models.Model, changes: dict[str, Any], number: int, at: int) -> dict[str, Any]:
    """Other values for what must be there once, unless it is so by what the copy refers to."""
    unlike: dict[str, Any] = {}
    for field in one._meta.fields:
        if field.unique and not field.primary_key and field.name not in changes:
            unlike[field.name] = _other(field, getattr(one, field.attname), number, at)
    for constraint in one._meta.constraints:
        if isinstance(constraint, models.UniqueConstraint) and not {*constraint.fields} & {*changes, *unlike}:
            names = [name for name in COUNTED if name in constraint.fields]
            if names:
                field: Any = one._meta.get_field(names[0])
                unlike[field.name] = _other(field, getattr(one, field.attname), number, at)
    if "current" in (field.name for field in one._meta.fields):
        unlike["current"] = False
    return unlike


def _other(field: Any, value: Any, number: int, at: int) -> Any:
    if value in (None, "") or field.is_relation:
        return None
    if isinstance(field, models.UUIDField):
        return uuid.uuid4()
    if isinstance(field, models.DateField):
        return value + timedelta(days=365 * number)
    if isinstance(value, str):
        return f"{value[: (field.max_length or 99) - 3]}-{number}"
    return value + number * 20 + at if isinstance(value, int) else value + number
