"""Small filters for the pages of growing: what a form was sent with, by the work's number."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import template
from django.http import QueryDict
from django.utils.formats import number_format
from django.utils.translation import gettext_lazy

from ..models import ProtocolStage, Sowing, Stay, Work
from ..queries import shares
from ..queries.works import which_sowing

register = template.Library()

STAGES = {
    **dict(ProtocolStage.Kind.choices),
    "waiting": gettext_lazy("Ready, waiting"),
    "room": gettext_lazy("Room"),
}
SIDES = {"scion": gettext_lazy("Scion"), "rootstock": gettext_lazy("Rootstock")}


@register.filter
def of(values: Mapping[Any, Any] | None, key: Any) -> Any:
    """The value of a key that is itself a variable."""
    return (values or {}).get(key)


@register.filter
def stage_words(stay: Stay) -> str:
    """'Scion: germinating', 'Scion, sowing 2 of 3: germinating', 'Healing'."""
    kind = str(STAGES.get(stay.stage_kind, stay.stage_kind))
    words = [str(word) for word in (SIDES.get(stay.subject), which(stay)) if word]
    return f"{', '.join(words)}: {kind.lower()}" if words else kind


@register.filter
def which(what: Sowing | Stay | Work) -> str:
    """'sowing 2 of 3', where the side is sown several times."""
    return which_sowing(what.part, what.pk if isinstance(what, Sowing) else what.sowing_id)


@register.filter
def amount(value: float) -> str:
    """Tray places and square metres: '14', '2.5', never '2.50'."""
    return number_format(round(value, 1), 1 if round(value, 1) % 1 else 0)


@register.filter
def svg(value: float) -> str:
    """A number as attributes of a picture want it, whatever the language."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


@register.filter
def in_a_hundred(chance: float) -> int:
    return shares.in_a_hundred(chance)


@register.filter
def ticked(posted: QueryDict, pk: int) -> bool:
    return f"done-{pk}" in posted


@register.filter
def number(posted: QueryDict | str | None, pk: int) -> str:
    return posted.get(f"n-{pk}", "") if isinstance(posted, QueryDict) else ""
