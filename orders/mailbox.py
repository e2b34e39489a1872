"""The mail backend of an embedded nursery: what would go over the wire is kept, and a page shows it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend

from .models import MailboxMessage


class MailboxBackend(BaseEmailBackend):
    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        """Keep each message with all its parts; how many there were."""
        for message in email_messages:
            MailboxMessage.objects.create(
                to=", ".join(message.recipients())[:400],
                subject=str(message.subject)[:300],
                raw=_wire_form(message),
            )
        return len(email_messages)


def _wire_form(message: EmailMessage) -> bytes:
    wire: Any = message.message()
    return bytes(wire.as_bytes(linesep="\r\n"))
