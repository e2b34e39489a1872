"""What every service of growing needs: the row it works on, locked, and ids that a resend makes again."""

from __future__ import annotations

import uuid

from ..models import Part


def locked(part: Part) -> Part:
    """The part's row, fresh and locked until the transaction ends."""
    return Part.objects.select_for_update(of=("self",)).select_related("batch").get(pk=part.pk)


def derived_id(key: uuid.UUID | None, *names: object) -> uuid.UUID:
    """The id of one of several rows that a single submit makes: the same submit makes the same ids."""
    return uuid.uuid5(key, ":".join(map(str, names))) if key else uuid.uuid4()
