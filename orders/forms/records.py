"""What every form of plain data shares: the nursery's units, and fields in groups."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, ClassVar

from django import forms
from django.db.models import Model
from django.utils.translation import gettext_lazy as _

from ..models import Nursery
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
            yield str(title), [self[name] for name in names if name in self.fields]

    def changed_labels(self) -> list[str]:
        return [str(self.fields[name].label or name) for name in self.changed_data]


class RowsFormSet(forms.BaseInlineFormSet):
    """Rows of a record; one that was saved can be taken away."""

    def add_fields(self, form: forms.ModelForm, index: int | None) -> None:
        super().add_fields(form, index)
        if "DELETE" in form.fields:
            form.fields["DELETE"].label = _("take this away")


def rows_of(parent: type[Model], child: type[Model], form: type[RecordForm]) -> type[forms.BaseInlineFormSet]:
    """The rows of `child` that belong to a `parent`, with an empty one to fill."""
    return forms.inlineformset_factory(
        parent, child, form=form, formset=RowsFormSet, extra=1, can_delete_extra=False
    )


class SpanForm(RecordForm):
    """A run of days; its model has `first` and `last`."""

    grid = "many"

    class Meta:
        fields: ClassVar = ["first", "last"]
        widgets: ClassVar = {"first": DayInput, "last": DayInput}
