"""Addresses of the API of the desk, the season and the work."""

from django.urls import path

from . import desk, papers

urlpatterns = [
    path("promise/", desk.WhatIf.as_view(), name="api_desk_answer"),
    path("orders/", desk.Orders.as_view(), name="api_orders"),
    path("orders/<str:code>/confirm/", desk.Confirm.as_view(), name="api_order_confirm"),
    path("lines/<int:pk>/plan/", desk.LinePlan.as_view(), name="api_line_plan"),
    path("lines/<int:pk>/move/", desk.LineMove.as_view(), name="api_line_move"),
    path("season/", desk.SeasonLoad.as_view(), name="api_season"),
    path("day/<day:day>/sheet/", papers.DaySheet.as_view(), name="api_day_sheet_paper"),
    path("day/<day:day>/labels/", papers.DayLabels.as_view(), name="api_day_labels"),
    path("batches/<str:code>/labels/", papers.BatchLabels.as_view(), name="api_batch_labels"),
]
