"""What every page knows: the nursery and its local date."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http import HttpRequest

from .models import Nursery


def nursery(request: HttpRequest) -> dict[str, Any]:
    current: Nursery = getattr(request, "nursery", None) or Nursery.current()
    return {
        "nursery": current,
        "today": current.today(),
        "embedded": settings.JOBS_EMBEDDED,
        "mailbox_shown": settings.EMAIL_BACKEND == "orders.mailbox.MailboxBackend",
        "demo": settings.DEMO,
    }
