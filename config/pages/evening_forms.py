"""The small forms of the first evening."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms
from django.utils.translation import gettext_lazy as _

from orders.forms.fields import WeekdaysField
from orders.forms.nursery import NurseryForm
from orders.forms.records import RecordForm
from orders.models import Nursery, PlaceKind
from production.models import Skill
from production.starting.crops import CROPS


class AboutForm(NurseryForm):
    """Name, address, place, language, money and units."""

    open_weekdays = None  # type: ignore[assignment]
    groups = (
        (_("Name and address"), ("name", "address", "country", "email", "phone")),
        (
            _("Where you are and how you measure"),
            ("time_zone", "language", "currency", "first_weekday", "temperature_unit", "length_unit"),
        ),
    )

    class Meta(NurseryForm.Meta):
        exclude = ()
        fields: ClassVar = [
            "name", "address", "country", "email", "phone", "time_zone", "language", "currency", "first_weekday",
            "temperature_unit", "length_unit",
        ]  # fmt: skip


class TaxForm(RecordForm):
    class Meta:
        model = Nursery
        fields: ClassVar = ["tax_name", "tax_rate", "tax_number", "prices_include_tax", "payment_days"]


class OpenDaysForm(RecordForm):
    grid = "one"
    open_weekdays = WeekdaysField(label=_("We work on"))

    class Meta:
        model = Nursery
        fields: ClassVar = ["open_weekdays"]


# How many trays a small nursery may hold, to begin with: common practice, no source.
STARTING_PLACES = (
    (PlaceKind.GERMINATION, 40, _("Where seed comes up; leave 0 if it does so on the bench.")),
    (PlaceKind.BENCH, 200, _("All benches together; they can be told apart later.")),
    (PlaceKind.HEALING, 24, _("Warm, humid and out of the sun, for the nights after grafting.")),
    (PlaceKind.HARDENING, 80, _("Cooler and brighter; leave 0 if plants harden on the bench.")),
    (PlaceKind.STAGING, 40, _("Where ready plants wait for the customer; leave 0 if it is the bench.")),
)


class PlacesForm(forms.Form):
    """Tray places by kind of place."""

    grid = "one"

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for kind, trays, hint in STARTING_PLACES:
            needed = kind in (PlaceKind.BENCH, PlaceKind.HEALING)
            self.fields[kind.value] = forms.IntegerField(
                label=_("%(place)s, tray places") % {"place": kind.label},
                help_text=hint,
                initial=trays,
                min_value=1 if needed else 0,
                max_value=100_000,
            )


MOST_HANDS = 60


class HandForm(forms.Form):
    grid = "many"
    person = forms.IntegerField(widget=forms.HiddenInput, required=False)
    name = forms.CharField(label=_("Name"), max_length=80)
    hours = forms.DecimalField(
        label=_("Hours on an open day"), min_value=0, max_value=24, max_digits=4, decimal_places=2, initial=8
    )
    skills = forms.ModelMultipleChoiceField(
        queryset=Skill.objects.none(), label=_("Can do"), widget=forms.CheckboxSelectMultiple, required=False
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        every = Skill.objects.all()
        self.fields["skills"].queryset = every  # type: ignore[attr-defined]
        self.fields["skills"].initial = list(every)

    def has_changed(self) -> bool:
        """A spare row without a name is empty, whatever hours and skills it begins with."""
        return bool(str(self["name"].value() or "").strip())


HandFormSet = forms.formset_factory(HandForm, extra=0, min_num=1, max_num=MOST_HANDS, absolute_max=MOST_HANDS)


class CropsForm(forms.Form):
    grid = "one"
    crops = forms.MultipleChoiceField(
        label=_("We graft or grow"),
        choices=[(key, crop.name) for key, crop in CROPS.items() if crop.rootstocks],
        widget=forms.CheckboxSelectMultiple,
        initial=["tomato"],
        help_text=_("More can be added later. Rootstock crops they need come along."),
    )
