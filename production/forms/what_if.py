"""What would be otherwise: a capacity, a closed day, somebody's time, or the day of a promised line."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _l

from orders.forms.fields import DayInput
from orders.models import OrderLine

from ..models import ClosedDay, Person, Place
from ..services.what_if import Changes


class WhatIfForm(forms.Form):
    """Each part may be left out; nothing of it is stored until it is saved."""

    place = forms.ModelChoiceField(Place.objects.filter(active=True), label=_l("Place"), required=False)
    capacity = forms.FloatField(label=_l("Would hold"), required=False, min_value=0.01, max_value=1_000_000)
    close = forms.DateField(label=_l("Closed on"), required=False, widget=DayInput)
    reopen = forms.ModelChoiceField(ClosedDay.objects.none(), label=_l("Open after all on"), required=False)
    person = forms.ModelChoiceField(Person.objects.filter(active=True), label=_l("Person"), required=False)
    hours = forms.DecimalField(
        label=_l("Hours on each working day"), required=False, min_value=0, max_value=24, decimal_places=2
    )
    away_first = forms.DateField(label=_l("Away from"), required=False, widget=DayInput)
    away_last = forms.DateField(label=_l("Away to"), required=False, widget=DayInput)
    order = forms.CharField(label=_l("Order"), required=False, max_length=20)
    line = forms.IntegerField(label=_l("Its line"), required=False, min_value=1, max_value=999)
    pickup = forms.DateField(label=_l("Pickup on"), required=False, widget=DayInput)

    groups = (
        (_l("A place"), ("place", "capacity")),
        (_l("A closed day"), ("close", "reopen")),
        (_l("Hands"), ("person", "hours", "away_first", "away_last")),
        (_l("A promised line"), ("order", "line", "pickup")),
    )

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        ahead = ClosedDay.objects.filter(day__gte=today)
        self.fields["reopen"].queryset = ahead  # type: ignore[attr-defined]

    @property
    def grouped(self) -> list[tuple[Any, list[forms.BoundField]]]:
        return [(title, [self[name] for name in names]) for title, names in self.groups]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        self._both(data, "place", "capacity", _("Say of which place."), _("Say how much it would hold."))
        if data.get("person") and not (data.get("hours") is not None or data.get("away_first")):
            self.add_error("person", _("Say what would be otherwise: the hours, or the days away."))
        if not data.get("person") and (data.get("hours") is not None or data.get("away_first")):
            self.add_error("person", _("Say whose time."))
        if data.get("away_first") and not data.get("away_last"):
            data["away_last"] = data["away_first"]
        if data.get("away_last") and not data.get("away_first"):
            self.add_error("away_first", _("Say from which day."))
        elif data.get("away_last") and data["away_last"] < data["away_first"]:
            self.add_error("away_last", _("This day lies before the first one."))
        self._both(data, "order", "pickup", _("Say of which order."), _("Say on which day."))
        if data.get("order"):
            data["found"] = self._found(data["order"], data.get("line"))
        return data

    def _both(self, data: dict[str, Any], one: str, other: str, no_one: str, no_other: str) -> None:
        given = [data.get(name) not in (None, "") for name in (one, other)]
        if given == [False, True] and one not in self.errors:
            self.add_error(one, no_one)
        if given == [True, False] and other not in self.errors:
            self.add_error(other, no_other)

    def _found(self, code: str, number: int | None) -> OrderLine | None:
        lines = OrderLine.objects.filter(order__code__iexact=code.strip())
        lines = lines.select_related("order__customer", "scion__crop", "rootstock__crop", "container")
        if number:
            lines = lines.filter(number=number)
        rows = list(lines[:2])
        if not rows:
            self.add_error("order", _("There is no such order, or no such line of it."))
        elif len(rows) > 1:
            self.add_error("line", _("The order has several lines. Say which one."))
        return rows[0] if len(rows) == 1 else None

    @property
    def changes(self) -> Changes:
        data = self.cleaned_data
        away = (data["away_first"], data["away_last"]) if data.get("away_first") else None
        return Changes(
            place=data["place"],
            capacity=data["capacity"],
            close=data["close"],
            reopen=data["reopen"],
            person=data["person"],
            hours=data["hours"],
            away=away,
            line=data.get("found"),
            pickup=data["pickup"],
        )
