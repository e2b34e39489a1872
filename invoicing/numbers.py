"""Numbers of invoices and credit notes: one after the other, without a gap, each used once."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction
from django.utils.translation import gettext as _

from orders import history
from orders.models import User
from orders.refusals import ManyRefused, Refused

from .models import Invoice, NumberSeries

# A prefix of its own keeps the two kinds apart; the nursery may choose others before a year's first paper.
PREFIXES = {Invoice.Kind.INVOICE: "", Invoice.Kind.CREDIT_NOTE: "C"}


def take(kind: str, *, year: int) -> str:
    """The next number of the series. Call it inside the transaction that stores the paper.

    The series' row stays locked until that transaction ends, so that others wait; if it fails, the number was
    never given and the next paper gets it.
    """
    if not connection.in_atomic_block:
        raise RuntimeError("A number is only given inside the transaction that stores its paper.")
    series = _locked(kind, year)
    number = series.shown(series.next_number)
    series.next_number += 1
    series.save(update_fields=["next_number"])
    return number


def coming(kind: str, *, year: int) -> NumberSeries:
    """The series as it stands; not yet stored where the year has none."""
    series = NumberSeries.objects.filter(kind=kind, year=year).first()
    return series or NumberSeries(kind=kind, year=year, prefix=_usual_prefix(kind, year))


def set_up(*, kind: str, year: int, prefix: str, first_number: int, by: User | None) -> NumberSeries:
    """Choose what the year's numbers look like and where they begin. Refused once a number was given."""
    with transaction.atomic():
        series = _locked(kind, year)
        if series.begun:
            raise Refused(
                _("Numbers of %(year)s were given already; the next is %(next)s.")
                % {"year": year, "next": series},
                mend=_("Choose another prefix from the next year on."),
                field="prefix",
            )
        if any(coming(other, year=year).prefix == prefix for other in Invoice.Kind if other != kind):
            raise Refused(
                _("Invoices and credit notes would get the same numbers."),
                mend=_("Give each a prefix of its own."),
                field="prefix",
            )
        series.prefix = prefix
        series.first_number = series.next_number = first_number
        _check(series)
        series.save()
        text = _("The first number of %(year)s will be %(number)s") % {"year": year, "number": series}
        history.record(by=by, what="numbers chosen", subject=series, text=text)
        return series


def _check(series: NumberSeries) -> None:
    try:
        series.clean_fields()
    except ValidationError as error:
        faults = [
            Refused(reason, field=field) for field, reasons in error.message_dict.items() for reason in reasons
        ]
        raise ManyRefused(faults) from error


def _locked(kind: str, year: int) -> NumberSeries:
    if not NumberSeries.objects.filter(kind=kind, year=year).exists():
        _begin(kind, year)
    return NumberSeries.objects.select_for_update().get(kind=kind, year=year)


def _begin(kind: str, year: int) -> None:
    try:
        with transaction.atomic():
            NumberSeries.objects.create(kind=kind, year=year, prefix=_usual_prefix(kind, year))
    except IntegrityError:
        pass  # another paper began the year while this one waited; its row is as good


def _usual_prefix(kind: str, year: int) -> str:
    """What the newest earlier year used, else the usual one."""
    earlier = NumberSeries.objects.filter(kind=kind, year__lt=year).order_by("-year").first()
    return earlier.prefix if earlier else PREFIXES[Invoice.Kind(kind)]
