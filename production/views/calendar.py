"""A user's own calendar: the page of its private link, and the file behind it."""

from __future__ import annotations

import hashlib

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, HttpResponseBase, HttpResponseNotFound
from django.shortcuts import redirect, render
from django.utils import translation
from django.utils.cache import get_conditional_response
from django.utils.http import quote_etag
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from orders.access import needs, nursery_of, user_of

from ..calendar_feed import calendar_of
from ..services import calendar_links


@needs("production.see_work")
@require_http_methods(["GET", "POST"])
def my_calendar(request: HttpRequest) -> HttpResponse:
    """The link of whoever is signed in; posting makes a new one or takes it back."""
    user = user_of(request)
    if request.method == "POST":
        if request.POST.get("do") == "drop":
            calendar_links.drop(user=user)
            messages.success(request, _("The link is taken back; it leads nowhere now."))
        else:
            calendar_links.make(user=user)
            messages.success(request, _("A new link is made; an older one leads nowhere now."))
        return redirect("my_calendar")
    link = calendar_links.link_of(user)
    context = {
        "link": link,
        "address": calendar_links.address_of(link) if link else "",
        "sees_orders": user.has_perm("orders.see_orders"),
    }
    answer = render(request, "production/my_calendar.html", context)
    answer["Cache-Control"] = "private, no-store"
    return answer


@login_not_required
@require_safe
def calendar_feed(request: HttpRequest, token: str) -> HttpResponseBase:
    """The calendar of the user whose link this is, for a program that holds nothing but the link."""
    link = calendar_links.opened(token)
    if link is None:
        return HttpResponseNotFound(content_type="text/plain")  # the same to everybody, and nothing else
    nursery = nursery_of(request)
    with translation.override(link.user.language or nursery.language):
        told = calendar_links.told_by(link, today=nursery.today())
        content = calendar_of(told, name=nursery.name, site=str(settings.SITE_URL))
    answer = HttpResponse(content, content_type="text/calendar; charset=utf-8")
    etag = quote_etag(hashlib.sha256(content).hexdigest()[:32])
    answer["ETag"] = etag
    answer["Cache-Control"] = "private, max-age=300"
    answer["X-Robots-Tag"] = "noindex"
    return get_conditional_response(request, etag=etag, response=answer) or answer
