"""Addresses of the desk, the season, the work and the nursery's places and protocols."""

from django.urls import URLPattern, path  # noqa: F401

urlpatterns: list[URLPattern] = [
    # the desk: a new order, its answer, confirming
    # the season
    # today, batches, places, standing plants, hand-over
    # places, hands, calendar, protocols and seed lots
]
