"""The paper of an invoice or credit note, and the letter that carries it: a job, after the number is given."""

from __future__ import annotations

from typing import Any
from zoneinfo import ZoneInfo

from django.utils import timezone, translation

from orders import documents, jobs, letters
from orders.models import Document, Job, Letter, Nursery

from . import queries
from .models import Invoice


@jobs.handler("invoice_paper")
def make_and_send(payload: dict[str, Any]) -> None:
    """Make the paper and write the letter, each once however often this runs."""
    invoice = queries.papers().get(pk=payload["paper"])
    document = make(invoice)
    letters.queue(
        kind=invoice.kind,
        key=f"{invoice.kind}:{invoice.number}",
        customer=invoice.customer,
        order=invoice.order,
        document=document,
        context={"invoice": invoice},
        by=invoice.issued_by,
    )


def make(invoice: Invoice) -> Document:
    """The paper as issued; a second call gives the same one."""
    if made := invoice.document:
        return made
    zone = ZoneInfo(Nursery.current().time_zone)
    with translation.override(invoice.language), timezone.override(zone):
        return documents.issue(
            kind=invoice.kind,
            code=invoice.number,
            title=str(invoice),
            template=f"pdf/{invoice.kind}.html",
            data=data_of(invoice),
            order=invoice.order,
            customer=invoice.customer,
            by=invoice.issued_by,
            cause="issued",
        )


def data_of(invoice: Invoice) -> dict[str, Any]:
    """All that stands on the paper, taken from the issued rows alone (its size and look are the nursery's)."""
    return {
        "nursery": documents.letterhead(Nursery.current()) | _own_copy(invoice, "seller"),
        "customer": _own_copy(invoice, "buyer"),
        "issued": invoice.issued_on,
        "invoice": _own_copy(invoice) | {"due": invoice.due, "order_code": invoice.order.code},
        "corrects": _named(invoice.corrects),
        "lines": list(
            invoice.lines.values("number", "text", "quantity", "unit", "unit_price", "tax_rate", "amount")
        ),
        "tax_rows": list(invoice.tax_rows.values("rate", "net", "tax")),
    }


# What the paper says of the bill itself, besides seller and buyer.
_SAID = (
    "kind", "number", "reason", "bill_again", "issued_on", "supplied_on", "due_on", "currency", "tax_name",
    "prices_include_tax", "terms", "net", "tax", "total", "deposit",
)  # fmt: skip


def _own_copy(invoice: Invoice, party: str = "") -> dict[str, Any]:
    if not party:
        return {name: getattr(invoice, name) for name in _SAID}
    names = [field.name for field in Invoice._meta.concrete_fields if field.name.startswith(f"{party}_")]
    return {name.removeprefix(f"{party}_"): getattr(invoice, name) for name in names}


def _named(corrected: Invoice | None) -> dict[str, Any] | None:
    return {"number": corrected.number, "issued_on": corrected.issued_on} if corrected else None


def job_of(invoice: Invoice) -> Job | None:
    """The job that makes the paper, for a page that waits for it or says why it failed."""
    return Job.objects.filter(key=f"invoice_paper:{invoice.number}").first()


def letters_of(invoice: Invoice) -> list[Letter]:
    """The letters about one invoice or credit note, newest first."""
    keys = (f"{invoice.kind}:{invoice.number}", f"reminder:{invoice.number}:")
    return list(Letter.objects.filter(key=keys[0]) | Letter.objects.filter(key__startswith=keys[1]))
