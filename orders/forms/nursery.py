"""Forms of the nursery itself, crops, varieties, containers, customers and prices."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms
from django.conf import settings
from django.utils.dates import WEEKDAYS
from django.utils.translation import get_language
from django.utils.translation import gettext_lazy as _

from .. import choices
from ..models import Container, Crop, Customer, Nursery, Price, Variety
from .fields import MeasureField, WeekdaysField
from .records import Group, RecordForm, RecordKind

# As wide as a temperature of growth can be.
COLDEST, HOTTEST = -5.0, 60.0


class NurseryForm(RecordForm):
    """All of the nursery's settings; the first evening asks for them in smaller portions."""

    country = forms.ChoiceField(label=_("country"), required=False)
    currency = forms.ChoiceField(label=_("currency"))
    time_zone = forms.ChoiceField(label=_("time zone"))
    language = forms.ChoiceField(label=_("language"), choices=settings.LANGUAGES)
    first_weekday = forms.TypedChoiceField(
        label=_("first day of the week"), choices=list(WEEKDAYS.items()), coerce=int
    )
    open_weekdays = WeekdaysField(label=_("open days of the week"))

    groups: ClassVar[tuple[Group, ...]] = (
        (_("Name and address"), ("name", "address", "country", "email", "phone")),
        (
            _("Place and units"),
            ("time_zone", "language", "first_weekday", "temperature_unit", "length_unit", "currency"),
        ),
        (_("Tax and terms"), ("tax_name", "tax_rate", "tax_number", "prices_include_tax", "deposit_percent")),
        (_("Paying"), ("payment_days", "payment_terms")),
        (
            _("Promises"),
            ("open_weekdays", "service_level", "hold_days", "latitude_earlier", "latitude_later"),
        ),
        (_("Pickup"), ("pickup_place", "pickup_hours", "collection_days")),
        (_("What work and room cost, to compare ways out"), ("hour_price", "metre_week_price")),
    )

    class Meta:
        model = Nursery
        exclude: ClassVar[tuple[str, ...]] = ("set_up",)
        widgets: ClassVar = {
            "address": forms.Textarea(attrs={"rows": 3}),
            "payment_terms": forms.Textarea(attrs={"rows": 3}),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        language = get_language() or "en"
        for name, offered in (
            ("country", [("", "—"), *choices.countries(language)]),
            ("currency", choices.currencies(language)),
            ("time_zone", choices.time_zones()),
        ):
            field = self.fields.get(name)
            if isinstance(field, forms.ChoiceField):
                field.choices = _with_present(offered, getattr(self.instance, name))


class NurserySettings(RecordKind):
    """The one record of all settings."""

    model = Nursery
    form = NurseryForm
    name, plural, segment = "nursery", "nursery", "settings"


def _with_present(offered: choices.Choices, present: str) -> choices.Choices:
    """What is set now can always be kept, even where the list does not know it."""
    known = not present or any(code == present for code, _name in offered)
    return offered if known else [*offered, (present, present)]


class ClockForm(RecordForm):
    """The thermal clock of a crop or a variety."""

    emergence_sum = MeasureField(quantity="degree_days", lowest=1, label=_("emergence"))
    emergence_base = MeasureField(
        quantity="degrees", lowest=COLDEST, highest=HOTTEST, label=_("base temperature of emergence")
    )
    emergence_ceiling = MeasureField(
        quantity="degrees", lowest=COLDEST, highest=HOTTEST, label=_("emergence is known up to")
    )
    growth_base = MeasureField(
        quantity="degrees", lowest=COLDEST, highest=HOTTEST, label=_("base temperature of growth")
    )
    growth_ceiling = MeasureField(
        quantity="degrees", lowest=COLDEST, highest=HOTTEST, label=_("growth gains nothing above")
    )
    graftable_first = MeasureField(quantity="degree_days", lowest=1, label=_("graftable from"))
    graftable_aim = MeasureField(quantity="degree_days", lowest=1, label=_("best grafted at"))
    graftable_last = MeasureField(quantity="degree_days", lowest=1, label=_("graftable until"))

    clock_groups: ClassVar[tuple[Group, ...]] = (
        (_("Emergence"), ("emergence_sum", "emergence_base", "emergence_ceiling")),
        (
            _("From emergence to grafting"),
            ("growth_base", "growth_ceiling", "graftable_first", "graftable_aim", "graftable_last"),
        ),
        (_("How many come through"), ("emerged_share", "usable_share", "evidence_weight")),
        (_("Where this comes from"), ("basis",)),
    )


class CropForm(ClockForm):
    groups = (
        (_("The crop"), ("name", "botanical_name", "rootstock_crops")),
        *ClockForm.clock_groups,
    )

    class Meta:
        model = Crop
        fields: ClassVar = ["name", "botanical_name", "rootstock_crops", *Crop.CLOCK_FIELDS]
        widgets: ClassVar = {"rootstock_crops": forms.CheckboxSelectMultiple}


class VarietyForm(ClockForm):
    groups = (
        (_("The variety"), ("crop", "name", "role", "thousand_seeds_price", "pack_seeds", "notes", "active")),
        *ClockForm.clock_groups,
    )

    class Meta:
        model = Variety
        fields: ClassVar = [
            "crop",
            "name",
            "role",
            "thousand_seeds_price",
            "pack_seeds",
            "notes",
            "active",
            *Variety.CLOCK_FIELDS,
        ]
        widgets: ClassVar = {"notes": forms.Textarea(attrs={"rows": 3})}


class NewVarietyForm(RecordForm):
    """A new variety: its clock and rates are its crop's until they are known better."""

    class Meta:
        model = Variety
        fields: ClassVar = ["crop", "name", "role", "thousand_seeds_price", "pack_seeds", "notes"]
        widgets: ClassVar = {"notes": forms.Textarea(attrs={"rows": 3})}

    def save(self, commit: bool = True) -> Any:
        for name in Variety.CLOCK_FIELDS:
            setattr(self.instance, name, getattr(self.instance.crop, name))
        return super().save(commit)


class ContainerForm(RecordForm):
    length_cm = MeasureField(quantity="length", lowest=1, highest=500, label=_("length"))
    width_cm = MeasureField(quantity="length", lowest=1, highest=500, label=_("width"))

    groups = (
        (_("What it is"), ("name", "kind", "plants", "cell_volume_ml")),
        (_("What it takes up"), ("length_cm", "width_cm", "positions")),
        (_("Use"), ("for_delivery", "active")),
    )

    class Meta:
        model = Container
        fields: ClassVar = [
            "name", "kind", "plants", "cell_volume_ml", "length_cm", "width_cm", "positions", "for_delivery",
            "active",
        ]  # fmt: skip


class CustomerForm(RecordForm):
    class Meta:
        model = Customer
        fields: ClassVar = [
            "name", "contact", "email", "phone", "address", "country", "tax_number", "language", "notes",
        ]  # fmt: skip
        widgets: ClassVar = {
            "address": forms.Textarea(attrs={"rows": 3}),
            "notes": forms.Textarea(attrs={"rows": 3}),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["country"] = forms.ChoiceField(
            label=_("country"),
            required=False,
            choices=_with_present([("", "—"), *choices.countries(get_language() or "en")], self.instance.country),
        )
        self.fields["language"] = forms.ChoiceField(
            label=_("language"), required=False, choices=[("", _("the nursery's")), *settings.LANGUAGES]
        )


class PriceForm(RecordForm):
    class Meta:
        model = Price
        fields: ClassVar = ["kind", "crop", "method", "container", "two_leaders", "from_quantity", "unit_price"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("crop", "method", "container"):  # left empty, the price is for all of them
            choices = list(self.fields[name].choices)  # type: ignore[attr-defined]
            self.fields[name].choices = [("", _("any")), *choices[1:]]  # type: ignore[attr-defined]
