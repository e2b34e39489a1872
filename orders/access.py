"""Who may open a view: one decorator, so that a house test can find a permission on every one of them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest

from .models import Nursery, User

# Changing what the nursery plans and bills with.
EDIT_NURSERY = "orders.edit_nursery"

View = TypeVar("View", bound=Callable[..., Any])


def needs(*codes: str) -> Callable[[View], View]:
    """Only users with all these permission codes ('orders.take_orders') may open the view; else 403."""

    def wrap(view: View) -> View:
        guarded = permission_required(codes, raise_exception=True)(view)
        guarded.needs = codes  # type: ignore[attr-defined]
        return guarded

    return wrap


def user_of(request: HttpRequest) -> User:
    """Who is signed in, where a view has made sure that somebody is."""
    assert isinstance(request.user, User)
    return request.user


def nursery_of(request: HttpRequest) -> Nursery:
    """The nursery as the middleware read it for this request."""
    nursery: Nursery = request.nursery  # type: ignore[attr-defined]
    return nursery
