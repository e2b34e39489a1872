"""While the nursery is not set up, its pages lead to the first evening."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from orders.access import EDIT_NURSERY, nursery_of
from orders.models import User


class FirstEveningMiddleware:
    """Stands after NurseryMiddleware. The API, links of customers and sign-out go their own way."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if nursery_of(request).set_up or request.method not in ("GET", "HEAD") or _goes_its_own_way(request.path):
            return self.get_response(request)
        if not request.user.is_authenticated:
            return self.get_response(request) if User.objects.exists() else redirect("first_evening_account")
        if request.user.has_perm(EDIT_NURSERY):
            return redirect("first_evening")
        return render(request, "first_evening/wait.html", status=503)


def _goes_its_own_way(path: str) -> bool:
    return path.startswith((reverse("first_evening"), "/static/", "/api/", "/admin/"))
