"""Form fields for what the nursery has its own way of writing: temperatures, lengths, weekdays, days."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.dates import WEEKDAYS
from django.utils.formats import number_format
from django.utils.translation import gettext_lazy as _

from ..models import Nursery
from ..units import UNITS, Quantity, Unit


class MeasureField(forms.FloatField):
    """A number kept in °C, °C·d or cm and shown in the nursery's unit; `lowest` and `highest` are as kept."""

    def __init__(
        self, *, quantity: Quantity, lowest: float | None = None, highest: float | None = None, **kwargs: Any
    ) -> None:
        self.quantity, self.lowest, self.highest = quantity, lowest, highest
        super().__init__(**kwargs)
        self.widget.attrs["step"] = "any"
        self.use_units_of(Nursery())

    def use_units_of(self, nursery: Nursery) -> None:
        code = nursery.length_unit if self.quantity == "length" else nursery.temperature_unit
        self.unit: Unit = UNITS[self.quantity][code]

    def prepare_value(self, value: Any) -> Any:
        return f"{self.unit.shown(value):g}" if isinstance(value, int | float) else value

    def to_python(self, value: Any) -> float | None:  # type: ignore[override]
        shown = super().to_python(value)
        return None if shown is None else self.unit.kept(shown)

    def validate(self, value: Any) -> None:
        super().validate(value)
        if value is None:
            return
        if (self.lowest is not None and value < self.lowest) or (
            self.highest is not None and value > self.highest
        ):
            raise ValidationError(self._bounds())

    def _bounds(self) -> str:
        low, high = (
            None if bound is None else number_format(self.unit.shown(bound), use_l10n=True)
            for bound in (self.lowest, self.highest)
        )
        words = {"low": low, "high": high, "unit": self.unit.sign}
        if high is None:
            return _("Write %(low)s %(unit)s or more.") % words
        return _("Write a number from %(low)s to %(high)s %(unit)s.") % words

    def has_changed(self, initial: Any, data: Any) -> bool:
        try:
            shown = super().to_python(data)
        except ValidationError:
            return True
        return shown != (None if initial is None else self.unit.shown(initial))


class UnitsForm(forms.BaseForm):
    """A form whose measures are in the nursery's own units; a measure not touched stays as it was kept."""

    nursery: Nursery

    def use_units(self, nursery: Nursery) -> None:
        self.nursery = nursery
        for field in self.fields.values():
            if isinstance(field, MeasureField):
                field.use_units_of(nursery)
                field.label = f"{field.label}, {field.unit.sign}"

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean()
        for name, field in self.fields.items():
            if isinstance(field, MeasureField) and name in self.cleaned_data and name not in self.changed_data:
                self.cleaned_data[name] = self.get_initial_for_field(field, name)
        return cleaned


class WeekdaysField(forms.TypedMultipleChoiceField):
    """Days of the week as a list of numbers, Monday 0."""

    widget = forms.CheckboxSelectMultiple

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(choices=list(WEEKDAYS.items()), coerce=int, **kwargs)


class DayInput(forms.DateInput):
    """The browser's own calendar; its value is always written YYYY-MM-DD."""

    input_type = "date"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs, format="%Y-%m-%d")
