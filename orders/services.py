"""What is done to orders. Each service takes keywords and `by`, runs in one transaction and records history."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from . import history, states
from .line_faults import faults_of
from .models import CodeSeries, Crop, Customer, Nursery, Order, OrderLine, User, Variety
from .prices import price_for
from .refusals import ManyRefused, Refused
from .signals import line_cancelled, line_changed, line_collected, line_ending


def find_or_make_customer(*, name: str, by: User | None, email: str = "", phone: str = "") -> Customer:
    """The customer of that name, or a new one with that address."""
    name = " ".join(name.split())
    if not name:
        raise Refused(_("No customer is named."), mend=_("Write the customer's name."), field="customer")
    with transaction.atomic():
        customer, made = Customer.objects.get_or_create(name=name, defaults={"email": email, "phone": phone})
        if made:
            history.record(by=by, what="customer made", subject=customer, text=_("Customer entered"))
    return customer


def make_variety(*, crop: Crop, name: str, role: str, by: User | None) -> Variety:
    """A new variety with its crop's starting values, as the order line makes it."""
    name = " ".join(name.split())
    if not name:
        raise Refused(_("The variety has no name."), mend=_("Write its name."), field="variety")
    with transaction.atomic():
        variety = Variety.from_crop(crop, name, role)
        if Variety.objects.filter(crop=crop, name__iexact=name).exists():
            raise Refused(
                _("%(crop)s has a variety %(name)s already.") % {"crop": crop, "name": name},
                mend=_("Choose it from the list."),
                field="variety",
            )
        variety.save()
        history.record(by=by, what="variety made", subject=variety, text=_("Made with the values of its crop"))
    return variety


def variety_named(name: str, *, side: str, crop: Crop | None = None) -> Variety | None:
    """The variety in use of that name, one fit for that side first; else an unsaved one of `crop`; else None."""
    name = " ".join(name.split())
    if not name:
        return None
    found = Variety.objects.filter(name__iexact=name, active=True).select_related("crop")
    if crop:
        found = found.filter(crop=crop)
    fitting = [v for v in found if (v.may_be_scion if side == "scion" else v.may_be_rootstock)] or list(found)
    if fitting:
        return fitting[0]
    role = Variety.Role.SCION if side == "scion" else Variety.Role.ROOTSTOCK
    return Variety.from_crop(crop, name, role) if crop else None


def with_new_varieties(lines: Sequence[OrderLine], *, by: User | None) -> list[OrderLine]:
    """The lines with every variety that is not stored yet made first; two lines may name the same new one."""
    made: dict[tuple[int, str], Variety] = {}
    for line in lines:
        for side in ("scion", "rootstock"):
            variety = getattr(line, side)
            if variety is None or variety.pk:
                continue
            key = (variety.crop_id, variety.name.lower())
            if key not in made:
                made[key] = make_variety(crop=variety.crop, name=variety.name, role=variety.role, by=by)
            elif made[key].role != variety.role:
                made[key].role = Variety.Role.BOTH
                made[key].save(update_fields=["role"])
            setattr(line, side, made[key])
    return list(lines)


def take_order(
    *,
    customer: Customer | None,
    lines: Sequence[OrderLine],
    by: User | None,
    today: date,
    own_crop: bool = False,
    notes: str = "",
    submit_key: uuid.UUID | None = None,
) -> Order:
    """Store an order with its lines as asked; it takes no room yet. The same submit_key gives the same order.

    `lines` are unsaved OrderLines without order and number; a price of zero is filled from the price list.
    """
    _check_order(customer, lines, own_crop, today)
    key = submit_key or uuid.uuid4()
    nursery = Nursery.current()
    try:
        with transaction.atomic():
            earlier = Order.objects.filter(submit_key=key).first()
            if earlier:
                return earlier
            order = Order.objects.create(
                code=str(CodeSeries.take("order")),
                customer=customer,
                own_crop=own_crop,
                notes=notes,
                taken_on=today,
                taken_by=by,
                deposit_percent=Decimal(0) if own_crop else nursery.deposit_percent,
                submit_key=key,
            )
            for number, line in enumerate(lines, start=1):
                _add(order, number, line, nursery)
            history.record(by=by, what="order taken", subject=order, text=_("Order taken"))
            return order
    except IntegrityError:
        # The same submit arrived twice at once; the other one won.
        return Order.objects.get(submit_key=key)


