"""Ways out as a page offers them: what each changes, what it costs, and the button that takes it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from django.utils.text import get_text_list
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders import wording
from orders.models import Method, Nursery
from orders.templatetags.house import day as day_words

from .planning import terms
from .planning.joining import Joined
from .planning.ways_out import Extra, WayOut
from .services import ways
from .services.answering import LineAnswer
from .words import days_words, what_lacks


@dataclass(frozen=True, slots=True)
class Offer:
    """A way out. `action` is what the desk does to take it; `over` if only by promising over a conflict."""

    title: str
    why: str
    action: str = ""
    word: str = ""
    over: bool = False


def offers_of(number: int, answer: terms.Answer, today: date) -> Iterable[Offer]:
    """The pickups that fit, the nearest first."""
    found = [plan for plan in (answer.earlier, answer.later) if plan]
    for plan in sorted(found, key=lambda plan: abs(plan.pickup - answer.wish.pickup)):
        yield _other_day(number, answer.wish.pickup, plan.pickup, today)


def _other_day(number: int, asked: date, pickup: date, today: date) -> Offer:
    apart = (pickup - asked).days
    if apart > 0:
        why = ngettext(
            "%(n)s day later, everything else as asked", "%(n)s days later, everything else as asked", apart
        )
    else:
        why = ngettext(
            "%(n)s day earlier, everything else as asked", "%(n)s days earlier, everything else as asked", -apart
        )
    return Offer(
        _("Pick up on %(day)s") % {"day": day_words(pickup, today)},
        why % {"n": abs(apart)},
        f"take:{number - 1}/{pickup.isoformat()}",
        _("Take it"),
    )


def joined_by_number(outs: Iterable[ways.Out | None]) -> dict[int, Joined]:
    """By number of the line, from 1, the batches that lines of an order could join."""
    found = enumerate(outs, start=1)
    return {n: way.joins for n, out in found if out for way in out.ways if way.joins}


def offers_out(
    number: int,
    said: LineAnswer,
    out: ways.Out,
    today: date,
    nursery: Nursery,
    joining: Mapping[int, Joined] | None = None,
) -> Iterable[Offer]:
    """The ways out in their order, the cheapest first, each with what it costs.

    `joining` are the batches that lines of the order could join: all that do not fit are promised by one press.
    """
    for way in out.ways:
        offer = _OFFERS[way.kind](number, way, today, said)
        if way.joins:
            others = {n: joined for n, joined in (joining or {}).items() if n != number}
            offer = _with_others_joining(offer, way.joins, others)
        yield replace(offer, why=". ".join(filter(None, (offer.why, _cost_words(way.cost, nursery)))))


def _cost_words(cost: float, nursery: Nursery) -> str:
    """What work, room and seed cost more or less than as asked; nothing where they have no price."""
    amount = Decimal(str(round(abs(cost), 2)))
    if not amount:
        return ""
    words = _("%(sum)s more in work, room and seed") if cost > 0 else _("%(sum)s less in work, room and seed")
    return words % {"sum": wording.money(amount, nursery.currency)}


def _offer_day(number: int, way: WayOut, today: date, said: LineAnswer) -> Offer:
    return _other_day(number, said.line.pickup_asked, way.pickup, today)


def _offer_method(number: int, way: WayOut, _today: date, _said: LineAnswer) -> Offer:
    assert way.wish.recipe
    method = Method(way.wish.recipe.method)
    return Offer(
        _("Graft by %(method)s") % {"method": method.label.lower()},
        _("The same day, by another method"),
        f"method:{number - 1}/{method.value}",
        _("Take it"),
    )


def _offer_fewer(number: int, way: WayOut, _today: date, said: LineAnswer) -> Offer:
    left = said.line.quantity - way.wish.quantity
    return Offer(
        _("%(n)s plants on that day") % {"n": way.wish.quantity},
        _("%(left)s fewer than asked; those could be a line of another day") % {"left": left},
        f"fewer:{number - 1}/{way.wish.quantity}",
        _("Take it"),
    )


def _offer_moving(_number: int, way: WayOut, _today: date, _said: LineAnswer) -> Offer:
    labels = get_text_list([move.label for move in way.moves], _("and"))
    told = [move.label for move in way.moves if move.tells]
    said = [f"{move.label}: {move.words}" for move in way.moves]
    if told:
        said.append(_("To be told: %(names)s.") % {"names": get_text_list(told, _("and"))})
    else:
        said.append(_("Nobody has to be told."))
    return Offer(
        _("Move %(names)s to make room") % {"names": labels},
        " ".join(said).removesuffix("."),
        "moving:",
        _("Promise it so"),
    )


def _offer_joining(_number: int, way: WayOut, today: date, said: LineAnswer) -> Offer:
    """Which batch, when it is grafted then, and how it grows: what is sown of each side, and what is grafted."""
    assert way.joins
    joined, was, now = way.joins, way.joins.unsown.plan.parts[0], way.plan.parts[0]
    if now.graft_day:
        title = _("Join batch %(name)s, grafted %(day)s") % {
            "name": joined.name,
            "day": day_words(now.graft_day, today),
        }
    else:
        title = _("Join batch %(name)s") % {"name": joined.name}
    words = [_("%(what)s: %(before)s, then %(after)s") % change for change in _grows(was, now)]
    if now.graft_day != was.graft_day and was.graft_day:
        words.append(_("Grafted on %(day)s until now") % {"day": day_words(was.graft_day, today)})
    if joined.pickup != said.line.pickup_asked:
        words.append(_("Pickup on %(day)s") % {"day": day_words(joined.pickup, today)})
    words.append(_("Nobody else has to be told"))
    return Offer(title, ". ".join(words), f"joining:{_joined_name(joined)}", _("Promise it so"))


def _with_others_joining(offer: Offer, joined: Joined, others: Mapping[int, Joined]) -> Offer:
    """The same offer for all lines that could join a batch, by number: one press promises the whole order."""
    words = (_("Line %(n)s joins batch %(name)s") % {"n": n, "name": each.name} for n, each in others.items())
    names = dict.fromkeys(_joined_name(each) for each in (joined, *others.values()))
    return replace(offer, why=". ".join((offer.why, *words)), action=f"joining:{','.join(names)}")


def _joined_name(joined: Joined) -> str:
    return f"{joined.name}/{joined.revision}"


def _grows(was: terms.PartPlan, now: terms.PartPlan) -> Iterable[dict[str, object]]:
    yield {"what": _("Plants"), "before": was.plants, "after": now.plants}
    for what, before, after in (
        (_("Grafts"), was.sizing.grafts, now.sizing.grafts),
        (_("Seed trays"), _trays(was), _trays(now)),
    ):
        if before != after:
            yield {"what": what, "before": before, "after": after}


def _trays(part: terms.PartPlan) -> int:
    return sum(sowing.trays for sowing in part.sowings)


def _offer_more(_number: int, way: WayOut, _today: date, _said: LineAnswer) -> Offer:
    """Per place or people once: the most of it that is wanted, and from when to when."""
    wanted: dict[tuple[str, str], list[Extra]] = {}
    for extra in way.extra:
        wanted.setdefault((extra.conflict.resource, extra.conflict.key), []).append(extra)
    words = "; ".join(extra_words(each) for each in wanted.values())
    return Offer(_("Make more room"), words, f"more:{words}", _("I will arrange it"), over=True)


def extra_words(extras: Sequence[Extra]) -> str:
    """'Healing chamber: 2 more tray places, 18 to 20 March' of one place or of the same hands."""
    conflict = extras[0].conflict
    most = max(extra.amount for extra in extras)
    count = math.ceil(most - 1e-6)
    if conflict.resource == "hands":
        amount = _("%(n)s hours more") % {"n": f"{most:.1f}".rstrip("0").rstrip(".")}
    elif conflict.unit == "positions":
        amount = ngettext("%(n)s more tray place", "%(n)s more tray places", count) % {"n": count}
    else:
        amount = _("%(n)s m² more") % {"n": f"{most:.1f}"}
    days = days_words(min(e.conflict.first for e in extras), max(e.conflict.last for e in extras))
    return _("%(name)s: %(amount)s, %(days)s") % {"name": what_lacks(conflict), "amount": amount, "days": days}


_OFFERS = {
    "earlier": _offer_day,
    "later": _offer_day,
    "method": _offer_method,
    "fewer": _offer_fewer,
    "joining": _offer_joining,
    "moving": _offer_moving,
    "more": _offer_more,
}
