"""THE place for what is said of a field that was left empty: what to do, by the kind of field.

Django says 'This field is required.' of all of them. The label stands beside it, on the page and in the list of
what is wrong; the API names the field.
"""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

# The more particular kinds come after what they are kinds of.
WORDS: dict[type[Any], Any] = {
    forms.Field: _("Nothing is here. Fill it in."),
    forms.CharField: _("Nothing is written here. Write it."),
    forms.EmailField: _("No address is written here. Write it, as name@example.org."),
    forms.IntegerField: _("No number is written here. Say how many."),
    forms.FloatField: _("No number is written here. Say how much."),
    forms.DecimalField: _("No number is written here. Say how much."),
    forms.DateField: _("No day is chosen. Choose one."),
    forms.TimeField: _("No time is chosen. Choose one."),
    forms.BooleanField: _("This is not ticked. Tick it."),
    forms.ChoiceField: _("Nothing is chosen. Choose one."),
    forms.MultipleChoiceField: _("Nothing is chosen. Choose at least one."),
    forms.ModelChoiceField: _("Nothing is chosen. Choose one."),
    forms.ModelMultipleChoiceField: _("Nothing is chosen. Choose at least one."),
    forms.FileField: _("No file is chosen. Choose one."),
}
MISSING = _("It is missing. Say what it is.")
EMPTY = _("It is empty. Say what it is.")


def say_what_to_do() -> None:
    """Called once, as the service starts: every form and every operation of the API says so from then on."""
    for kind, words in WORDS.items():
        kind.default_error_messages = {**getattr(kind, "default_error_messages", {}), "required": words}
    fields = serializers.Field
    fields.default_error_messages = {**fields.default_error_messages, "required": MISSING, "null": EMPTY}
    text = serializers.CharField
    text.default_error_messages = {**text.default_error_messages, "blank": EMPTY}