def _check_order(customer: Customer | None, lines: Sequence[OrderLine], own_crop: bool, today: date) -> None:
    refusals = []
    if customer is None and not own_crop:
        refusals.append(Refused(_("No customer is named."), mend=_("Find or make one."), field="customer"))
    if not lines:
        refusals.append(Refused(_("The order has no line."), mend=_("Add at least one."), field="lines"))
    for number, line in enumerate(lines):
        for fault in faults_of(line, today=today):
            refusals.append(Refused(fault.reason, mend=fault.mend, field=f"lines.{number}.{fault.field}"))
    if refusals:
        raise ManyRefused(refusals)


def _add(order: Order, number: int, line: OrderLine, nursery: Nursery) -> None:
    line.order = order
    line.number = number
    if order.own_crop:
        line.unit_price = Decimal(0)
    elif not line.unit_price:
        line.unit_price = price_for(line)
    line.tax_rate = Decimal(0) if order.own_crop else (line.tax_rate or nursery.tax_rate)
    line.save()


def locked(line: OrderLine) -> OrderLine:
    """The line's row, fresh and locked until the transaction ends."""
    return OrderLine.objects.select_for_update().get(pk=line.pk)


def change_state(
    line: OrderLine, wanted: str, *, by: User | str | None, what: str, text: str, **changes: object
) -> OrderLine:
    """Check and make one move of a line's state, with its history, and copy the result back to `line`."""
    row = locked(line)
    states.check_move(row.state, wanted)
    row.state = wanted
    for field, value in changes.items():
        setattr(row, field, value)
    row.save()
    for field in ("state", *changes):
        setattr(line, field, getattr(row, field))
    history.record(by=by, what=what, subject=row.order, text=text, line=row.number)
    return row


@transaction.atomic
def mark_confirmed(*, line: OrderLine, pickup: date, by: User | str | None, reason: str = "") -> None:
    """The promise is given. Called by production, in the transaction that takes the room."""
    text = _("Line %(n)s confirmed for %(day)s") % {"n": line.number, "day": _day(pickup)}
    if reason:
        text += " " + _("over a conflict: %(why)s") % {"why": reason}
    change_state(
        line,
        states.CONFIRMED,
        by=by,
        what="line confirmed",
        text=text,
        pickup=pickup,
        hold_until=None,
        confirmed_at=timezone.now(),
    )


@transaction.atomic
def mark_growing(*, line: OrderLine, by: User | str | None) -> None:
    """The first seed of the line is sown; a line that grows already stays as it is."""
    row = locked(line)
    if row.state == states.CONFIRMED:
        change_state(
            line, states.GROWING, by=by, what="line growing", text=_("Line %(n)s is sown") % {"n": row.number}
        )


@transaction.atomic
def mark_ready(*, line: OrderLine, quantity: int, by: User | None) -> None:
    """So many plants of the line are ready in all (not in addition)."""
    row = locked(line)
    if quantity < row.collected_quantity:
        raise Refused(
            _("%(n)s plants were collected already.") % {"n": row.collected_quantity},
            mend=_("Count those too."),
            field="quantity",
        )
    text = _("%(ready)s of %(asked)s plants of line %(n)s are ready") % {
        "ready": quantity,
        "asked": row.quantity,
        "n": row.number,
    }
    if row.state == states.READY:
        row.ready_quantity = line.ready_quantity = quantity
        row.save(update_fields=["ready_quantity"])
        history.record(by=by, what="line ready", subject=row.order, text=text, line=row.number)
    else:
        change_state(line, states.READY, by=by, what="line ready", text=text, ready_quantity=quantity)


