"""The nursery's plain data (places, varieties, trays, people …): every change has its history row, and only what
nothing refers to can be taken away."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

from django.db import models, transaction
from django.db.models import Q
from django.db.models.fields.reverse_related import ForeignObjectRel
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from . import history
from .models import User
from .refusals import Refused


def note_saved(*, record: models.Model, by: User | None, new: bool, changed: Sequence[str]) -> None:
    """One row of history for a record just saved, inside the caller's transaction; none where nothing changed.

    `changed` names the fields as people see them.
    """
    kind = str(record._meta.verbose_name)
    if new:
        history.record(by=by, what=f"{kind} made", subject=record, code=str(record)[:40], text=_("Entered."))
    elif changed:
        text = _("Changed: %(fields)s.") % {"fields": ", ".join(changed)}
        history.record(by=by, what=f"{kind} changed", subject=record, code=str(record)[:40], text=text)


def references(record: models.Model, *, owned: Collection[type[models.Model]] = ()) -> Iterator[str]:
    """What refers to a record, in words ('3 order lines'); rows of `owned` models belong to it."""
    for model, names in _relations(record).items():
        if model in owned:
            continue
        refers = Q(*((name, record) for name in names), _connector=Q.OR)
        count = model._base_manager.filter(refers).count()
        if count:
            name = model._meta.verbose_name if count == 1 else model._meta.verbose_name_plural
            yield f"{count} {name}"


def _relations(record: models.Model) -> dict[type[models.Model], list[str]]:
    """The models that may refer to a record, each with its fields that do; relations without a way back too."""
    found: dict[type[models.Model], list[str]] = {}
    for relation in record._meta.get_fields(include_hidden=True):
        if not isinstance(relation, ForeignObjectRel):
            continue
        model = relation.related_model
        if isinstance(model, type) and not model._meta.auto_created:
            found.setdefault(model, []).append(relation.field.name)
    return found


def remove(*, record: models.Model, by: User | None, owned: Collection[type[models.Model]] = ()) -> None:
    """Take a record away. Refused where anything refers to it: it can then only be put out of use."""
    with transaction.atomic():
        found = list(references(record, owned=owned))
        if found:
            raise Refused(
                _("%(name)s cannot be taken away: it belongs to %(what)s.")
                % {"name": capfirst(str(record)), "what": ", ".join(found)},
                mend=_("If it is no longer used, say so on its page instead."),
            )
        kind = str(record._meta.verbose_name)
        history.record(by=by, what=f"{kind} taken away", subject=record, code=str(record)[:40], text=str(record))
        record.delete()
