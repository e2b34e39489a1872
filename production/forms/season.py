"""What the season page is asked to show: a zoom, a day, one place or set of hands, and which batches."""

from __future__ import annotations

import re
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _l

from orders.models import Crop

from ..season.scope import EARLIEST, LATEST, VIEWS, Scope, View, scope_of
from .desk import DayInput

AT = re.compile(r"place-\d{1,9}|hands-.{1,400}")


class SeasonForm(forms.Form):
    """All of it may be left out: then the weeks around today are shown, with every batch."""

    view = forms.ChoiceField(choices=[(view, view) for view in VIEWS], required=False, widget=forms.HiddenInput)
    day = forms.DateField(label=_l("Around"), required=False, widget=DayInput())
    at = forms.CharField(required=False, max_length=420, widget=forms.HiddenInput)
    order = forms.CharField(label=_l("Order"), required=False, max_length=20)
    crop = forms.ModelChoiceField(Crop.objects.all(), label=_l("Crop"), required=False, empty_label=_l("all"))
    in_conflict = forms.BooleanField(label=_l("Only those in conflict"), required=False)

    def clean_day(self) -> Any:
        day = self.cleaned_data["day"]
        if day and not EARLIEST <= day <= LATEST:
            raise forms.ValidationError(
                _("The season is shown from %(first)s to %(last)s. Choose a day in between."),
                params={"first": EARLIEST.year, "last": LATEST.year},
            )
        return day

    def clean_at(self) -> str:
        at: str = self.cleaned_data["at"]
        if at and not AT.fullmatch(at):
            raise forms.ValidationError(_("There is no such place. Open one from the grid."))
        return at

    def scope(self, *, today: Any, begins: int) -> Scope:
        """What is asked for; of what is wrong, as if it had been left out."""
        asked = self.cleaned_data
        view: View = asked.get("view") or "weeks"
        return scope_of(view, asked.get("day"), today=today, begins=begins, at=asked.get("at", ""))
