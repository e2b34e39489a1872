"""The private link to a user's calendar: made, replaced, taken back; and what is told through it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import astuple
from datetime import date, datetime

from django.conf import settings
from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from orders import history
from orders.models import User

from ..calendar_feed import Told
from ..models import CalendarLink
from ..queries.calendar import Entry, entries_for


def link_of(user: User) -> CalendarLink | None:
    return CalendarLink.objects.filter(user=user).first()


def address_of(link: CalendarLink) -> str:
    """The whole address, as a calendar program takes it."""
    return str(settings.SITE_URL).rstrip("/") + reverse("calendar_feed", args=[link.token])


def make(*, user: User) -> CalendarLink:
    """A new link of the user's own; an older one leads nowhere from now on."""
    with transaction.atomic():
        CalendarLink.objects.filter(user=user).delete()
        link = CalendarLink.objects.create(user=user)
        text = _("A private link to their calendar was made.")
        history.record(by=user, what="calendar link made", subject=user, code=user.username, text=text)
    return link


def drop(*, user: User) -> None:
    """Take the link back; nothing happens if there is none."""
    with transaction.atomic():
        if CalendarLink.objects.filter(user=user).delete()[0]:
            text = _("The private link to their calendar was taken back.")
            history.record(by=user, what="calendar link dropped", subject=user, code=user.username, text=text)


def opened(token: str) -> CalendarLink | None:
    """The link of that token, if its user may still sign in."""
    return CalendarLink.objects.select_related("user").filter(token=token, user__is_active=True).first()


def told_by(link: CalendarLink, *, today: date) -> list[Told]:
    """The user's entries, each with how often it changed since this link first told it. Keeps what it tells."""
    entries = entries_for(link.user, today=today)
    told, now = dict(link.told), timezone.now().replace(microsecond=0)
    found = [_told(entry, told.get(entry.uid), now) for entry in entries]
    kept = {each.entry.uid: [_print(each.entry), each.sequence, each.changed.isoformat()] for each in found}
    if kept != {uid: told[uid] for uid in kept if uid in told}:
        # What is gone is kept too: should it come back, its sequence must not begin anew.
        CalendarLink.objects.filter(pk=link.pk).update(told=_recent(told | kept, today))
    return found


def _told(entry: Entry, before: Sequence[object] | None, now: datetime) -> Told:
    if before is None:
        return Told(entry, 0, now)
    fingerprint, sequence, changed = before
    if fingerprint == _print(entry):
        return Told(entry, int(str(sequence)), datetime.fromisoformat(str(changed)))
    return Told(entry, int(str(sequence)) + 1, now)


def _print(entry: Entry) -> str:
    return hashlib.sha256(json.dumps(astuple(entry), default=str).encode()).hexdigest()[:16]


def _recent(told: dict[str, list[object]], today: date) -> dict[str, list[object]]:
    """Without work of days gone by, which never comes back."""
    first = f"work-{today.isoformat()}"
    return {uid: said for uid, said in told.items() if not uid.startswith("work-") or uid >= first}
