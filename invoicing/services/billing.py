"""Issuing invoices: number, rows and sums in one transaction; the paper follows as a job."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from decimal import Decimal
from uuid import UUID, uuid4

from django.db import transaction
from django.utils import translation
from django.utils.translation import gettext as _

from orders import money
from orders.models import Customer, Nursery, Order, OrderLine, User
from orders.refusals import ManyRefused, Refused

from .. import numbers, queries
from ..items import Item, item, totals
from ..models import Collection, Invoice, InvoiceLine
from . import locks
from .payments import carry_over
from .rows import finish, seller

MOST_PRICE = Decimal(999_999)


def issue(
    *,
    order: Order,
    by: User | None,
    today: date,
    quantities: Mapping[OrderLine, int] | None = None,
    prices: Mapping[OrderLine, Decimal] | None = None,
    tax_rates: Mapping[OrderLine, Decimal] | None = None,
    supplied_on: date | None = None,
    key: UUID | None = None,
) -> Invoice:
    """Bill plants that were handed over: all that are not billed, or so many of each line.

    `prices` (each, up to 4 places) and `tax_rates` (percent) replace those of the lines. `supplied_on` is the last
    hand-over of these lines unless given. Deposits in hand are counted up to the total. The same `key` gives the
    same invoice. The paper and the letter to the customer follow as a job. Raises Refused or ManyRefused.
    """
    with transaction.atomic():
        order = locks.order(order)
        if key and (earlier := Invoice.objects.filter(submit_key=key).first()):
            return earlier
        nursery, customer = _parties(order)
        language = customer.language or nursery.language
        with translation.override(language):
            items = _items(order, quantities, prices or {}, tax_rates or {})
        supplied = _supplied_on(items, supplied_on, today)
        carry_over(order=order, by=by, today=today)
        sums = totals(items, tax_included=nursery.prices_include_tax)
        invoice = Invoice.objects.create(
            kind=Invoice.Kind.INVOICE,
            number=numbers.take(Invoice.Kind.INVOICE, year=today.year),
            order=order,
            customer=customer,
            issued_on=today,
            supplied_on=supplied,
            due_on=today + timedelta(days=nursery.payment_days),
            **seller(nursery),
            **_buyer(customer),
            language=language,
            currency=nursery.currency,
            tax_name=nursery.tax_name,
            prices_include_tax=nursery.prices_include_tax,
            terms=nursery.payment_terms,
            net=sums.net,
            tax=sums.tax,
            total=sums.gross,
            deposit=min(max(queries.deposits_in_hand([order])[order.pk], queries.ZERO), sums.gross),
            issued_by=by.shown_name if by else "",
            submit_key=key or uuid4(),
        )
        InvoiceLine.objects.bulk_create(_line(invoice, n, one) for n, one in enumerate(items, start=1))
        finish(invoice, sums.rows, by, "invoice issued", _("Invoice %(number)s made: %(total)s"))
    return invoice


# --- what is billed ---------------------------------------------------------------------------------------


def _parties(order: Order) -> tuple[Nursery, Customer]:
    """Who bills whom; Refused where that makes no invoice."""
    nursery = Nursery.current()
    if order.own_crop or order.customer is None:
        raise Refused(_("This is our own crop."), mend=_("It gets no bill."))
    if not nursery.name:
        raise Refused(
            _("The nursery has no name yet, and an invoice must name its seller."),
            mend=_("Write name and address under Nursery first."),
        )
    return nursery, order.customer


def _items(
    order: Order,
    quantities: Mapping[OrderLine, int] | None,
    prices: Mapping[OrderLine, Decimal],
    tax_rates: Mapping[OrderLine, Decimal],
) -> list[Item]:
    """The rows of the bill, checked against what was handed over; all faults at once."""
    lines = {line.pk: line for line in queries.lines_to_bill().filter(order=order)}
    wanted = {pk: line.to_bill for pk, line in lines.items()}
    if quantities is not None:
        wanted = {line.pk: quantity for line, quantity in quantities.items() if quantity}
    faults = [fault for line, n in (quantities or {}).items() if (fault := _too_many(order, line, n, lines))]
    faults += [
        fault for line in lines.values() if line.pk in wanted for fault in _bad_terms(line, prices, tax_rates)
    ]
    if faults:
        raise ManyRefused(faults)
    if not wanted:
        raise _nothing_to_bill(order, lines)
    return [
        item(line, wanted[line.pk], unit_price=prices.get(line), tax_rate=tax_rates.get(line))
        for line in lines.values()
        if line.pk in wanted
    ]


def _too_many(order: Order, line: OrderLine, quantity: int, lines: dict[int, queries.Line]) -> Refused | None:
    there = lines[line.pk].to_bill if line.pk in lines else 0
    if line.order_id != order.pk:
        return Refused(_("That line belongs to another order."), field="quantities")
    if 0 <= quantity <= there:
        return None
    return Refused(
        _("Of line %(line)s, %(there)s were handed over and not billed; %(n)s is not possible.")
        % {"line": line.number, "there": there, "n": quantity},
        mend=_("Write a number from 0 to %(there)s.") % {"there": there},
        field=f"lines.{line.number}.quantity",
    )


def _bad_terms(
    line: OrderLine, prices: Mapping[OrderLine, Decimal], tax_rates: Mapping[OrderLine, Decimal]
) -> list[Refused]:
    faults = []
    price = prices.get(line)
    if price is None and not line.unit_price:
        faults.append(
            Refused(
                _("Line %(line)s has no price.") % {"line": line.number},
                mend=_("Write the price each."),
                field=f"lines.{line.number}.unit_price",
            )
        )
    if price is not None and not (0 <= price <= MOST_PRICE and price == price.quantize(money.UNIT)):
        faults.append(
            Refused(
                _("The price of line %(line)s is below zero, too large, or finer than 4 places.")
                % {"line": line.number},
                mend=_("Write the price each, such as 2.75."),
                field=f"lines.{line.number}.unit_price",
            )
        )
    rate = tax_rates.get(line)
    if rate is not None and not (0 <= rate <= 100 and rate == money.amount(rate)):
        faults.append(
            Refused(
                _("The tax rate of line %(line)s is not a percentage.") % {"line": line.number},
                mend=_("Write a number from 0 to 100, such as 7 or 13.5."),
                field=f"lines.{line.number}.tax_rate",
            )
        )
    return faults


def _nothing_to_bill(order: Order, lines: dict[int, queries.Line]) -> Refused:
    if lines:
        return Refused(_("No plants are chosen."), mend=_("Write how many of at least one line."))
    return Refused(
        _("Of order %(code)s nothing is to bill: what was handed over has been billed.") % {"code": order.code},
        mend=_("Hand plants over first."),
    )


def _supplied_on(items: list[Item], wanted: date | None, today: date) -> date:
    if wanted is None:
        last = Collection.objects.filter(order_line__in=[one.line for one in items]).order_by("on").last()
        return min(last.on, today) if last else today
    if wanted > today:
        raise Refused(
            _("The day of hand-over lies in the future."),
            mend=_("Write the day on which the plants were taken."),
            field="supplied_on",
        )
    return wanted


def _buyer(customer: Customer) -> dict[str, str]:
    return {f"buyer_{field}": getattr(customer, field) for field in ("name", "address", "country", "tax_number")}


def _line(invoice: Invoice, number: int, one: Item) -> InvoiceLine:
    return InvoiceLine(
        invoice=invoice,
        number=number,
        order_line=one.line,
        text=one.text,
        quantity=one.quantity,
        unit=one.unit,
        unit_price=one.unit_price,
        tax_rate=one.tax_rate,
        amount=one.amount,
    )
