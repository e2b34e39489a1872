"""All addresses of the service."""

from django.contrib import admin
from django.urls import include, path
from drf_spectacular.views import SpectacularAPIView

from orders.api.base import Nowhere

from .pages import customer, first_evening, glance, glance_api, nursery

urlpatterns = [
    path("", include("orders.urls")),
    path("", include("production.urls")),
    path("", include("invoicing.urls")),
    path("glance/", glance.glance, name="glance"),
    path("nursery/", nursery.overview, name="nursery"),
    path("first-evening/", first_evening.begin, name="first_evening"),
    path("first-evening/account/", first_evening.account, name="first_evening_account"),
    path("first-evening/done/", first_evening.done, name="first_evening_done"),
    path("first-evening/<slug:name>/", first_evening.step, name="first_evening_step"),
    path("o/<str:token>/", customer.customer_order, name="customer_order"),
    path("o/<str:token>/papers/<str:paper>/", customer.customer_paper, name="customer_paper"),
    path("api/", include("orders.api.urls")),
    path("api/", include("production.api.urls")),
    path("api/", include("invoicing.api.urls")),
    path("api/glance/", glance_api.Glance.as_view(), name="api_glance"),
    path("api/schema/", SpectacularAPIView.as_view(), name="api_schema"),
    path("api/<path:rest>", Nowhere.as_view(), name="api_nowhere"),
    path("admin/", admin.site.urls),
]
