"""Why each date of a plan is what it is, each reason under the name of the step that it is about."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext_lazy

from .models import ProtocolStage

STEPS = {
    "sow": gettext_lazy("Sow"),
    "sow scion": gettext_lazy("Sow the scion"),
    "sow rootstock": gettext_lazy("Sow the rootstock"),
    "hold plain": gettext_lazy("Hold cold"),
    "hold scion": gettext_lazy("Hold the scion cold"),
    "hold rootstock": gettext_lazy("Hold the rootstock cold"),
    "graft": gettext_lazy("Graft"),
    "ready": gettext_lazy("Ready"),
    "pickup": gettext_lazy("Pickup"),
    "collection": gettext_lazy("Collected by"),
}
STAGES = dict(ProtocolStage.Kind.choices)


@dataclass(frozen=True, slots=True)
class Why:
    """'Sow the scion', a day, and why on that day."""

    step: str
    day: date
    why: str


def whys_of(reasons: Iterable[tuple[str, date, str]], kinds: Mapping[str, str]) -> Iterator[Why]:
    """`reasons` as (what, day, why) of a plan; `kinds` says of each of its stages which kind it is."""
    for what, day, why in reasons:
        yield Why(str(STEPS.get(what) or STAGES.get(kinds.get(what, "")) or what), day, why)
