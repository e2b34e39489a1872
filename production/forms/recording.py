"""Forms with which work and counts are recorded; each is small enough for one thumb."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from ..models import Count, Place, SeedLot

MOST = 2_000_000


class DayField(forms.DateField):
    """A day in the browser's own picker; empty means today."""

    def __init__(self, **options: Any) -> None:
        options.setdefault("required", False)
        super().__init__(widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}), **options)


def number(**options: Any) -> forms.IntegerField:
    options.setdefault("min_value", 0)
    return forms.IntegerField(max_value=MOST, widget=forms.NumberInput(attrs={"inputmode": "numeric"}), **options)


class WorkForm(forms.Form):
    """One piece of work: the number counted, and what was otherwise than planned."""

    key = forms.UUIDField(required=False, widget=forms.HiddenInput)
    count = number(required=False, label=_("How many"))
    happened_on = DayField(label=_("Done on"))
    reason = forms.CharField(label=_("Why fewer"), required=False, max_length=200)
    lot = forms.ModelChoiceField(SeedLot.objects.all(), required=False, label=_("Lot"))
    place = forms.ModelChoiceField(Place.objects.filter(active=True), required=False, label=_("Place"))


class CountForm(forms.Form):
    """A count outside planned work, or a loss and its reason."""

    grid = "many"
    KINDS = [
        (Count.Kind.LOST, _("lost")),
        (Count.Kind.EMERGED, _("up in all")),
        (Count.Kind.USABLE, _("fit to graft in all")),
        (Count.Kind.TAKEN, _("took in all")),
    ]
    key = forms.UUIDField(required=False, widget=forms.HiddenInput)
    part = forms.IntegerField(widget=forms.HiddenInput)
    kind = forms.ChoiceField(label=_("What"), choices=KINDS)
    sowing = forms.ChoiceField(label=_("Of"), required=False)
    quantity = number(label=_("How many"))
    reason = forms.CharField(label=_("Why"), required=False, max_length=200)
    happened_on = DayField(label=_("On"))

    def __init__(
        self, *args: Any, sowings: list[tuple[str, str]], kinds: list[str] | None = None, **more: Any
    ) -> None:
        super().__init__(*args, **more)
        offered: Any = self.fields["sowing"]
        offered.choices = sowings
        if len(sowings) < 2:
            offered.widget = forms.HiddenInput()
            offered.initial = sowings[0][0] if sowings else ""
        if kinds is not None:
            chosen: Any = self.fields["kind"]
            chosen.choices = [choice for choice in self.KINDS if choice[0] in kinds]


class CorrectForm(forms.Form):
    grid = "one"
    key = forms.UUIDField(required=False, widget=forms.HiddenInput)
    quantity = number(label=_("The right number"))
    reason = forms.CharField(label=_("Why"), required=False, max_length=200)


class RegroupForm(forms.Form):
    grid = "pair"
    containers = number(min_value=1, label=_("Trays now"))
    place = forms.ModelChoiceField(Place.objects.filter(active=True), label=_("In"))


class ReasonForm(forms.Form):
    grid = "one"
    reason = forms.CharField(label=_("Where they went"), max_length=200)


class ReadyForm(forms.Form):
    grid = "one"
    key = forms.UUIDField(required=False, widget=forms.HiddenInput)
    quantity = number(min_value=1, label=_("Ready in all"))
    reason = forms.CharField(
        label=_("Why fewer"), required=False, max_length=200, help_text=_("For your own records.")
    )


class HandOverForm(forms.Form):
    grid = "one"
    key = forms.UUIDField(required=False, widget=forms.HiddenInput)
    quantity = number(label=_("Taken now"))
    close_short = forms.BooleanField(label=_("No more will follow: close the line"), required=False)
    spare_too = forms.BooleanField(label=_("Spare plants of the batch leave too"), required=False)
    reason = forms.CharField(label=_("Why fewer than ordered"), required=False, max_length=200)
    happened_on = DayField(label=_("Taken on"))
