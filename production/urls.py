"""Addresses of the desk, the season, the work and the nursery's places and protocols."""

from django.urls import URLPattern, path

from .views import desk, lines, season

urlpatterns: list[URLPattern] = [
    # the desk: a new order, its answer, confirming
    path("desk/", desk.new_order, name="desk"),
    path("desk/answer/", desk.answer, name="desk_answer"),
    path("lines/<int:pk>/plan/", lines.line_plan, name="line_plan"),
    path("orders/<str:code>/confirm/", lines.confirm, name="order_confirm"),
    # the season
    path("season/", season.season, name="season"),
    path("lines/<int:pk>/move/", season.line_move, name="line_move"),
    # today, batches, places, standing plants, hand-over
    # places, hands, calendar, protocols and seed lots
]
