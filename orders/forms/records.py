"""What every form of plain data shares: the nursery's units, and fields in groups."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, ClassVar

from django import forms

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


class SpanForm(RecordForm):
    """A run of days; its model has `first` and `last`."""

    grid = "many"

    class Meta:
        fields: ClassVar = ["first", "last"]
        widgets: ClassVar = {"first": DayInput, "last": DayInput}
