"""Signing in and out."""

from __future__ import annotations

from django.contrib.auth.views import LoginView


class SignIn(LoginView):
    template_name = "orders/sign_in.html"
    redirect_authenticated_user = True
