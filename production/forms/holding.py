"""Until when an order is held."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _l

from .desk import DayInput


class HoldForm(forms.Form):
    """`until` may be left empty where the nursery's usual number of days will do."""

    until = forms.DateField(label=_l("Hold until"), required=False, widget=DayInput())
