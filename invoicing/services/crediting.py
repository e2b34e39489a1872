"""Crediting: an issued invoice is never changed; a credit note takes back all or part of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal
from uuid import UUID, uuid4

from django.db import transaction
from django.utils.translation import gettext as _

from orders import money
from orders.models import Nursery, User
from orders.refusals import ManyRefused, Refused

from .. import numbers, queries
from ..models import Invoice, InvoiceLine, InvoiceTax
from . import locks
from .payments import carry_over
from .rows import finish, seller

LONGEST_REASON = 300

# What a credit note has in common with its invoice.
_COPIED = (
    "order", "customer", "supplied_on", "buyer_name", "buyer_address", "buyer_country", "buyer_tax_number",
    "language", "currency", "tax_name", "prices_include_tax",
)  # fmt: skip


def credit(
    *,
    invoice: Invoice,
    reason: str,
    by: User | None,
    today: date,
    quantities: Mapping[InvoiceLine, int] | None = None,
    bill_again: bool = True,
    key: UUID | None = None,
) -> Invoice:
    """Take back an invoice, all that is left of it or so many of each of its lines, by a credit note.

    With `bill_again` (the invoice was wrong) the plants are to bill once more, and what was paid too much is in
    hand for the order's next invoice. Without (plants given back, or allowed for) they are not, and it is owed to
    the customer. The last credit note takes exactly what is left, cents of rounding included. The same `key` gives
    the same note. Raises Refused or ManyRefused.
    """
    with transaction.atomic():
        invoice = locks.invoice(invoice)
        if key and (earlier := Invoice.objects.filter(submit_key=key).first()):
            return earlier
        lines = _lines_to_credit(invoice, quantities, reason)
        rows = _tax_to_credit(invoice, lines)
        net, tax = sum((row.net for row in rows), queries.ZERO), sum((row.tax for row in rows), queries.ZERO)
        note = Invoice.objects.create(
            kind=Invoice.Kind.CREDIT_NOTE,
            number=numbers.take(Invoice.Kind.CREDIT_NOTE, year=today.year),
            corrects=invoice,
            reason=reason.strip(),
            bill_again=bill_again,
            issued_on=today,
            **seller(Nursery.current()),
            **{field: getattr(invoice, field) for field in _COPIED},
            net=net,
            tax=tax,
            total=net + tax,
            issued_by=by.shown_name if by else "",
            submit_key=key or uuid4(),
        )
        InvoiceLine.objects.bulk_create(
            _credit_line(note, n, line, quantity, amount)
            for n, (line, (quantity, amount)) in enumerate(lines.items(), start=1)
        )
        finish(note, rows, by, "credit note issued", _("Credit note %(number)s for %(invoice)s made: %(total)s"))
        if bill_again:
            carry_over(order=invoice.order, by=by, today=today)
    return note


def _lines_to_credit(
    invoice: Invoice, quantities: Mapping[InvoiceLine, int] | None, reason: str
) -> dict[InvoiceLine, tuple[int, Decimal]]:
    """Quantity and amount of each line to take back; all faults at once."""
    if invoice.is_credit_note:
        raise Refused(
            _("%(number)s is a credit note itself.") % {"number": invoice.number},
            mend=_("Make a new invoice instead."),
        )
    left = queries.left_to_credit(invoice)
    wanted = {line: n for line, n in (left if quantities is None else quantities).items() if n}
    faults = [_too_much_credit(line, n, left) for line, n in wanted.items() if not 0 < n <= left.get(line, 0)]
    if not reason.strip():
        faults.append(
            Refused(_("No reason is given."), mend=_("Say why; it stands on the credit note."), field="reason")
        )
    if len(reason.strip()) > LONGEST_REASON:
        faults.append(Refused(_("The reason is too long."), mend=_("Say it in one sentence."), field="reason"))
    if faults:
        raise ManyRefused(faults)
    if not wanted:
        whole = not any(left.values())
        raise Refused(
            _("All of invoice %(number)s has been credited.") % {"number": invoice.number}
            if whole
            else _("Nothing is chosen to credit."),
            mend="" if whole else _("Write how many of at least one line."),
        )
    return {
        line: (wanted[line], _credit_amount(line, wanted[line], left[line])) for line in left if line in wanted
    }


def _too_much_credit(line: InvoiceLine, quantity: int, left: dict[InvoiceLine, int]) -> Refused:
    most = left.get(line, 0)
    return Refused(
        _("Of row %(line)s, %(most)s can still be credited; %(n)s is not possible.")
        % {"line": line.number, "most": most, "n": quantity},
        mend=_("Write a number from 0 to %(most)s.") % {"most": most},
        field=f"lines.{line.number}.quantity",
    )


def _credit_amount(line: InvoiceLine, quantity: int, left: int) -> Decimal:
    """The whole rest for the last plants, so that parts never credit a cent more or less than was billed."""
    rest = line.amount - sum((one.amount for one in line.credit_lines.all()), queries.ZERO)
    return rest if quantity == left else min(money.line_amount(quantity, line.unit_price), rest)


def _tax_to_credit(invoice: Invoice, lines: Mapping[InvoiceLine, tuple[int, Decimal]]) -> list[money.TaxRow]:
    """Net and tax per rate; when nothing of a rate is left afterwards, exactly what is left of it."""
    credited = InvoiceTax.objects.filter(invoice__corrects=invoice)
    sums = money.totals(
        ((amount, line.tax_rate) for line, (_n, amount) in lines.items()), tax_included=invoice.prices_include_tax
    )
    return [
        _within(row, _tax_left(invoice.tax_rows.get(rate=row.rate), credited), invoice.prices_include_tax)
        for row in sums.rows
    ]


def _tax_left(billed: InvoiceTax, credited: Iterable[InvoiceTax]) -> money.TaxRow:
    before = [row for row in credited if row.rate == billed.rate]
    net = billed.net - sum((row.net for row in before), queries.ZERO)
    return money.TaxRow(billed.rate, net, billed.tax - sum((row.tax for row in before), queries.ZERO))


def _within(row: money.TaxRow, left: money.TaxRow, tax_included: bool) -> money.TaxRow:
    """The row itself, or, if its amount is all that is left of its rate, exactly the rest."""
    if (row.net + row.tax == left.net + left.tax) if tax_included else (row.net == left.net):
        return left
    tax = min(row.tax, left.tax)
    return money.TaxRow(row.rate, row.net + row.tax - tax if tax_included else row.net, tax)


def _credit_line(note: Invoice, number: int, line: InvoiceLine, quantity: int, amount: Decimal) -> InvoiceLine:
    return InvoiceLine(
        invoice=note,
        number=number,
        order_line=line.order_line,
        corrects=line,
        text=line.text,
        quantity=quantity,
        unit=line.unit,
        unit_price=line.unit_price,
        tax_rate=line.tax_rate,
        amount=amount,
    )
