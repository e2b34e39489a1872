"""Amounts in templates: {{ invoice.total|money:invoice.currency }}."""

from __future__ import annotations

from decimal import Decimal

from django import template

from .. import wording

register = template.Library()


@register.filter
def money(value: Decimal | str | None, currency: str) -> str:
    return "" if value is None or value == "" else wording.money(Decimal(value), currency)


@register.filter
def unit_price(value: Decimal | str | None, currency: str) -> str:
    return "" if value is None or value == "" else wording.unit_price(Decimal(value), currency)


@register.filter
def percent(value: Decimal | str | None) -> str:
    return "" if value is None or value == "" else wording.percent(Decimal(value))
