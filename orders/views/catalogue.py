"""Crops, varieties, trays and pots, prices and customers: what lines and papers name."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.db import models
from django.db.models import Value
from django.db.models.functions import Replace
from django.http import HttpRequest
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from ..forms.nursery import ContainerForm, CropForm, CustomerForm, NewVarietyForm, PriceForm, VarietyForm
from ..forms.records import RecordForm
from ..models import Container, Crop, Customer, Nursery, Price, Variety
from ..units import UNITS
from ..wording import money, unit_price
from ..wording import percent as percent_said
from .records import Column, RecordPages


class CropPages(RecordPages):
    model = Crop
    form = CropForm
    name, plural, segment = "crop", "crops", "crops"
    title = gettext_lazy("Crops")
    new_word = gettext_lazy("Add a crop")
    empty = gettext_lazy(
        "No crops yet. A crop has the clock and the rates that its varieties begin with: tomato, cucumber …"
    )
    columns = (
        Column(gettext_lazy("Crop"), lambda crop, _nursery: crop.name),
        Column(gettext_lazy("Grows on"), lambda crop, _nursery: ", ".join(map(str, crop.rootstock_crops.all()))),
        Column(gettext_lazy("Varieties"), lambda crop, _nursery: crop.varieties_there, number=True),
        Column(gettext_lazy("Emerges"), lambda crop, _nursery: percent(crop.emerged_share), number=True),
    )

    def rows(self, request: HttpRequest) -> models.QuerySet:
        return Crop.objects.prefetch_related("rootstock_crops").annotate(varieties_there=models.Count("varieties"))


class VarietyPages(RecordPages):
    model = Variety
    form = VarietyForm
    name, plural, segment = "variety", "varieties", "varieties"
    looked_in, looked_for = ("name", "crop__name"), gettext_lazy("Variety or crop")
    title = gettext_lazy("Varieties")
    new_word = gettext_lazy("Add a variety")
    empty = gettext_lazy(
        "No varieties yet. A variety is a scion, a rootstock or both; it can also be made as an order is taken."
    )
    columns = (
        Column(gettext_lazy("Variety"), lambda variety, _nursery: variety.name),
        Column(gettext_lazy("Crop"), lambda variety, _nursery: variety.crop),
        Column(gettext_lazy("Used as"), lambda variety, _nursery: variety.get_role_display()),
        Column(gettext_lazy("Emerges"), lambda variety, _nursery: percent(variety.emerged_share), number=True),
        Column(
            gettext_lazy("1,000 seeds"),
            lambda variety, nursery: (
                "" if (price := variety.thousand_seeds_price) is None else money(price, nursery.currency)
            ),
            number=True,
        ),
    )

    def rows(self, request: HttpRequest) -> models.QuerySet:
        return Variety.objects.select_related("crop")

    def form_of(self, record: models.Model) -> type[RecordForm]:
        return NewVarietyForm if record._state.adding else VarietyForm


def percent(share: float) -> str:
    """A share as it is said: 0.975 -> '97.5 %'."""
    return percent_said(Decimal(str(round(share * 100, 1))))


def footprint(container: Container, nursery: Nursery) -> str:
    """'54 × 28 cm', or in inches."""
    unit = UNITS["length"][nursery.length_unit]
    return f"{unit.shown(container.length_cm):g} × {unit.shown(container.width_cm):g} {unit.sign}"


class ContainerPages(RecordPages):
    model = Container
    form = ContainerForm
    name, plural, segment = "container", "containers", "trays-and-pots"
    title = gettext_lazy("Trays and pots")
    new_word = gettext_lazy("Add a tray or pot")
    empty = gettext_lazy(
        "No trays or pots yet. A tray says how many plants it holds and what it takes up of a bench."
    )
    columns = (
        Column(gettext_lazy("Tray or pot"), lambda container, _nursery: container.name),
        Column(gettext_lazy("Plants"), lambda container, _nursery: container.plants, number=True),
        Column(gettext_lazy("Outside"), footprint, number=True),
        Column(gettext_lazy("Tray places"), lambda container, _nursery: f"{container.positions:g}", number=True),
    )


def _price_for(price: Price, nursery: Nursery) -> str:
    said = [price.get_kind_display()]
    said += [str(price.crop)] if price.crop else []
    said += [price.get_method_display()] if price.method else []
    said += [str(price.container)] if price.container else []
    said += [_("topped for two leaders")] if price.two_leaders else []
    return ", ".join(said)


class PricePages(RecordPages):
    model = Price
    form = PriceForm
    name, plural, segment = "price", "prices", "prices"
    title = gettext_lazy("Prices")
    new_word = gettext_lazy("Add a price")
    empty = gettext_lazy(
        "No prices yet. A price is for each plant (room: for each tray and week); the most particular one counts."
    )
    columns = (
        Column(gettext_lazy("For"), _price_for),
        Column(gettext_lazy("From so many"), lambda price, _nursery: price.from_quantity, number=True),
        Column(
            gettext_lazy("Price each"),
            lambda price, nursery: unit_price(price.unit_price, nursery.currency),
            number=True,
        ),
    )

    def rows(self, request: HttpRequest) -> models.QuerySet:
        return Price.objects.select_related("crop", "container")

    def lead(self, rows: models.QuerySet, nursery: Nursery) -> str:
        if nursery.prices_include_tax:
            return _("With %(tax)s in %(currency)s.") % {"tax": nursery.tax_name, "currency": nursery.currency}
        return _("Without %(tax)s, in %(currency)s.") % {"tax": nursery.tax_name, "currency": nursery.currency}


class CustomerPages(RecordPages):
    model = Customer
    form = CustomerForm
    # The office mends an address as it takes an order, so customers ask no more than that.
    permission = "orders.take_orders"
    name, plural, segment = "customer", "customers", "customers"
    looked_in = ("name", "contact", "address", "email", "phone", "dialled")
    looked_for = gettext_lazy("Name, place, telephone or email")
    title = gettext_lazy("Customers")
    new_word = gettext_lazy("Add a customer")
    empty = gettext_lazy("No customers yet. One is made with the first order, or here.")
    columns = (
        Column(gettext_lazy("Customer"), lambda customer, _nursery: customer.name),
        Column(gettext_lazy("Where"), lambda customer, _nursery: customer.address.strip().rpartition("\n")[2]),
        Column(gettext_lazy("Email"), lambda customer, _nursery: customer.email),
        Column(gettext_lazy("Telephone"), lambda customer, _nursery: customer.phone),
        Column(gettext_lazy("Orders"), lambda customer, _nursery: customer.order_count, number=True),
    )

    def rows(self, request: HttpRequest) -> models.QuerySet:
        return Customer.objects.annotate(order_count=models.Count("orders"))

    def found(self, rows: models.QuerySet, words: str) -> models.QuerySet:
        """A number is found however it was spaced: 0861234567 as well as 086 123 4567."""
        dialled: Any = models.F("phone")
        for sign in " -/()":
            dialled = Replace(dialled, Value(sign), Value(""))
        return super().found(rows.annotate(dialled=dialled), words) if words else rows

    def lead(self, rows: models.QuerySet, nursery: Nursery) -> str:
        without = rows.filter(email="").count()
        if not without:
            return ""
        return ngettext(
            "%(n)d has no email address and is on the call list instead.",
            "%(n)d have no email address and are on the call list instead.",
            without,
        ) % {"n": without}
