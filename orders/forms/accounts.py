"""Forms about signing in."""

from __future__ import annotations

from typing import Any

from django import forms
from django.conf import settings
from django.utils.translation import gettext_lazy as _

from .. import accounts
from ..models import User
from ..refusals import ManyRefused, Refused

ROLE_WORDS = (
    (accounts.GROWER, _("Grower: everything")),
    (accounts.OFFICE, _("Office: orders, papers and money")),
    (accounts.CREW, _("Crew: today's work and counts")),
)


def add_refusal(form: forms.Form, refusal: Refused) -> None:
    """Show a refusal of a service beside its field, or above the form."""
    for each in refusal.refusals if isinstance(refusal, ManyRefused) else [refusal]:
        form.add_error(each.field if each.field in form.fields else None, str(each))


class PasswordField(forms.CharField):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(strip=False, widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}), **kwargs)


class AccountForm(forms.Form):
    """The first account, or a new one without its role."""

    grid = "one"
    username = forms.CharField(label=_("Name to sign in with"), max_length=150)
    name = forms.CharField(label=_("Your name"), max_length=150, required=False)
    password = PasswordField(label=_("Password"), help_text=_("Ten characters or more."))


class NewUserForm(AccountForm):
    name = forms.CharField(label=_("Their name"), max_length=150, required=False)
    role = forms.ChoiceField(label=_("Role"), choices=ROLE_WORDS, widget=forms.RadioSelect, initial=accounts.CREW)


class UserForm(forms.Form):
    grid = "one"
    name = forms.CharField(label=_("Name"), max_length=150, required=False)
    role = forms.ChoiceField(label=_("Role"), choices=ROLE_WORDS, widget=forms.RadioSelect)
    language = forms.ChoiceField(
        label=_("Language"), required=False, choices=[("", _("the nursery's")), *settings.LANGUAGES]
    )
    active = forms.BooleanField(label=_("May sign in"), required=False)
    password = PasswordField(label=_("New password"), required=False, help_text=_("Leave empty to keep it."))

    @classmethod
    def initial_of(cls, user: User) -> dict[str, Any]:
        return {
            "name": user.get_full_name(),
            "role": accounts.role_of(user),
            "language": user.language,
            "active": user.is_active,
        }
