"""Who signs in: adding people, their role, leaving them out, and the token their programs use."""

from __future__ import annotations

from django.contrib.auth.models import Group
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _
from rest_framework.authtoken.models import Token

from . import history
from .models import User
from .refusals import ManyRefused, Refused

GROWER, OFFICE, CREW = "grower", "office", "crew"
ROLES = (GROWER, OFFICE, CREW)


def role_of(user: User) -> str:
    """The role of a user, '' without one."""
    held = {group.name for group in user.groups.all()}
    return next((role for role in ROLES if role in held), "")


def make_user(*, username: str, name: str, role: str, password: str, by: User | None) -> User:
    """A new person who may sign in. Refusals name the field: username, role or password."""
    username = username.strip()
    if not username:
        raise Refused(_("No name to sign in with."), mend=_("Write one."), field="username")
    with transaction.atomic():
        if User.objects.filter(username__iexact=username).exists():
            raise Refused(
                _("%(name)s is taken.") % {"name": username}, mend=_("Choose another name."), field="username"
            )
        user = User(username=username, first_name=name.strip())
        _check_password(password, user)
        user.set_password(password)
        user.full_clean()
        user.save()
        user.groups.set([_group(role)])
        text = _("May sign in, as %(role)s.") % {"role": role}
        history.record(by=by, what="user made", subject=user, code=username, text=text)
    return user


def make_first_grower(*, username: str, name: str, password: str) -> User:
    """The first account of an installation, a grower's; refused as soon as anybody may sign in."""
    with transaction.atomic():
        if User.objects.select_for_update().exists():
            raise Refused(_("Somebody may sign in already."), mend=_("Sign in, or ask the grower."))
        return make_user(username=username, name=name, role=GROWER, password=password, by=None)


def change_user(
    *, user: User, name: str, role: str, active: bool, by: User, password: str = "", language: str = ""
) -> User:
    """Change a user; an empty password leaves it as it is. One active grower must remain."""
    with transaction.atomic():
        user = User.objects.select_for_update().get(pk=user.pk)
        _keep_a_grower(user, role, active)
        before = (user.first_name, role_of(user), user.is_active, user.language)
        user.first_name, user.last_name, user.is_active, user.language = name.strip(), "", active, language
        if password:
            _check_password(password, user)
            user.set_password(password)
        user.save()
        user.groups.set([_group(role)])
        if not active:
            Token.objects.filter(user=user).delete()
        if password or before != (user.first_name, role, active, language):
            text = _change_said(role, active, password)
            history.record(by=by, what="user changed", subject=user, code=user.username, text=text)
    return user


def make_token(*, user: User, by: User) -> str:
    """A new token for the user's programs; an older one stops working."""
    with transaction.atomic():
        if not user.is_active:
            raise Refused(_("%(name)s may not sign in.") % {"name": user.shown_name}, mend=_("Let them in first."))
        Token.objects.filter(user=user).delete()
        token = Token.objects.create(user=user)
        history.record(
            by=by, what="token made", subject=user, code=user.username, text=_("A token for programs was made.")
        )
    return str(token.key)


def drop_token(*, user: User, by: User) -> None:
    with transaction.atomic():
        if Token.objects.filter(user=user).delete()[0]:
            text = _("The token for programs was taken away.")
            history.record(by=by, what="token dropped", subject=user, code=user.username, text=text)


def _group(role: str) -> Group:
    if role not in ROLES:
        raise Refused(_("There is no role “%(role)s”.") % {"role": role}, mend=_("Choose one."), field="role")
    return Group.objects.get(name=role)


def _check_password(password: str, user: User) -> None:
    try:
        validate_password(password, user)
    except ValidationError as error:
        raise ManyRefused([Refused(message, field="password") for message in error.messages]) from error


def _keep_a_grower(user: User, role: str, active: bool) -> None:
    if role_of(user) != GROWER or not user.is_active or (role == GROWER and active):
        return
    others = User.objects.filter(groups__name=GROWER, is_active=True).exclude(pk=user.pk)
    if not others.exists():
        raise Refused(
            _("%(name)s is the only grower who may sign in.") % {"name": user.shown_name},
            mend=_("Make somebody else a grower first."),
            field="role" if active else "active",
        )


def _change_said(role: str, active: bool, password: str) -> str:
    if not active:
        return _("May no longer sign in.")
    said = _("May sign in, as %(role)s.") % {"role": role}
    return f"{said} {_('A new password was set.')}" if password else said
