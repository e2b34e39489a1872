"""Moving or splitting a promised line: pieces of so many plants for such a day."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _l

from .desk import DayInput

MOST_PIECES = 4


class PieceForm(forms.Form):
    quantity = forms.IntegerField(label=_l("Plants"), min_value=1)
    pickup = forms.DateField(label=_l("Pickup"), widget=DayInput())


# No more are made than may be sent: by itself Django makes a thousand more of whatever number a request names.
PieceFormSet = forms.formset_factory(
    PieceForm, extra=0, min_num=1, max_num=MOST_PIECES, absolute_max=MOST_PIECES, validate_max=True
)
