"""Small template tags that every page uses: the way to a section, words for days, the number stepper."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import template
from django.urls import NoReverseMatch, resolve, reverse
from django.utils.formats import date_format
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

register = template.Library()


@register.simple_tag(takes_context=True)
def way_to(context: template.Context, name: str, word: str, *args: Any, only: bool = False) -> SafeString | str:
    """A link of a navigation, marked when we stand in it; nothing where this user may open no such page.

    We stand in it when the page sets `section` (or `shelf`) to the name, or when its address begins ours;
    with `only`, when it is ours, and a section that it only begins does not count.
    """
    try:
        url = reverse(name, args=args)
    except NoReverseMatch:
        return ""
    if not _may_open(context, url):
        return ""
    chosen = context.get("shelf") or context.get("section")
    stands_in = [context.get("shelf")] if only else [context.get("section"), context.get("shelf")]
    here = name in stands_in if chosen else _begins(context, url, only)
    current = SafeString(' aria-current="page"') if here else ""
    return format_html('<a href="{}"{}>{}</a>', url, current, word)


def _may_open(context: template.Context, url: str) -> bool:
    """Whether the page lets this user in; it says itself what it needs (orders/access.py)."""
    codes, user = getattr(resolve(url).func, "needs", ()), context.get("user")
    return not codes or (user is not None and user.has_perms(codes))


def _begins(context: template.Context, url: str, only: bool) -> bool:
    request = context.get("request")
    path = request.path if request is not None else ""
    return path == url or (not only and url != "/" and path.startswith(url))


@register.filter
def day(value: date | None, today: date | None = None) -> str:
    """'Tue 21 April'; with another year than today's, 'Tue 21 April 2027'."""
    if value is None:
        return ""
    form = "D j F" if today is None or value.year == today.year else "D j F Y"
    return date_format(value, form)


@register.filter
def full_day(value: date | None) -> str:
    """'Thursday 12 March', as at the head of the page."""
    return date_format(value, "l j F") if value else ""


@register.filter
def near_day(value: date | None, today: date | None) -> str:
    """'today', 'tomorrow', 'yesterday', else as `day`."""
    if value is None or today is None:
        return day(value)
    words = {0: _("today"), 1: _("tomorrow"), -1: _("yesterday")}
    return words.get((value - today).days) or day(value, today)


@register.filter
def hours(minutes: float | None) -> str:
    """Minutes as people say them: 130 -> '2 h 10 min'."""
    if minutes is None:
        return ""
    whole, rest = divmod(round(minutes), 60)
    if not whole:
        return _("{minutes} min").format(minutes=rest)
    if not rest:
        return _("{hours} h").format(hours=whole)
    return _("{hours} h {minutes} min").format(hours=whole, minutes=rest)


@register.inclusion_tag("_parts/status.html")
def status(state: str, word: str = "") -> dict[str, str]:
    """A status word; `state` is its code, 'let_go' or 'paid-in-part' alike."""
    code = str(state).replace("_", "-")
    return {"code": code, "word": word or code.replace("-", " ")}
