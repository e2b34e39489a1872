"""Addresses of the order file's API."""

from django.urls import path

from ..views import catalogue
from . import nursery, orders, papers, records

urlpatterns = [
    path("orders/<str:code>/", orders.OrderDetail.as_view(), name="api_order"),
    path("lines/<int:pk>/end/", orders.LineEnd.as_view(), name="api_line_end"),
    path("papers/", papers.Papers.as_view(), name="api_papers"),
    path("papers/<str:token>/", papers.Paper.as_view(), name="api_paper"),
    path("letters/", papers.Letters.as_view(), name="api_letters"),
    path("letters/told/", papers.LettersTold.as_view(), name="api_letters_told"),
    path("letters/<int:pk>/", papers.LetterDetail.as_view(), name="api_letter"),
    path("letters/<int:pk>/again/", papers.LetterRetry.as_view(), name="api_letter_retry"),
    path("letters/<int:pk>/send/", papers.LetterSend.as_view(), name="api_letter_send"),
    path("letters/<int:pk>/aside/", papers.LetterPutAside.as_view(), name="api_letter_put_aside"),
    path("letters/<int:pk>/draft/", papers.LetterTakeUp.as_view(), name="api_letter_take_up"),
    path("letters/<int:pk>/told/", papers.LetterTick.as_view(), name="api_letter_tick"),
    path("work/failed/", papers.FailedJobs.as_view(), name="api_failed_jobs"),
    path("work/failed/<int:pk>/again/", papers.JobRetry.as_view(), name="api_job_retry"),
    # the nursery's own data
    path("nursery/settings/", nursery.NurserySettings.as_view(), name="api_nursery_settings"),
    path("nursery/users/", nursery.Users.as_view(), name="api_users"),
    path("nursery/users/<int:pk>/", nursery.UserDetail.as_view(), name="api_edit_user"),
    path("nursery/users/<int:pk>/token/", nursery.UserToken.as_view(), name="api_user_token"),
    *records.addresses(
        catalogue.CropPages(),
        catalogue.VarietyPages(),
        catalogue.ContainerPages(),
        catalogue.PricePages(),
        catalogue.CustomerPages(),
    ),
]
