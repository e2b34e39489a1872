"""Seed lots: ours and the customers', in hand and expected, with their germination tests."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.http import HttpRequest
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from orders.models import Nursery
from orders.templatetags.house import day
from orders.views.catalogue import percent
from orders.views.records import Column, RecordPages

from .. import lots
from ..forms.places import SeedLotForm
from ..models import SeedLot


def in_hand(lot: SeedLot, nursery: Nursery) -> str:
    today = nursery.today()
    if lot.received_on:
        return _("since %(day)s") % {"day": day(lot.received_on, today)}
    late = lot.expected_on is not None and lot.expected_on < today
    words = _("expected by %(day)s, not here yet") if late else _("expected by %(day)s")
    return words % {"day": day(lot.expected_on, today)}


def germination_said(lot: SeedLot, _nursery: Nursery) -> str:
    share = lots.germination(lot)
    return "" if share is None else percent(share)


class SeedLotPages(RecordPages):
    model = SeedLot
    form = SeedLotForm
    name, plural, segment = "seed_lot", "seed_lots", "seed-lots"
    looked_in = ("code", "variety__name", "customer__name", "supplier")
    looked_for = gettext_lazy("Lot, variety, customer or supplier")
    title = gettext_lazy("Seed lots")
    new_word = gettext_lazy("Add a seed lot")
    empty = gettext_lazy(
        "No seed lots yet. A lot is seed of one variety, ours or a customer's, in hand or expected."
    )
    record_template = "production/nursery/lot.html"
    columns = (
        Column(gettext_lazy("Lot"), lambda lot, _nursery: lot.code),
        Column(gettext_lazy("Variety"), lambda lot, _nursery: lot.variety),
        Column(gettext_lazy("Whose"), lambda lot, _nursery: lot.customer or _("ours")),
        Column(gettext_lazy("Seeds"), lambda lot, _nursery: lot.seeds, number=True),
        Column(gettext_lazy("Germinated"), germination_said, number=True),
        Column(gettext_lazy("In hand"), in_hand),
    )

    def rows(self, request: HttpRequest) -> models.QuerySet:
        return SeedLot.objects.select_related("variety", "customer")

    def blank(self, nursery: Nursery) -> models.Model:
        return SeedLot(received_on=nursery.today())

    @property
    def in_use(self) -> models.Q:
        return models.Q(used_up=False)

    def lead(self, rows: models.QuerySet, nursery: Nursery) -> str:
        expected = rows.filter(used_up=False, received_on=None).count()
        if not expected:
            return ""
        return ngettext(
            "%(n)d lot is expected and not here yet.", "%(n)d lots are expected and not here yet.", expected
        ) % {"n": expected}

    def more(self, record: Any, nursery: Nursery) -> dict[str, Any]:
        share = lots.germination(record)
        return {
            "germination": None if share is None else percent(share),
            "below_the_law": lots.below_the_law(record),
            "few_seeds": bool(record.tested_seeds) and record.tested_seeds < lots.ENOUGH_SEEDS,
            "enough_seeds": lots.ENOUGH_SEEDS,
        }
