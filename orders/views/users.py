"""Who signs in: the list, one person, their token."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe
from rest_framework.authtoken.models import Token

from .. import accounts, exports, history
from ..access import EDIT_NURSERY, needs, user_of
from ..forms.accounts import NewUserForm, UserForm, add_refusal
from ..models import User
from ..refusals import Refused
from ..tables.writing import file_asked

SHELF = {"section": "nursery", "shelf": "users"}


@needs(EDIT_NURSERY)
@require_safe
def users(request: HttpRequest) -> HttpResponseBase:
    found = User.objects.prefetch_related("groups").order_by("-is_active", "username")
    with_token = set(Token.objects.values_list("user_id", flat=True))
    if file_asked(request):
        return exports.users_file(with_token).answer(found)
    rows = [{"user": user, "role": accounts.role_of(user), "token": user.pk in with_token} for user in found]
    return render(request, "orders/nursery/users.html", SHELF | {"rows": rows})


@needs(EDIT_NURSERY)
@require_http_methods(["GET", "POST"])
def new_user(request: HttpRequest) -> HttpResponse:
    form = NewUserForm(request.POST or None)
    if form.is_valid():
        try:
            user = accounts.make_user(by=user_of(request), **form.cleaned_data)
        except Refused as refusal:
            add_refusal(form, refusal)
        else:
            messages.success(request, _("%(name)s may sign in now.") % {"name": user.shown_name})
            return redirect("users")
    status = 422 if form.errors else 200
    return render(request, "orders/nursery/user.html", SHELF | {"form": form, "new": True}, status=status)


@needs(EDIT_NURSERY)
@require_http_methods(["GET", "POST"])
def edit_user(request: HttpRequest, pk: int) -> HttpResponse:
    user = get_object_or_404(User, pk=pk)
    form = UserForm(request.POST or None, initial=UserForm.initial_of(user))
    if form.is_valid():
        try:
            accounts.change_user(user=user, by=user_of(request), **form.cleaned_data)
        except Refused as refusal:
            add_refusal(form, refusal)
        else:
            messages.success(request, _("%(name)s is saved.") % {"name": user.username})
            return redirect("users")
    token = Token.objects.filter(user=user).first()
    context = SHELF | {"form": form, "who": user, "token": token, "history": history.of(user)[:20]}
    return render(request, "orders/nursery/user.html", context, status=422 if form.errors else 200)


@needs(EDIT_NURSERY)
@require_POST
def user_token(request: HttpRequest, pk: int) -> HttpResponse:
    """Make a token for the user's programs, or take it away."""
    user = get_object_or_404(User, pk=pk)
    try:
        if request.POST.get("do") == "drop":
            accounts.drop_token(user=user, by=user_of(request))
            messages.success(request, _("The token is taken away; programs that used it are shut out."))
        else:
            accounts.make_token(user=user, by=user_of(request))
            messages.success(request, _("A new token is made; an older one no longer works."))
    except Refused as refusal:
        messages.error(request, str(refusal))
    return redirect("edit_user", pk=pk)
