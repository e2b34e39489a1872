"""Addresses of the desk, the season, the work and the nursery's places and protocols."""

from django.urls import URLPattern, path

from .views import desk, lines

urlpatterns: list[URLPattern] = [
    # the desk: a new order, its answer, confirming
    path("desk/", desk.new_order, name="desk"),
    path("desk/answer/", desk.answer, name="desk_answer"),
    path("lines/<int:pk>/plan/", lines.line_plan, name="line_plan"),
    path("orders/<str:code>/confirm/", lines.confirm, name="order_confirm"),
    # the season
    # today, batches, places, standing plants, hand-over
    # places, hands, calendar, protocols and seed lots
]
