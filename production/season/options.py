"""Ways out of a conflict as the season page offers them: what to try, and in which pieces."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.translation import gettext as _

from orders.models import Nursery, OrderLine
from orders.templatetags.house import day as day_words

from ..offers import offers_out
from ..planning import terms
from ..planning.ways_out import WayOut
from ..services.easing import Easing

Pieces = tuple[tuple[int, date], ...]
WEEK = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class Option:
    """A way out: `pieces` are what the line would be handed over in, or `url` is where it is arranged."""

    title: str
    why: str
    pieces: Pieces = ()
    url: str = ""
    word: str = ""


def options_of(easing: Easing, *, today: date, nursery: Nursery) -> Iterable[Option]:
    """The ways out of one line, the one that nobody has to be told of first."""
    line, answer = easing.said.line, easing.said.answer
    if answer is None or answer.impossible:
        return
    if answer.fits and answer.plan:
        yield _elsewhere(line, answer.plan, today)
    offers = offers_out(1, easing.said, easing.out, today, nursery)
    for way, offer in zip(easing.out.ways, offers, strict=True):
        if way.kind in ("earlier", "later") and way.plan:
            yield Option(offer.title, offer.why, ((line.quantity, way.plan.pickup),))
        elif way.kind == "fewer":
            yield Option(_split_words(way, line), offer.why, _split(way, line, answer))
        elif way.kind == "moving":
            yield Option(offer.title, offer.why, url=reverse("season_level"), word=_("Level the season"))
        elif way.kind == "more":
            yield from _more(way, offer.why)


def _elsewhere(line: OrderLine, plan: terms.LinePlan, today: date) -> Option:
    if plan.pickup == line.pickup:
        return Option(
            _("Plan it anew, with the same pickup"),
            _("It finds room on other days before its pickup; the customer need not be told."),
            ((line.quantity, plan.pickup),),
        )
    return Option(
        _("Pick up on %(day)s") % {"day": day_words(plan.pickup, today)},
        _("Inside the days that were agreed; the customer gets a new confirmation."),
        ((line.quantity, plan.pickup),),
    )


def _split_words(way: WayOut, line: OrderLine) -> str:
    left = line.quantity - way.wish.quantity
    return _("Split it: %(n)s as promised, %(left)s on another day") % {"n": way.wish.quantity, "left": left}


def _split(way: WayOut, line: OrderLine, answer: terms.Answer) -> Pieces:
    """As many as fit on the day, the rest on the nearest day on which all of them would."""
    pickup = line.pickup or line.pickup_asked
    other = next((plan.pickup for plan in (answer.later, answer.earlier) if plan), pickup + WEEK)
    return (way.wish.quantity, pickup), (line.quantity - way.wish.quantity, other)


def _more(way: WayOut, why: str) -> Iterable[Option]:
    """More of each place that is short, tried as a what-if; hours are the people's, and changed there."""
    for extra in way.extra:
        conflict = extra.conflict
        asked = {"day": conflict.first.isoformat()}
        if conflict.resource == "place":
            asked |= {"place": conflict.key, "capacity": f"{conflict.there + extra.amount:g}", "look": "1"}
        yield Option(
            _("Make more room: %(name)s") % {"name": conflict.name},
            why,
            url=f"{reverse('season_what_if')}?{urlencode(asked)}",
            word=_("Try it"),
        )
