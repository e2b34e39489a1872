"""Words of the season page: its zooms, and the days that are shown."""

from __future__ import annotations

from datetime import date

from django import template
from django.utils.translation import gettext as _

from orders.templatetags.house import day as day_words

from ..season.scope import Scope, View
from ..sheet import Box
from .sheets import figure

register = template.Library()


@register.filter
def view_word(view: View) -> str:
    return {"year": _("Year"), "weeks": _("Weeks"), "week": _("Week"), "day": _("Day")}[view]


@register.filter
def span_words(scope: Scope, today: date) -> str:
    """'Mon 15 March to Sun 21 March'; of a day, that day."""
    first = day_words(scope.first, today)
    if scope.view == "day":
        return first
    return _("%(first)s to %(last)s") % {"first": first, "last": day_words(scope.last, today)}


@register.filter
def everywhere(scope: Scope) -> str:
    """The same days of all places and hands."""
    return scope.query(day=scope.first, at="")


@register.filter
def box_words(box: Box) -> str:
    """'14 of 12'."""
    return _("%(n)s of %(of)s") % {"n": figure(box.load), "of": figure(box.capacity)}
