"""Conflicts as the season page tells them: a sentence, its days, and who asks most. Reads only."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from urllib.parse import urlencode

from orders.models import OrderLine

from .. import bridge
from ..answers import conflict_sentence
from ..planning import terms
from ..planning.load import EASE, Load
from ..services.easing import MOVABLE
from .grid import hands_at
from .scope import Scope

MOST = 8  # conflicts told at once
CULPRITS = 5  # of one conflict; the rest stand in its box
DAYS = 14  # of one conflict, its first ones


@dataclass(frozen=True, slots=True)
class Culprit:
    """An order that asks for a place or hands in a conflict, and the line behind it."""

    label: str
    amount: str
    line: OrderLine | None

    @property
    def movable(self) -> bool:
        return self.line is not None and self.line.state in MOVABLE


@dataclass(frozen=True, slots=True)
class Day:
    day: date
    asked: str
    there: str
    over: bool


@dataclass(frozen=True, slots=True)
class Pinch:
    """A conflict with its days and with the orders that cause it, largest first; `more` orders are not named.

    `key` names it on the page; `box` opens the week and the place that it lies in, '' where one is there already;
    `what_if` is the change to try.
    """

    key: str
    resource: str
    sentence: str
    first: date
    last: date
    days: tuple[Day, ...]
    culprits: tuple[Culprit, ...]
    more: int
    box: str
    what_if: str


def pinches(load: Load, found: Sequence[terms.Conflict], scope: Scope) -> Iterable[Pinch]:
    named = [cause for conflict in found for cause in conflict.causes[:CULPRITS]]
    keys = bridge.lines_named({cause.owner for cause in named})
    lines = {
        bridge.key_of(line.pk): line
        for line in OrderLine.objects.filter(pk__in=keys).select_related("order__customer", "scion", "rootstock")
    }
    for conflict in found:
        yield Pinch(
            key=f"{conflict.resource}-{conflict.key}-{conflict.first.isoformat()}",
            resource=conflict.resource,
            sentence=conflict_sentence(conflict),
            first=conflict.first,
            last=conflict.last,
            days=tuple(_days_of(load, conflict)),
            culprits=tuple(
                Culprit(cause.label, _amount(cause.amount, conflict), lines.get(cause.owner))
                for cause in conflict.causes[:CULPRITS]
            ),
            more=max(len(conflict.causes) - CULPRITS, 0),
            box=_box(_at(load, conflict), conflict, scope),
            what_if=_what_if(conflict),
        )


def _what_if(conflict: terms.Conflict) -> str:
    """As much as is asked for, in the place's form."""
    if conflict.resource == "place":
        return urlencode({"place": conflict.key, "capacity": f"{conflict.peak:g}", "look": 1})
    return ""


def _box(at: str, conflict: terms.Conflict, scope: Scope) -> str:
    if (scope.view, scope.at) == ("week", at) and scope.first <= conflict.first <= scope.last:
        return ""
    return scope.query(view="week", day=conflict.first, at=at)


def _at(load: Load, conflict: terms.Conflict) -> str:
    if conflict.resource == "place":
        return f"place-{conflict.key}"
    return hands_at(load.sets[load.set_of(conflict)])


def _days_of(load: Load, conflict: terms.Conflict) -> Iterable[Day]:
    if conflict.resource == "place":
        row = load.row[conflict.key]
        asked, there = load.used[row], load.capacity[row]
    else:
        index = load.set_of(conflict)
        asked, there = load.asked[index], load.hours[index]
    begins = load.index(conflict.first)
    for at in range(begins, min(load.index(conflict.last) + 1, begins + DAYS)):
        yield Day(
            load.days[at],
            _amount(asked[at], conflict),
            _amount(there[at], conflict),
            bool(asked[at] > there[at] + EASE),
        )


def _amount(value: float, conflict: terms.Conflict) -> str:
    number = f"{float(value):.1f}".rstrip("0").rstrip(".")
    return f"{number} h" if conflict.resource == "hands" else number