@transaction.atomic
def mark_collected(
    *,
    line: OrderLine,
    quantity: int,
    by: User | None,
    on: date | None = None,
    close: bool = False,
    why: str = "",
) -> None:
    """So many plants were handed over on that day (else today). The line ends when its whole quantity is gone.

    `close` ends it short, with `why`. Listeners to line_collected get the day: it is the supply date of the bill.
    Raises Refused when more are handed over than are ready and still here.
    """
    row = locked(line)
    if quantity > row.outstanding:
        raise Refused(
            _("Only %(n)s plants are ready and still here.") % {"n": row.outstanding},
            mend=_("Hand over that many at the most, or count again what is ready."),
            field="quantity",
        )
    if quantity < 1 and not close:
        raise Refused(_("The quantity is zero or less."), mend=_("Write how many were taken."), field="quantity")
    states.check_move(row.state, states.COLLECTED)
    collected = row.collected_quantity + quantity
    whole = collected >= row.quantity
    text = _("%(n)s plants of line %(line)s handed over") % {"n": quantity, "line": row.number}
    if whole or close:
        change_state(
            line,
            states.COLLECTED,
            by=by,
            what="line collected",
            text=text,
            collected_quantity=collected,
            ended_reason=why,
        )
    else:
        row.collected_quantity = line.collected_quantity = collected
        row.save(update_fields=["collected_quantity"])
        history.record(by=by, what="plants handed over", subject=row.order, text=text, line=row.number)
    day = on or Nursery.current().today()
    line_collected.send(sender=OrderLine, line=line, quantity=quantity, on=day, by=by)


@transaction.atomic
def let_go(*, line: OrderLine, by: User | None, why: str = "") -> None:
    """A line that was only asked for or held is let go."""
    line_ending.send(sender=OrderLine, line=line)
    change_state(
        line,
        states.LET_GO,
        by=by,
        what="line let go",
        text=_("Line %(n)s let go") % {"n": line.number},
        ended_reason=why,
        hold_until=None,
    )
    line_cancelled.send(sender=OrderLine, line=line, by=by)


@transaction.atomic
def cancel(*, line: OrderLine, by: User | None, why: str) -> None:
    """A promised line is cancelled: its room is free again; what was collected stays billed."""
    if not why.strip():
        raise Refused(_("No reason is given."), mend=_("Say why the line is cancelled."), field="why")
    line_ending.send(sender=OrderLine, line=line)
    change_state(
        line,
        states.CANCELLED,
        by=by,
        what="line cancelled",
        text=_("Line %(n)s cancelled: %(why)s") % {"n": line.number, "why": why},
        ended_reason=why,
    )
    line_cancelled.send(sender=OrderLine, line=line, by=by)


def end(*, line: OrderLine, by: User | None, why: str = "") -> None:
    """Let a line go that was only asked for or held, else cancel it."""
    if line.state in (states.ASKED, states.HELD):
        let_go(line=line, by=by, why=why)
    else:
        cancel(line=line, by=by, why=why)


@transaction.atomic
def move_pickup(*, line: OrderLine, pickup: date, by: User | str | None, why: str = "") -> None:
    """Another day is promised. Called by production, in the transaction that moves the room."""
    row = locked(line)
    before = row.pickup
    row.pickup = line.pickup = pickup
    row.save(update_fields=["pickup"])
    history.record(
        by=by,
        what="pickup moved",
        subject=row.order,
        text=_("Pickup of line %(n)s moved from %(before)s to %(after)s")
        % {"n": row.number, "before": _day(before) if before else "–", "after": _day(pickup)},
        line=row.number,
        why=why,
    )
    line_changed.send(sender=OrderLine, line=line, by=by)


def _day(day: date) -> str:
    from django.utils.formats import date_format

    return date_format(day, "D j F Y")


@transaction.atomic
def split_off(*, line: OrderLine, quantity: int, by: User | None) -> OrderLine:
    """A further line of the same order, like `line`, for `quantity` of its plants. `line` is left as it is."""
    last = line.order.lines.order_by("-number").values_list("number", flat=True).first() or 0
    twin = OrderLine.objects.get(pk=line.pk)
    twin.pk = None
    twin._state.adding = True
    twin.number = last + 1
    twin.quantity = quantity
    twin.save()
    history.record(
        by=by,
        what="line split",
        subject=line.order,
        text=_("%(q)s plants of line %(n)s became line %(m)s")
        % {"q": quantity, "n": line.number, "m": twin.number},
        line=line.number,
    )
    return twin
