"""All addresses of the service."""

from django.contrib import admin
from django.urls import include, path
from drf_spectacular.views import SpectacularAPIView

urlpatterns = [
    path("", include("orders.urls")),
    path("", include("production.urls")),
    path("", include("invoicing.urls")),
    path("api/", include("orders.api.urls")),
    path("api/", include("production.api.urls")),
    path("api/schema/", SpectacularAPIView.as_view(), name="api_schema"),
    path("admin/", admin.site.urls),
]
