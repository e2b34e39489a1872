"""The desk's form: a customer and one to several lines, typed as they are heard on the telephone."""

from __future__ import annotations

import uuid
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.urls import reverse_lazy
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _l

from orders import queries
from orders.models import Container, Crop, Customer, Method, Nursery, OrderLine, PlaceKind, Variety
from orders.queries import variety_meant
from orders.services import variety_named

from ..queries import past
from .named import MOST_NAMES, live_list

MOST_LINES = 30
SUGGESTED = ("customer", "scion", "rootstock")
GRAFTS = [choice for choice in Method.choices if choice[0] != Method.PLAIN]


class DayInput(forms.DateInput):
    """The browser's own day picker; the value travels as 2027-04-21."""

    input_type = "date"

    def __init__(self, **attrs: Any) -> None:
        super().__init__(format="%Y-%m-%d", attrs=attrs)


def suggesting(kind: str, **attrs: Any) -> forms.TextInput:
    """A text field whose list of names follows what is typed; without script it is the list the page came with."""
    return live_list(
        f"{kind}s", reverse_lazy("desk_suggest", args=[kind]), **{"hx-include": "#id_customer"}, **attrs
    )


class OrderForm(forms.Form):
    """Who asks. `customer` is a name: one that is not known yet becomes a new customer."""

    customer = forms.CharField(
        label=_l("Customer"),
        required=False,
        max_length=120,
        widget=suggesting("customer", autofocus=True),
    )
    email = forms.EmailField(
        label=_l("Email"),
        required=False,
        help_text=_l("For a new customer. Without one, a call is put on your list."),
    )
    phone = forms.CharField(label=_l("Telephone"), required=False, max_length=40)
    own_crop = forms.BooleanField(label=_l("This is our own crop"), required=False)
    notes = forms.CharField(label=_l("Notes"), required=False, widget=forms.Textarea(attrs={"rows": 2}))
    submit_key = forms.UUIDField(widget=forms.HiddenInput, required=False)

    def clean_customer(self) -> str:
        return " ".join(self.cleaned_data["customer"].split())

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if not data.get("own_crop") and not data.get("customer"):
            self.add_error("customer", _("No customer is named. Write a name, or tick “our own crop”."))
        return data

    @property
    def known(self) -> Customer | None:
        name = self.cleaned_data.get("customer", "") if self.is_bound and hasattr(self, "cleaned_data") else ""
        return Customer.objects.filter(name__iexact=name).first() if name else None


