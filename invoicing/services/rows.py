"""What invoices and credit notes have in common when they are stored."""

from __future__ import annotations

from collections.abc import Iterable

from orders import history, jobs, money, wording
from orders.models import Nursery, User

from ..models import Invoice, InvoiceTax


def seller(nursery: Nursery) -> dict[str, str]:
    fields = ("name", "address", "country", "email", "phone", "tax_number")
    return {f"seller_{field}": getattr(nursery, field) for field in fields}


def finish(paper: Invoice, rows: Iterable[money.TaxRow], by: User | None, what: str, text: str) -> None:
    """The tax rows, the history of the order, and the job that makes the paper and writes the letter."""
    InvoiceTax.objects.bulk_create(
        InvoiceTax(invoice=paper, rate=row.rate, net=row.net, tax=row.tax) for row in rows
    )
    words = {
        "number": paper.number,
        "total": wording.money(paper.total, paper.currency),
        "invoice": paper.corrects.number if paper.corrects else "",
    }
    history.record(by=by, what=what, subject=paper.order, text=text % words, number=paper.number)
    jobs.enqueue("invoice_paper", f"invoice_paper:{paper.number}", {"paper": paper.pk})
