"""Forms of the bill. They only validate; what is done with the values is a service's.

Fields about a line are called as the services call them in a refusal: lines.<number>.quantity.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from typing import Any
from uuid import uuid4

from django import forms
from django.utils.translation import gettext_lazy as _

from orders import money
from orders.forms.fields import DayInput
from orders.models import OrderLine

from . import queries
from .items import Item, item, text_of, totals, usual_price
from .models import InvoiceLine, NumberSeries, Payment

HOWS = [(how.value, how.label) for how in Payment.How if how != Payment.How.MOVED]


class OnceForm(forms.Form):
    """A form that counts once, however often it is sent."""

    grid = "one"
    key = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(self, data: Any = None, *, initial: dict[str, Any] | None = None) -> None:
        super().__init__(data, initial={"key": uuid4(), **(initial or {})})


class BillForm(OnceForm):
    """How many of each line, at what price and rate."""

    supplied_on = forms.DateField(
        label=_("Last handed over on"),
        widget=DayInput,
        required=False,
        help_text=_("Left empty, it is the day of the last hand-over."),
    )

    def __init__(self, data: Any = None, *, lines: Iterable[queries.Line]) -> None:
        super().__init__(data)
        self.lines = list(lines)
        for line in self.lines:
            price = usual_price(line)
            self.fields[_name(line, "quantity")] = _count(line.to_bill, _("How many"))
            self.fields[_name(line, "unit_price")] = forms.DecimalField(
                label=_("Price each"),
                min_value=0,
                decimal_places=4,
                max_digits=10,
                initial=_short(price) if price else None,
            )
            self.fields[_name(line, "tax_rate")] = forms.DecimalField(
                label=_("Tax rate, %"), min_value=0, max_value=100, decimal_places=2, initial=_short(line.tax_rate)
            )

    def rows(self) -> list[tuple[queries.Line, str, list[forms.BoundField]]]:
        """Each line, what it will be called on the invoice, and its fields."""
        names = ("quantity", "unit_price", "tax_rate")
        return [(line, text_of(line), [self[_name(line, name)] for name in names]) for line in self.lines]

    def each(self, name: str) -> dict[OrderLine, Any]:
        """The values of one kind of field by line; prices and rates only of lines that are billed."""
        chosen = [line for line in self.lines if name == "quantity" or self._value(line, "quantity")]
        return {line: self._value(line, name) for line in chosen}

    def items(self) -> list[Item]:
        """The rows of the bill as they would be; of a form not sent yet, of what it begins with."""
        prices, rates = self.each("unit_price"), self.each("tax_rate")
        return [
            item(line, quantity, unit_price=Decimal(prices[line] or 0), tax_rate=rates[line])
            for line, quantity in self.each("quantity").items()
            if quantity
        ]

    def _value(self, line: OrderLine, name: str) -> Any:
        field = _name(line, name)
        return self.cleaned_data[field] if self.is_bound else self.fields[field].initial

    def totals(self, *, tax_included: bool) -> money.Totals:
        return totals(self.items(), tax_included=tax_included)


class CreditForm(OnceForm):
    """How much of each row is taken back, why, and what becomes of the plants."""

    reason = forms.CharField(label=_("Why"), max_length=300, help_text=_("It stands on the credit note."))
    bill_again = forms.TypedChoiceField(
        label=_("And then"),
        choices=[
            ("yes", _("The invoice was wrong: bill these plants again")),
            ("no", _("Given back, or allowed for: do not bill them again")),
        ],
        coerce=lambda value: value == "yes",
        widget=forms.RadioSelect,
    )

    def __init__(self, data: Any = None, *, left: dict[InvoiceLine, int]) -> None:
        super().__init__(data)
        self.left = {line: most for line, most in left.items() if most}
        for line, most in self.left.items():
            self.fields[_name(line, "quantity")] = _count(most, line.text)
        self.order_fields([*(_name(line, "quantity") for line in self.left), "reason", "bill_again"])

    def quantities(self) -> dict[InvoiceLine, int]:
        return {line: self.cleaned_data[_name(line, "quantity")] for line in self.left}


class PaymentForm(OnceForm):
    """Money that came in; where something is to give back, also money that went out."""

    kind = forms.ChoiceField(
        label=_("What"),
        choices=[(Payment.Kind.PAYMENT, _("It came in")), (Payment.Kind.REFUND, _("We gave it back"))],
        widget=forms.RadioSelect,
    )
    amount = forms.DecimalField(label=_("Amount"), decimal_places=2, max_digits=12)
    on = forms.DateField(label=_("On"), widget=DayInput)
    how = forms.ChoiceField(label=_("How"), choices=HOWS)
    note = forms.CharField(label=_("Note"), max_length=200, required=False)
    over = forms.BooleanField(label=_("It is more than is due, and I mean it"), required=False)

    def __init__(self, data: Any = None, *, today: date, due: Decimal, spare: Decimal) -> None:
        refund = spare > 0
        begins = {
            "kind": Payment.Kind.REFUND if refund else Payment.Kind.PAYMENT,
            "amount": spare if refund else due or None,
            "on": today,
            "how": Payment.How.TRANSFER,
        }
        super().__init__(data, initial=begins)
        if not refund:
            del self.fields["kind"]

    def values(self) -> dict[str, Any]:
        return {**self.cleaned_data, "kind": self.cleaned_data.get("kind", Payment.Kind.PAYMENT)}


class ReasonForm(OnceForm):
    reason = forms.CharField(label=_("What was wrong"), max_length=200)


class SeriesForm(forms.ModelForm):
    grid = "one"

    class Meta:
        model = NumberSeries
        fields = ("prefix", "first_number")

    def _post_clean(self) -> None:
        """The service says what is wrong with a series, and stores it."""


def _name(line: OrderLine | InvoiceLine, field: str) -> str:
    return f"lines.{line.number}.{field}"


def _count(most: int, label: Any) -> forms.IntegerField:
    return forms.IntegerField(label=label, min_value=0, max_value=most, initial=most)


def _short(value: Decimal) -> Decimal:
    """Without needless zeros: 2.75, 13.5, 7."""
    short = value.normalize()
    return short if short == value and short.as_tuple().exponent <= 0 else value.quantize(Decimal(1))  # type: ignore[operator]
