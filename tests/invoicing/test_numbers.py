"""Numbers: one after the other, none lost when issuing fails half way, none changed once the year has begun."""

import pytest
from django.db import transaction

from invoicing import numbers, services
from invoicing.models import Invoice, InvoiceTax, NumberSeries
from orders.refusals import Refused

from .billing import TODAY, billed, taken

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("nursery")]

INVOICE, CREDIT_NOTE = Invoice.Kind.INVOICE, Invoice.Kind.CREDIT_NOTE


def choose(kind=INVOICE, prefix="A-", first_number=1):
    return numbers.set_up(kind=kind, year=2027, prefix=prefix, first_number=first_number, by=None)


def test_numbers_run_on_and_begin_anew_each_year():
    issued = [billed((1, "2"), today=day).number for day in (TODAY, TODAY, TODAY.replace(year=2028))]
    assert issued == ["2027-0001", "2027-0002", "2028-0001"]


def test_credit_notes_have_a_series_of_their_own():
    invoice = billed((1, "2"))
    note = services.credit(invoice=invoice, reason="Wrong", by=None, today=TODAY)
    assert (note.number, billed((1, "2")).number) == ("C2027-0001", "2027-0002")


def test_an_issue_that_fails_half_way_leaves_no_gap(monkeypatch):
    first = billed((1, "2"))
    order = taken((1, "2"))

    def power_cut(*_args, **_kwargs):
        raise OSError("the disk is full")

    with monkeypatch.context() as broken:
        broken.setattr(InvoiceTax.objects, "bulk_create", power_cut)  # after number and rows, before the end
        with pytest.raises(OSError, match="disk"):
            services.issue(order=order, by=None, today=TODAY)
    assert list(Invoice.objects.all()) == [first]
    assert services.issue(order=order, by=None, today=TODAY).number == "2027-0002"


def test_the_year_may_begin_elsewhere_with_a_prefix_of_ones_own():
    choose(prefix="A-", first_number=118)
    assert [billed((1, "2")).number for _each in range(2)] == ["A-2027-0118", "A-2027-0119"]
    assert billed((1, "2"), today=TODAY.replace(year=2028)).number == "A-2028-0001"


def test_it_stays_once_a_number_was_given():
    billed((1, "2"))
    with pytest.raises(Refused, match="the next is 2027-0002"):
        choose(prefix="B")


def test_invoices_and_credit_notes_never_share_a_prefix():
    with pytest.raises(Refused, match="the same numbers"):
        choose(INVOICE, prefix="C")
    choose(CREDIT_NOTE, prefix="K")
    assert str(choose(INVOICE, prefix="C")) == "C2027-0001"


@pytest.mark.parametrize(("prefix", "first"), [("A/", 1), ("A" * 11, 1), ("A", 0)])
def test_a_series_that_cannot_be_is_refused(prefix, first):
    with pytest.raises(Refused):
        choose(prefix=prefix, first_number=first)
    assert not NumberSeries.objects.exists()


def test_a_number_outside_a_transaction_is_an_error_of_ours(transactional_db):
    with pytest.raises(RuntimeError, match="inside the transaction"):
        numbers.take(INVOICE, year=2027)
    with transaction.atomic():
        assert numbers.take(INVOICE, year=2027) == "2027-0001"
