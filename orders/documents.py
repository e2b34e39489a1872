"""THE place for papers: template and data become bytes, stored with their fingerprint as they were issued."""

from __future__ import annotations

import dataclasses
import hashlib
import json
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.db import IntegrityError, transaction
from django.db.models import Max
from django.template.loader import render_to_string
from django.utils.translation import gettext as _

from .jobs import GiveUp
from .models import Customer, Document, Nursery, Order, User

TRIES = (
    5  # two workers that issue a revision of one paper at once: the later one sets it again with its own number
)

# Whoever may see what a paper is about may see the paper; the others are for those who see orders.
READERS = {
    Document.Kind.DAY_SHEET: "production.see_work",
    Document.Kind.LABELS: "production.see_work",
    Document.Kind.INVOICE: "invoicing.see_money",
    Document.Kind.CREDIT_NOTE: "invoicing.see_money",
    Document.Kind.STATEMENT: "invoicing.see_money",
}


class PapersOff(GiveUp):
    """The libraries that WeasyPrint needs are not on this machine."""

    def __init__(self, missing: str) -> None:
        self.missing = missing
        super().__init__(
            _(
                "Papers are off: this machine lacks a library that sets them (%(missing)s). Have somebody install "
                "libpango-1.0-0, libpangoft2-1.0-0 and libharfbuzz-subset0, start the service anew and try again."
            )
            % {"missing": missing}
        )


def render(template: str, data: dict[str, Any]) -> bytes:
    """A tagged PDF. Slow (0.1 to 0.5 s): never call it while a transaction holds locks. Raises PapersOff."""
    try:
        from . import typesetting
    except OSError as error:
        raise PapersOff(str(error).split(":")[0]) from error
    return typesetting.pdf(render_to_string(template, data))


def letterhead(nursery: Nursery) -> dict[str, str]:
    """What a paper says of the nursery, kept in the paper's own data so that it stays as it was."""
    fields = (
        "name",
        "address",
        "email",
        "phone",
        "tax_number",
        "currency",
        "tax_name",
        "pickup_place",
        "pickup_hours",
    )
    sheet = "letter" if nursery.length_unit == Nursery.Length.INCHES else "A4"
    return {field: getattr(nursery, field) for field in fields} | {"sheet": sheet}


def addressee(customer: Customer | None) -> dict[str, str]:
    """Whom a paper is for, as they were called when it was issued; nobody for our own crop."""
    fields = ("name", "contact", "address", "tax_number")
    return {field: getattr(customer, field) for field in fields} if customer else {}


def issue(
    *,
    kind: str,
    code: str,
    title: str,
    template: str,
    data: dict[str, Any],
    order: Order | None = None,
    customer: Customer | None = None,
    by: str = "",
    cause: str = "",
) -> Document:
    """Make and store the next revision of a paper; the template finds its number as `revision`.

    `data` holds JSON's types, dates, Decimals and dataclasses. Called again with the same `cause`, gives the paper
    that this cause has made already. Raises PapersOff, and RuntimeError inside a transaction.
    """
    for _attempt in range(TRIES):
        with transaction.atomic(durable=True):  # refuses a caller's transaction, which rendering would hold up
            if cause and (made := Document.objects.filter(kind=kind, code=code, data__cause=cause).first()):
                return made
            revision = _next_revision(kind, code)
        full = data | {"revision": revision, "cause": cause}
        content = render(template, {"title": title} | full)
        try:
            with transaction.atomic():
                return Document.objects.create(
                    kind=kind,
                    code=code,
                    revision=revision,
                    title=title,
                    order=order,
                    customer=customer,
                    content=content,
                    sha256=hashlib.sha256(content).hexdigest(),
                    data=as_json(full),
                    created_by=by,
                )
        except IntegrityError:
            if _next_revision(kind, code) == revision:
                raise
    raise RuntimeError(f"{title} was being issued by others at the same time")


def as_json(data: Any) -> Any:
    """The data as they are stored: dates in ISO 8601, Decimals as text, dataclasses as objects."""
    return json.loads(json.dumps(data, cls=_Encoder))


def file_name(document: Document) -> str:
    """'confirmation-31.pdf', its later revisions 'confirmation-31-2.pdf'."""
    revision = f"-{document.revision}" if document.revision > 1 else ""
    return f"{document.kind}-{document.code}{revision}.pdf".replace("_", "-").replace("/", "-")


def kinds_for(user: User) -> list[Document.Kind]:
    """The kinds of paper that a user may see."""
    return [kind for kind in Document.Kind if user.has_perm(READERS.get(kind, "orders.see_orders"))]


def _next_revision(kind: str, code: str) -> int:
    last = Document.objects.filter(kind=kind, code=code).aggregate(last=Max("revision"))["last"]
    return (last or 0) + 1


class _Encoder(DjangoJSONEncoder):
    def default(self, o: Any) -> Any:
        if dataclasses.is_dataclass(o) and not isinstance(o, type):
            return dataclasses.asdict(o)
        return super().default(o)