class LineForm(forms.Form):
    """One line. `line()` turns it into an unsaved OrderLine; new varieties are unsaved too."""

    kind = forms.ChoiceField(label=_l("Kind"), choices=OrderLine.Kind, initial=OrderLine.Kind.GRAFTED)
    quantity = forms.IntegerField(
        label=_l("Plants"), widget=forms.NumberInput(attrs={"inputmode": "numeric", "min": 1})
    )
    scion = forms.CharField(
        label=_l("Scion"),
        required=False,
        max_length=80,
        widget=suggesting("scion"),
    )
    rootstock = forms.CharField(
        label=_l("Rootstock"),
        required=False,
        max_length=80,
        widget=suggesting("rootstock"),
    )
    scion_crop = forms.ModelChoiceField(
        label=_l("New scion? Its crop"),
        queryset=Crop.objects.all(),
        required=False,
        empty_label=_l("known already"),
    )
    rootstock_crop = forms.ModelChoiceField(
        label=_l("New rootstock? Its crop"),
        queryset=Crop.objects.all(),
        required=False,
        empty_label=_l("known already"),
    )
    method = forms.ChoiceField(label=_l("Method"), choices=GRAFTS, initial=Method.SPLICE, required=False)
    leaders = forms.ChoiceField(
        label=_l("Leaders"),
        choices=[
            (OrderLine.Leaders.ONE, _l("One")),
            (OrderLine.Leaders.TWO_TOPPED, _l("Two, topped here")),
            (OrderLine.Leaders.TWO_SIDE_SHOOT, _l("Two, from a side shoot (theirs)")),
        ],
        initial=OrderLine.Leaders.ONE,
        required=False,
    )
    container = forms.ModelChoiceField(
        label=_l("Pot or tray"), queryset=Container.objects.none(), empty_label=None
    )
    pickup = forms.DateField(label=_l("Pickup"), widget=DayInput())
    earlier = forms.IntegerField(label=_l("Days earlier"), min_value=0, initial=0)
    later = forms.IntegerField(label=_l("Days later"), min_value=0, initial=2)
    collection_days = forms.IntegerField(label=_l("Days to collect"), min_value=1, max_value=30, initial=2)
    scion_seed = forms.ChoiceField(
        label=_l("Scion seed"),
        choices=[("ours", _l("Ours")), ("customers", _l("The customer's"))],
        required=False,
        initial="ours",
    )
    scion_seed_expected = forms.DateField(label=_l("Expected by"), required=False, widget=DayInput())
    rootstock_seed = forms.ChoiceField(
        label=_l("Rootstock seed"),
        choices=[("ours", _l("Ours")), ("customers", _l("The customer's"))],
        required=False,
        initial="ours",
    )
    rootstock_seed_expected = forms.DateField(label=_l("Expected by"), required=False, widget=DayInput())
    room_place_kind = forms.ChoiceField(
        label=_l("Room in"), choices=[("", "—"), *PlaceKind.choices], required=False
    )
    room_nights = forms.IntegerField(label=_l("Nights"), required=False, min_value=1, max_value=400)
    unit_price = forms.DecimalField(
        label=_l("Price each"),
        required=False,
        min_value=Decimal(0),
        max_digits=10,
        decimal_places=4,
        help_text=_l("Empty: from the price list."),
    )
    notes = forms.CharField(label=_l("Notes"), required=False, max_length=500)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        containers = self.fields["container"]
        assert isinstance(containers, forms.ModelChoiceField)
        containers.queryset = Container.objects.filter(active=True)

    def clean_quantity(self) -> int:
        quantity = int(self.cleaned_data["quantity"])
        if quantity < 1:
            raise forms.ValidationError(_("The quantity is zero or less. Write how many."))
        return quantity

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        kind = data.get("kind")
        if kind != OrderLine.Kind.ROOM:
            data["scion_variety"] = self._variety("scion")
        if kind == OrderLine.Kind.GRAFTED:
            data["rootstock_variety"] = self._variety("rootstock")
        return data

    def _variety(self, side: str) -> Variety | None:
        """The variety of that name, or a new one of the crop that was chosen."""
        name = " ".join(self.cleaned_data.get(side, "").split())
        if not name:
            self.add_error(side, _("No variety is named. Write its name."))
            return None
        found = variety_named(name, side=side, crop=self.cleaned_data.get(f"{side}_crop"))
        if found is None:
            self.add_error(
                side,
                _(
                    "“%(name)s” is not known yet. %(meant)sChoose its crop under “A variety that is new”,"
                    " or correct the name."
                )
                % {"name": name, "meant": variety_meant(name, side=side)},
            )
        return found

    @property
    def wanting(self) -> list[str]:
        """The labels of the fields that are still empty and may not stay so."""
        return [str(bound.label) for bound in self if bound.errors and not bound.value()]

    @property
    def wrong(self) -> list[str]:
        """What is wrong with what was typed, each with its field's label."""
        typed = [bound for bound in self if bound.errors and bound.value()]
        faults = [f"{bound.label}: {' '.join(map(str, bound.errors))}" for bound in typed]
        return [*map(str, self.non_field_errors()), *faults]

    def line(self) -> OrderLine:
        """An unsaved OrderLine of the cleaned values."""
        data = self.cleaned_data
        grafted = data["kind"] == OrderLine.Kind.GRAFTED
        return OrderLine(
            kind=data["kind"],
            scion=data.get("scion_variety"),
            rootstock=data.get("rootstock_variety") if grafted else None,
            method=(data.get("method") or Method.SPLICE) if grafted else Method.PLAIN,
            leaders=data.get("leaders") or OrderLine.Leaders.ONE,
            container=data["container"],
            quantity=data["quantity"],
            room_place_kind=data.get("room_place_kind") or "",
            room_nights=data.get("room_nights"),
            pickup_asked=data["pickup"],
            earlier=data["earlier"],
            later=data["later"],
            collection_days=data["collection_days"],
            scion_seed=data.get("scion_seed") or "ours",
            scion_seed_expected=data.get("scion_seed_expected"),
            rootstock_seed=data.get("rootstock_seed") or "ours",
            rootstock_seed_expected=data.get("rootstock_seed_expected"),
            unit_price=data.get("unit_price") or Decimal(0),
            notes=data.get("notes", ""),
        )


# No more are made than may be sent: by itself Django makes a thousand more of whatever number a request names.
LineFormSet = forms.formset_factory(
    LineForm, extra=0, min_num=1, max_num=MOST_LINES, absolute_max=MOST_LINES, validate_max=True
)


def first_line(nursery: Nursery, *, pickup: date | None = None) -> dict[str, Any]:
    """What a new line starts with."""
    return {
        "kind": OrderLine.Kind.GRAFTED,
        "method": Method.SPLICE,
        "leaders": OrderLine.Leaders.ONE,
        "container": _usual_pot(),
        "pickup": pickup,
        "earlier": nursery.latitude_earlier,
        "later": nursery.latitude_later,
        "collection_days": nursery.collection_days,
    }


def _usual_pot() -> Container | None:
    """The pot or tray of the newest order, for plants in another one share no batch with what is grown already."""
    pots = Container.objects.filter(active=True, kind=Container.Kind.POT_TRAY)
    newest = OrderLine.objects.filter(container__in=pots).select_related("container").order_by("-pk").first()
    return newest.container if newest else pots.first()


def first_order() -> dict[str, Any]:
    return {"submit_key": uuid.uuid4()}


def suggestions() -> dict[str, Any]:
    """Names that the page offers before anything is typed, and for good where there is no script."""
    return {f"{kind}s": suggested(kind) for kind in SUGGESTED}


def suggested(kind: str, words: str = "", customer: str = "") -> list[str]:
    """Names for one of the fields that hold these words; for a scion, combinations ordered before come first."""
    if kind == "customer":
        return list(queries.customers_like(words, MOST_NAMES).values_list("name", flat=True))
    found = queries.varieties_for(kind)
    for word in words.split():
        found = found.filter(name__icontains=word)
    names = list(found.values_list("name", flat=True)[:MOST_NAMES])
    return [*past.combinations(words, customer), *names] if kind == "scion" else names
