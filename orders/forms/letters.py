"""A draft's words, to be read and changed before it is sent."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from ..drafts import LONGEST


class DraftForm(forms.Form):
    grid = "one"
    subject = forms.CharField(label=_("Subject"), max_length=200)
    text = forms.CharField(
        label=_("Letter"), max_length=LONGEST, strip=False, widget=forms.Textarea(attrs={"class": "tall"})
    )
