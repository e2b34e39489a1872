"""The lists of the order file as files to take away: what each column is headed, and what it says of a row."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import Model
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _l

from . import accounts
from .models import Document, Letter, OrderLine, User
from .tables.writing import ListFile

# A row is a line of an order: what belongs to the order stands in each.
ORDERS = ListFile(
    _l("orders"),
    (
        (_l("Order"), lambda line: line.order.code),
        (_l("Line"), lambda line: line.number),
        (_l("Customer"), lambda line: line.order.who),
        (_l("Taken on"), lambda line: line.order.taken_on),
        (_l("Kind"), lambda line: line.get_kind_display()),
        (_l("Scion"), lambda line: line.scion),
        (_l("Rootstock"), lambda line: line.rootstock),
        (_l("Method"), lambda line: line.get_method_display() if line.kind != OrderLine.Kind.ROOM else ""),
        (_l("Leaders"), lambda line: line.get_leaders_display() if line.kind != OrderLine.Kind.ROOM else ""),
        (_l("Pot or tray"), lambda line: line.container),
        (_l("Plants"), lambda line: line.quantity),
        (_l("Pickup asked"), lambda line: line.pickup_asked),
        (_l("Days earlier"), lambda line: line.earlier),
        (_l("Days later"), lambda line: line.later),
        (_l("Pickup promised"), lambda line: line.pickup),
        (_l("State"), lambda line: line.get_state_display()),
        (_l("Ready"), lambda line: line.ready_quantity),
        (_l("Collected"), lambda line: line.collected_quantity),
        (_l("Price each"), lambda line: line.unit_price),
        (_l("Tax rate, %"), lambda line: line.tax_rate),
        (_l("Notes"), lambda line: line.notes),
    ),
)


def _paper_for(document: Document) -> str:
    return document.order.code if document.order else ""


PAPERS = ListFile(
    _l("papers"),
    (
        (_l("Paper"), lambda paper: paper.title),
        (_l("Kind"), lambda paper: paper.get_kind_display()),
        (_l("Number"), lambda paper: paper.code),
        (_l("Revision"), lambda paper: paper.revision),
        (_l("Order"), _paper_for),
        (_l("Customer"), lambda paper: paper.customer),
        (_l("Issued"), lambda paper: paper.created_at),
        (_l("By"), lambda paper: paper.created_by),
    ),
)


def _letter_order(letter: Letter) -> str:
    return letter.order.code if letter.order else ""


LETTERS = ListFile(
    _l("letters"),
    (
        (_l("Letter"), lambda letter: letter.subject),
        (_l("State"), lambda letter: letter.get_state_display()),
        (_l("Customer"), lambda letter: letter.customer),
        (_l("To"), lambda letter: letter.to),
        (_l("Telephone"), lambda letter: letter.customer.phone),
        (_l("Order"), _letter_order),
        (_l("Written"), lambda letter: letter.created_at),
        (_l("Ended"), lambda letter: letter.ended_at),
        (_l("By"), lambda letter: letter.ended_by),
        (_l("Why put aside"), lambda letter: letter.ended_reason),
        (_l("What went wrong"), lambda letter: letter.error),
    ),
)


def users_file(with_token: set[int]) -> ListFile:
    def token(user: User) -> bool:
        return user.pk in with_token

    return ListFile(
        _l("who-signs-in"),
        (
            (_l("Signs in as"), lambda user: user.username),
            (_l("Name"), lambda user: user.get_full_name()),
            (_l("Role"), accounts.role_of),
            (_l("May sign in"), lambda user: user.is_active),
            (_l("Token"), token),
        ),
    )


def records_file(name: str, form_fields: list[str], model: type[Model]) -> ListFile:
    """Plain data by the fields of its form, as they are kept: °C, cm, days as days."""
    fields = [model._meta.get_field(name) for name in form_fields if _is_kept(model, name)]
    return ListFile(name, [(capfirst(str(field.verbose_name)), _value_of(field)) for field in fields])  # type: ignore[union-attr]


def _is_kept(model: type[Model], name: str) -> bool:
    return any(field.name == name for field in (*model._meta.fields, *model._meta.many_to_many))


def _value_of(field: Any) -> Any:
    if isinstance(field, models.ManyToManyField):
        return lambda row: "; ".join(str(each) for each in getattr(row, field.name).all())
    if field.choices:
        return lambda row: getattr(row, f"get_{field.name}_display")()
    if isinstance(field, models.JSONField):
        return lambda row: "; ".join(str(each) for each in getattr(row, field.name) or ())
    return lambda row: getattr(row, field.name)


def said(*words: Any) -> str:
    """Words of which some may be missing, as one cell."""
    return _("; ").join(str(word) for word in words if word)
