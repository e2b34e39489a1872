"""A season file from somebody's disk."""

from __future__ import annotations

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext_lazy as _l

from orders.refusals import Refused

from ..services.season_files import MOST_BYTES, text_of, too_big


class SeasonFileForm(forms.Form):
    grid = "one"

    file = forms.FileField(
        label=_l("Season file"),
        help_text=_l("JSON, 2 MB at the most, as this page gives it or as another program wrote it."),
        widget=forms.FileInput(attrs={"accept": ".json,application/json"}),
    )

    def clean_file(self) -> str:
        """Its text."""
        sent: UploadedFile = self.cleaned_data["file"]
        try:
            if (sent.size or 0) > MOST_BYTES:
                raise too_big()
            return text_of(sent.read())
        except Refused as refused:
            raise forms.ValidationError(str(refused)) from None
