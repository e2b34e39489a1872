"""What every service of growing needs: the row it works on, locked, and ids that a resend makes again."""

from __future__ import annotations

import uuid
from collections.abc import Iterable

from django.db.models import Q

from ..models import Part


def locked(part: Part) -> Part:
    """The part's row, fresh and locked until the transaction ends."""
    return Part.objects.select_for_update(of=("self",)).select_related("batch").get(pk=part.pk)


def lock_grown_for(lines: Iterable[int], parts: Iterable[int] = ()) -> None:
    """Lock all parts of these lines, and these parts, before any of the lines is locked.

    Whoever records work locks the part, then its lines. In the other order the two would wait for each other.
    """
    wanted = Part.objects.filter(Q(allocations__line__in=list(lines)) | Q(pk__in=list(parts)))
    list(Part.objects.filter(pk__in=wanted.values("pk")).order_by("pk").select_for_update().values_list("pk"))


def derived_id(key: uuid.UUID | None, *names: object) -> uuid.UUID:
    """The id of one of several rows that a single submit makes: the same submit makes the same ids."""
    return uuid.uuid5(key, ":".join(map(str, names))) if key else uuid.uuid4()
