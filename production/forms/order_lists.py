"""A list of orders from somebody's disk, and what becomes of its orders that do not fit."""

from __future__ import annotations

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext_lazy as _l

from orders.tables import MOST_BYTES
from orders.tables.reading import too_big

from ..models import OrderList


class OrderListForm(forms.Form):
    grid = "one"

    file = forms.FileField(
        label=_l("The list"),
        help_text=_l("CSV or .xlsx, 5 MB and 2,000 rows at the most; of a workbook its first sheet."),
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,.xlsx,text/csv"}),
        allow_empty_file=True,
    )

    def clean_file(self) -> UploadedFile:
        sent: UploadedFile = self.cleaned_data["file"]
        if (sent.size or 0) > MOST_BYTES:
            raise forms.ValidationError(str(too_big()))
        return sent


class TakeListForm(forms.Form):
    grid = "one"

    others = forms.ChoiceField(
        label=_l("Good orders that do not fit"),
        choices=OrderList.Others,
        initial=OrderList.Others.LEAVE,
        widget=forms.RadioSelect,
    )
