"""Addresses of the order file."""

from django.urls import URLPattern, path  # noqa: F401

urlpatterns: list[URLPattern] = [
    # orders
    # customers, catalogue and the nursery itself
    # papers and letters
]
