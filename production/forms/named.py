"""Fields for a row that is named by typing, among thousands: found by its name, or by words that only it has.

While one types, a list offers names; without script it is the list the page came with, and what was typed is
looked up when the form is sent.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django import forms
from django.db.models import Model, Q, QuerySet
from django.urls import reverse_lazy
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _l

from orders import queries, states
from orders.models import OrderLine

from ..models import SeedLot

MOST_NAMES = 60  # that a list offers; one types on for the rest
MOST_TOLD = 4  # names in the answer to words that several have


def live_list(names: str, address: Any, **attrs: Any) -> forms.TextInput:
    """A text field whose list, the datalist with the id `names`, follows what is typed."""
    live = {
        "hx-get": address,
        "hx-trigger": "input changed delay:80ms",
        "hx-target": f"#{names}",
        "hx-swap": "innerHTML",
        "hx-sync": "this:replace",
    }
    return forms.TextInput(attrs={"list": names, "autocomplete": "off", **live, **attrs})


@dataclass(frozen=True, slots=True)
class Naming:
    """How rows of one kind are named; `find` gives those that a text may mean, the likeliest first."""

    find: Callable[[str], QuerySet[Any]]
    name: Callable[[Any], str]
    unknown: str | Promise  # with %(text)s: nothing is called so, and what to write

    def names(self, text: str = "") -> list[str]:
        return [self.name(row) for row in self.find(text)[:MOST_NAMES]]


class NamedField(forms.CharField):
    """Cleans to the row that is meant, or None where nothing is typed."""

    def __init__(self, *, kind: str, names: str, **more: Any) -> None:
        self.naming = NAMED[kind]
        widget = live_list(names, reverse_lazy("standing_suggest", args=[kind]))
        super().__init__(max_length=200, widget=widget, **more)

    def prepare_value(self, value: Any) -> Any:
        return self.naming.name(value) if isinstance(value, Model) else value

    def clean(self, value: Any) -> Any:
        text = " ".join(str(super().clean(value)).split())
        if not text:
            return None
        found = list(self.naming.find(text)[: MOST_TOLD + 1])
        if not found:
            raise forms.ValidationError(self.naming.unknown % {"text": text})
        if len(found) > 1:
            names = "; ".join(self.naming.name(row) for row in found[:MOST_TOLD])
            if len(found) > MOST_TOLD:
                names = _("%(names)s; and others") % {"names": names}
            raise forms.ValidationError(
                _("“%(text)s” may be one of several: %(names)s. Write more of it.")
                % {"text": text, "names": names}
            )
        return found[0]


# --- lines that nothing was sown for ------------------------------------------------------------------------


def _lines(text: str) -> QuerySet[OrderLine]:
    """By order and number ('27/2', 'Order 27, line 2: …'), or by words of its order, customer and varieties."""
    waiting = queries.lines().filter(
        state__in=(states.ASKED, states.HELD, states.CONFIRMED), kind__in=("grafted", "plain")
    )
    if named := re.match(r"(?:[^\W\d]+\s+)?(\d{1,9})\s*[/,]\s*(?:[^\W\d]+\s+)?(\d{1,4})\b", text):
        return waiting.filter(order__code=named[1], number=named[2])
    words = queries.order_words(text)
    waiting = waiting.order_by("pickup_asked", "order_id", "number")
    if len(words) == 1 and (of_order := waiting.filter(order__code__iexact=words[0])):
        return of_order
    for word in words:
        waiting = waiting.filter(
            Q(order__code__iexact=word)
            | Q(order__customer__name__icontains=word)
            | Q(scion__name__icontains=word)
            | Q(rootstock__name__icontains=word)
        )
    return waiting


def _line(line: OrderLine) -> str:
    return f"{line}: {line.quantity} × {line.what}, {line.order.who}"


# --- seed lots ----------------------------------------------------------------------------------------------


def _lots(text: str) -> QuerySet[SeedLot]:
    """By its code, alone or before a colon, or by words of code and variety; those in use before used up ones."""
    lots = SeedLot.objects.select_related("variety").order_by("used_up", "variety__name", "code")
    code = text.partition(":")[0].strip()
    if code and (exact := lots.filter(code__iexact=code)):
        return exact
    for word in text.split():
        lots = lots.filter(Q(code__icontains=word) | Q(variety__name__icontains=word))
    return lots


NAMED = {
    "line": Naming(
        find=_lines,
        name=_line,
        unknown=_l(
            "No line that was asked, held or confirmed is called “%(text)s”. Write its order and number, as 27/1,"
            " or its customer and variety."
        ),
    ),
    "lot": Naming(
        find=_lots,
        name=lambda lot: f"{lot.code}: {lot.variety}",
        unknown=_l("No seed lot is called “%(text)s”. Write its code as it stands under Nursery, Seed lots."),
    ),
}
