"""Money that came in or went back: payments in parts, deposits, refunds, mistakes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from uuid import UUID, uuid4

from django.db import transaction
from django.utils.translation import gettext as _

from orders import history, money, wording
from orders.models import Nursery, Order, User
from orders.refusals import ManyRefused, Refused

from .. import queries
from ..models import Invoice, Payment
from . import locks

MOST = Decimal("9999999999.99")  # what the column holds
LONGEST_NOTE = 200


def record_payment(
    *,
    amount: Decimal,
    on: date,
    by: User | None,
    today: date,
    invoice: Invoice | None = None,
    order: Order | None = None,
    how: str = Payment.How.TRANSFER,
    note: str = "",
    kind: str = Payment.Kind.PAYMENT,
    key: UUID | None = None,
    over: bool = False,
) -> Payment:
    """Money for an invoice or, before there is one, for an order; with kind REFUND, money given back.

    Refused: zero and less, more than two places, a day to come, and more than is due (a refund: than was paid too
    much) unless `over` says that it is meant. The same `key` twice is one payment.
    """
    with transaction.atomic():
        account = _account(invoice, order)
        if key and (earlier := Payment.objects.filter(key=key).first()):
            return _same(earlier, amount, account)
        faults = [*_amount_faults(amount), *_day_faults(on, today), *_kind_faults(kind, how), *_note_faults(note)]
        if faults:
            raise ManyRefused(faults)
        if not over:
            account.check(amount, kind)
        payment = Payment.objects.create(
            kind=kind,
            invoice=account.invoice,
            order=None if account.invoice else account.order,
            amount=amount,
            on=on,
            how=how,
            note=note.strip(),
            by=by.shown_name if by else "",
            key=key or uuid4(),
        )
        _note(payment, account, by, _("%(amount)s received on %(day)s for %(name)s"))
    return payment


def take_back_payment(
    *, payment: Payment, reason: str, by: User | None, today: date, key: UUID | None = None
) -> Payment:
    """Undo a payment or refund that was entered by mistake; both rows stay. Once per payment.

    Refused when the money has gone on since: carried over, given back, or counted as deposit on an invoice.
    """
    with transaction.atomic():
        account = _account(payment.invoice, payment.order)
        payment = Payment.objects.get(pk=payment.pk)
        if key and (earlier := Payment.objects.filter(key=key, corrects=payment).first()):
            return earlier
        _check_taking_back(payment, account, reason)
        row = Payment.objects.create(
            kind=Payment.Kind.TAKEN_BACK,
            invoice=payment.invoice,
            order=payment.order,
            corrects=payment,
            amount=payment.amount,
            on=today,
            how=payment.how,
            note=reason.strip(),
            by=by.shown_name if by else "",
            key=key or uuid4(),
        )
        _note(row, account, by, _("%(amount)s for %(name)s taken back, entered by mistake: %(why)s"))
    return row


def carry_over(*, order: Order, by: User | None, today: date) -> None:
    """What was paid too much on the order's invoices is in hand for its next one: two rows that cancel out.

    Call it inside a transaction that has locked the order.
    """
    for invoice in queries.paid_too_much().filter(order=order):
        words = {"number": invoice.number}
        shared = {
            "amount": -invoice.balance,
            "on": today,
            "how": Payment.How.MOVED,
            "by": by.shown_name if by else "",
        }
        Payment.objects.create(
            kind=Payment.Kind.REFUND, invoice=invoice, note=_("Carried over to the next invoice"), **shared
        )
        Payment.objects.create(
            kind=Payment.Kind.PAYMENT, order=order, note=_("Carried over from %(number)s") % words, **shared
        )


# --- what a payment is for --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Account:
    """An invoice, or an order before its invoice: what may still come in, what may be given back."""

    order: Order
    invoice: Invoice | None
    name: str
    currency: str
    due: Decimal
    spare: Decimal
    received: Decimal  # and still here

    def check(self, amount: Decimal, kind: str) -> None:
        """Refused when more comes in than is due, or more goes back than was paid too much."""
        most = self.spare if kind == Payment.Kind.REFUND else self.due
        if amount <= most:
            return
        if kind == Payment.Kind.REFUND:
            reason = _("Only %(most)s was paid too much for %(name)s.")
        elif self.invoice or most:
            reason = _("Only %(most)s is still due for %(name)s.")
        else:
            reason = _("Nothing more is to be billed for %(name)s.")
        mend = _("Write %(most)s at the most.") if most else self._where_else(kind)
        words = {"most": wording.money(most, self.currency), "name": self.name}
        raise Refused(reason % words, mend=mend % words, field="amount")

    def _where_else(self, kind: str) -> str:
        if self.invoice or kind == Payment.Kind.REFUND:
            return _("Check whether it was recorded already.")
        return _("Record it for the invoice that it pays.")


def _account(invoice: Invoice | None, order: Order | None) -> _Account:
    """Locked, with its sums as they stand now."""
    if invoice is not None and order is None:
        return _invoice_account(locks.invoice(invoice))
    if order is not None and invoice is None:
        return _order_account(locks.order(order))
    raise Refused(_("A payment is for one invoice or for one order."), mend=_("Name just one of them."))


def _invoice_account(invoice: Invoice) -> _Account:
    if invoice.corrects:
        raise Refused(
            _("%(number)s is a credit note.") % {"number": invoice.number},
            mend=_("Record it for invoice %(number)s.") % {"number": invoice.corrects.number},
        )
    found = queries.paper(invoice.number)
    return _Account(
        order=found.order,
        invoice=found,
        name=_("invoice %(number)s") % {"number": found.number},
        currency=found.currency,
        due=max(found.balance, queries.ZERO),
        spare=max(-found.balance, queries.ZERO),
        received=found.paid,
    )


def _order_account(order: Order) -> _Account:
    if order.own_crop:
        raise Refused(_("This is our own crop."), mend=_("It gets no bill."))
    in_hand = queries.deposits_in_hand([order])[order.pk]
    return _Account(
        order=order,
        invoice=None,
        name=_("order %(code)s") % {"code": order.code},
        currency=Nursery.current().currency,
        due=max(queries.still_to_bill(order) - in_hand, queries.ZERO),
        spare=max(in_hand, queries.ZERO),
        received=in_hand,
    )


# --- what is refused --------------------------------------------------------------------------------------


def _amount_faults(amount: Decimal) -> list[Refused]:
    if not amount.is_finite() or amount <= 0:
        return [Refused(_("The amount is zero or less."), mend=_("Write how much it was."), field="amount")]
    if amount != money.amount(amount) or amount > MOST:
        return [
            Refused(
                _("The amount has more than two places, or is too large."),
                mend=_("Write it as 120.50."),
                field="amount",
            )
        ]
    return []


def _day_faults(on: date, today: date) -> list[Refused]:
    if on <= today:
        return []
    return [Refused(_("The day lies in the future."), mend=_("Write the day on which it came in."), field="on")]


def _kind_faults(kind: str, how: str) -> list[Refused]:
    faults = []
    if kind not in (Payment.Kind.PAYMENT, Payment.Kind.REFUND):
        faults.append(Refused(_("Neither a payment nor a refund."), mend=_("Choose one."), field="kind"))
    if how not in Payment.How.values or how == Payment.How.MOVED:
        faults.append(Refused(_("Not a way to pay."), mend=_("Choose one of the list."), field="how"))
    return faults


def _note_faults(note: str, field: str = "note") -> list[Refused]:
    if len(note.strip()) <= LONGEST_NOTE:
        return []
    return [Refused(_("The note is too long."), mend=_("Say it in one sentence."), field=field)]


def _check_taking_back(payment: Payment, account: _Account, reason: str) -> None:
    if not reason.strip():
        raise Refused(_("No reason is given."), mend=_("Say what was wrong."), field="reason")
    if too_long := _note_faults(reason, "reason"):
        raise too_long[0]
    if hasattr(payment, "taken_back_by"):
        raise Refused(_("This was taken back already."))
    if payment.kind == Payment.Kind.TAKEN_BACK or payment.how == Payment.How.MOVED:
        raise Refused(_("This row was not entered by hand."), mend=_("Record a payment or a refund instead."))
    if payment.kind == Payment.Kind.PAYMENT and account.received < payment.amount:
        raise Refused(
            _("This money has gone on since: given back, carried over, or counted as deposit on an invoice."),
            mend=_("Credit that invoice first, so that the money is in hand again."),
        )


def _same(earlier: Payment, amount: Decimal, account: _Account) -> Payment:
    """A form that was sent twice; anything else under the same key is somebody's mistake."""
    target = earlier.invoice_id == (account.invoice.pk if account.invoice else None)
    if target and earlier.amount == amount and (account.invoice or earlier.order_id == account.order.pk):
        return earlier
    raise Refused(
        _("This form was sent before, with %(amount)s.") % {"amount": earlier.amount},
        mend=_("Open it anew for another payment."),
    )


def _note(payment: Payment, account: _Account, by: User | None, text: str) -> None:
    if payment.kind == Payment.Kind.REFUND:
        text = _("%(amount)s given back on %(day)s for %(name)s")
    words = {
        "amount": wording.money(payment.amount, account.currency),
        "day": wording.day(payment.on),
        "name": account.name,
        "why": payment.note,
    }
    history.record(
        by=by, what=f"money {payment.kind}", subject=account.order, text=text % words, payment=payment.pk
    )
