"""All addresses of the service."""

from django.contrib import admin
from django.urls import include, path

urlpatterns = [
    path("", include("orders.urls")),
    path("", include("production.urls")),
    path("admin/", admin.site.urls),
]
