"""What every form of plain data shares: the nursery's units, fields in groups, rows that belong to a record."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import reduce
from operator import or_
from typing import Any, ClassVar

from django import forms
from django.db import transaction
from django.db.models import Model, Q, QuerySet
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from .. import records
from ..access import EDIT_NURSERY
from ..models import Nursery, User
from .fields import DayInput, UnitsForm

Group = tuple[Any, Sequence[str]]


class RecordForm(UnitsForm, forms.ModelForm):
    """A form of one record in the nursery's own units. `groups` names fieldsets; without any, it is one grid."""

    grid = ""
    groups: ClassVar[Sequence[Group]] = ()

    def __init__(self, *args: Any, nursery: Nursery, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.use_units(nursery)
        for name, value in self.initial.items():  # 20, not 20.0
            if isinstance(value, float) and value.is_integer():
                self.initial[name] = int(value)

    def grouped(self) -> Iterator[tuple[str, list[forms.BoundField]]]:
        """Title and fields of each group; what no group names comes first, without a title."""
        named = {name for _title, names in self.groups for name in names}
        rest = [field for field in self.visible_fields() if field.name not in named]
        if rest:
            yield "", rest
        for title, names in self.groups:
            fields = [self[name] for name in names if name in self.fields]
            if fields:
                yield str(title), fields

    def changed_labels(self) -> list[str]:
        return [str(self.fields[name].label or name) for name in self.changed_data]


class RowsFormSet(forms.BaseInlineFormSet):
    """Rows of a record; one that was saved can be taken away."""

    def add_fields(self, form: forms.ModelForm, index: int | None) -> None:
        super().add_fields(form, index)
        if "DELETE" in form.fields:
            form.fields["DELETE"].label = _("take this away")


def rows_of(
    parent: type[Model],
    child: type[Model],
    form: type[RecordForm],
    formset: type[RowsFormSet] = RowsFormSet,
    most: int | None = None,
) -> type[forms.BaseInlineFormSet]:
    """The rows of `child` that belong to a `parent`, and an empty one to fill while they are fewer than `most`."""
    return forms.inlineformset_factory(
        parent, child, form=form, formset=formset, extra=1, can_delete_extra=False, max_num=most
    )


class SpanForm(RecordForm):
    """A run of days; its model has `first` and `last`."""

    grid = "many"

    class Meta:
        fields: ClassVar = ["first", "last"]
        widgets: ClassVar = {"first": DayInput, "last": DayInput}


@dataclass(frozen=True, slots=True)
class Inline:
    """Rows that belong to a record and are edited with it, where `is_wanted` says so of the record."""

    title: str | Promise
    hint: str | Promise
    formset: type[forms.BaseInlineFormSet]
    is_wanted: Callable[[Any], bool] = lambda _record: True

    @property
    def prefix(self) -> str:
        return self.formset.get_default_prefix()


class RecordKind:
    """One kind of plain data, as its pages and its API have it alike: what it is made of and who may change it."""

    model: ClassVar[type[Model]]
    form: ClassVar[type[RecordForm]]
    name: ClassVar[str]
    plural: ClassVar[str]
    segment: ClassVar[str]  # of its addresses
    permission: ClassVar[str] = EDIT_NURSERY
    inlines: ClassVar[Sequence[Inline]] = ()
    # Where words are looked for, of a kind of which there may be thousands, and how that is said.
    looked_in: ClassVar[Sequence[str]] = ()
    looked_for: ClassVar[str | Promise] = ""

    def found(self, rows: QuerySet, words: str) -> QuerySet:
        """Those of the rows that have all the words."""
        for word in words.split():
            rows = rows.filter(reduce(or_, (Q(**{f"{field}__icontains": word}) for field in self.looked_in)))
        return rows

    def form_of(self, record: Any) -> type[RecordForm]:
        return self.form

    def blank(self, nursery: Nursery) -> Model:
        """A record to begin a new one from."""
        return self.model()

    @property
    def owned(self) -> list[type[Model]]:
        """The models whose rows belong to a record and go with it."""
        return [inline.formset.model for inline in self.inlines if inline.formset.model]


class RecordEdit:
    """A record's form and its rows, checked and saved together. `data` is what was sent; None only shows them."""

    def __init__(self, kind: RecordKind, record: Model, *, nursery: Nursery, data: Any = None) -> None:
        self.form = kind.form_of(record)(data, instance=record, nursery=nursery)
        self.rows = [
            (
                inline,
                inline.formset(data, instance=record, form_kwargs={"nursery": nursery}, prefix=inline.prefix),
            )
            for inline in kind.inlines
            if inline.is_wanted(record)
        ]

    def is_valid(self) -> bool:
        return all([self.form.is_valid(), *(formset.is_valid() for _inline, formset in self.rows)])

    def save(self, *, by: User | None) -> Model:
        """Save all of it with its row of history, in one transaction."""
        new = self.form.instance._state.adding
        changed = self.form.changed_labels()
        with transaction.atomic():
            record: Model = self.form.save()
            for inline, formset in self.rows:
                formset.instance = record
                formset.save()
                if formset.has_changed():
                    changed.append(str(inline.title))
            records.note_saved(record=record, by=by, new=new, changed=changed)
        return record
