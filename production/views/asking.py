"""What the views of growing share: a refusal put where its field is, and ids from forms."""

from __future__ import annotations

import uuid

from django import forms

from orders.refusals import ManyRefused, Refused
from orders.states import MoveRefused


def put_on(form: forms.Form, refusal: Refused | MoveRefused) -> None:
    """Say each refusal beside its field; what has no field of its own stands above the form."""
    each = refusal.refusals if isinstance(refusal, ManyRefused) else [refusal]
    for one in each:
        field = getattr(one, "field", "")
        form.add_error(field if field in form.fields else None, str(one))


def key_from(value: str | None) -> uuid.UUID | None:
    try:
        return uuid.UUID(value or "")
    except ValueError:
        return None
