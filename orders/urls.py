"""Addresses of the order file."""

from django.contrib.auth.views import LogoutView
from django.urls import URLPattern, path

from .views import catalogue, nursery, orders, papers, session, users

urlpatterns: list[URLPattern] = [
    # orders
    path("orders/", orders.order_list, name="orders"),
    path("orders/<str:code>/", orders.order_detail, name="order"),
    path("lines/<int:pk>/end/", orders.line_end, name="line_end"),
    # customers, catalogue and the nursery itself
    path("sign-in/", session.SignIn.as_view(), name="sign_in"),
    path("sign-out/", LogoutView.as_view(), name="sign_out"),
    path("nursery/settings/", nursery.nursery_settings, name="nursery_settings"),
    path("nursery/users/", users.users, name="users"),
    path("nursery/users/new/", users.new_user, name="new_user"),
    path("nursery/users/<int:pk>/", users.edit_user, name="edit_user"),
    path("nursery/users/<int:pk>/token/", users.user_token, name="user_token"),
    *catalogue.CropPages().urls(),
    *catalogue.VarietyPages().urls(),
    *catalogue.ContainerPages().urls(),
    *catalogue.PricePages().urls(),
    *catalogue.CustomerPages().urls(),
    # papers and letters
    path("papers/", papers.papers, name="papers"),
    path("papers/<str:token>/", papers.paper, name="paper"),
    path("letters/", papers.letter_list, name="letters"),
    path("letters/told/", papers.letters_told, name="letters_told"),
    path("letters/<int:pk>/", papers.letter_detail, name="letter"),
    path("letters/<int:pk>/again/", papers.letter_retry, name="letter_retry"),
    path("letters/<int:pk>/send/", papers.letter_send, name="letter_send"),
    path("letters/<int:pk>/aside/", papers.letter_put_aside, name="letter_put_aside"),
    path("letters/<int:pk>/draft/", papers.letter_take_up, name="letter_take_up"),
    path("letters/<int:pk>/told/", papers.letter_tick, name="letter_tick"),
    path("letters/work/<int:pk>/again/", papers.job_retry, name="job_retry"),
    path("mailbox/", papers.mailbox, name="mailbox"),
    path("mailbox/<int:pk>/", papers.mailbox_message, name="mailbox_message"),
    path("mailbox/<int:pk>/html/", papers.mailbox_html, name="mailbox_html"),
    path("mailbox/<int:pk>/<int:number>/", papers.mailbox_attachment, name="mailbox_attachment"),
]
