"""Who may open a view: one decorator, so that a house test can find a permission on every one of them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from django.contrib.auth.decorators import permission_required

View = TypeVar("View", bound=Callable[..., Any])


def needs(*codes: str) -> Callable[[View], View]:
    """Only users with all these permission codes ('orders.take_orders') may open the view; else 403."""

    def wrap(view: View) -> View:
        guarded = permission_required(codes, raise_exception=True)(view)
        guarded.needs = codes  # type: ignore[attr-defined]
        return guarded

    return wrap
