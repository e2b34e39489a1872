"""How many letters, calls and pieces of work wait for a person: {% load letters %}{% letters_waiting as n %}."""

from __future__ import annotations

from django import template

from ..models import Job, Letter

register = template.Library()


@register.simple_tag
def letters_waiting() -> int:
    """Calls to make, drafts to read, letters that failed, and work of the service that failed."""
    waiting = (Letter.State.TO_CALL, Letter.State.DRAFT, Letter.State.FAILED)
    letters = Letter.objects.filter(state__in=waiting).count()
    return letters + Job.objects.filter(state=Job.State.FAILED).count()
