"""Addresses of the order file's API."""

from django.urls import path

from . import orders

urlpatterns = [
    path("orders/<str:code>/", orders.OrderDetail.as_view(), name="api_order"),
    path("lines/<int:pk>/end/", orders.LineEnd.as_view(), name="api_line_end"),
]
