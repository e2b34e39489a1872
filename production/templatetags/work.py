"""Small filters for the pages of growing: what a form was sent with, by the work's number."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import template
from django.http import QueryDict

register = template.Library()


@register.filter
def of(values: Mapping[Any, Any] | None, key: Any) -> Any:
    """The value of a key that is itself a variable."""
    return (values or {}).get(key)


@register.filter
def ticked(posted: QueryDict, pk: int) -> bool:
    return f"done-{pk}" in posted


@register.filter
def number(posted: QueryDict | str | None, pk: int) -> str:
    return posted.get(f"n-{pk}", "") if isinstance(posted, QueryDict) else ""
