"""Words of a levelling on its page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django import template
from django.utils.text import get_text_list
from django.utils.translation import gettext as _

from ..models import SeasonLevelling
from ..queries import levelled

register = template.Library()


@register.filter
def cost_words(cost: Sequence[int]) -> str:
    return levelled.cost_words(cost) if cost else ""


@register.filter
def outcome(run: SeasonLevelling) -> str:
    return levelled.outcome_words(run)


@register.filter
def needed(move: Mapping[str, Any], moves: Sequence[Mapping[str, Any]]) -> str:
    """The labels of the other moves that a move needs."""
    labels = {each["key"]: each["label"] for each in moves}
    return str(get_text_list([labels.get(key, key) for key in move["needs"]], _("and")))
