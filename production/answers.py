"""What the desk says of an answer: the planner's terms as the words and pictures of a page."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from decimal import Decimal

from django.utils.formats import date_format
from django.utils.text import get_text_list
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders import money, wording
from orders.models import Method, Nursery, OrderLine
from orders.prices import price_for
from orders.refusals import Refused
from orders.strand import Strand
from orders.templatetags.house import day as day_words
from orders.templatetags.house import hours as hours_words

from .planning import terms
from .planning.ways_out import Extra, WayOut
from .services import ways
from .services.promise import LineAnswer, conflict_words, days_words
from .strands import strands_of


@dataclass(frozen=True, slots=True)
class Fact:
    """One row of an answer: a word and what there is to say."""

    word: str
    says: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Use:
    """What a plan takes of one place or of one skill, at its most."""

    name: str
    amount: str
    there: str
    when: str


@dataclass(frozen=True, slots=True)
class Offer:
    """A way out. `action` is what the desk does to take it; without one it is for the grower to arrange."""

    title: str
    why: str
    action: str = ""
    word: str = ""


@dataclass(frozen=True, slots=True)
class Card:
    """All that the desk shows of one line."""

    number: int
    title: str
    fits: bool
    strands: tuple[Strand, ...] = ()
    facts: tuple[Fact, ...] = ()
    uses: tuple[Use, ...] = ()
    trouble: tuple[str, ...] = ()
    offers: tuple[Offer, ...] = ()
    reasons: tuple[terms.Reason, ...] = ()
    faults: tuple[Refused, ...] = field(default=())


def card_of(
    number: int,
    said: LineAnswer,
    *,
    today: date,
    nursery: Nursery,
    season: terms.Season,
    out: ways.Out | None = None,
) -> Card:
    """The card of one line; `number` counts from 1. `out` is what could be done where it does not fit."""
    if said.faults:
        return Card(number, _("Line %(n)s cannot be planned yet.") % {"n": number}, False, faults=said.faults)
    assert said.answer is not None
    plan = said.answer.plan
    facts = facts_of(said.line, plan, today=today, nursery=nursery, season=season) if plan else ()
    card = card_of_answer(number, said.answer, today=today, season=season, facts=facts)
    if out is None or not out.ways:
        return card
    offers = tuple(offers_out(number, said, out, today, nursery))
    return replace(card, offers=offers, trouble=tuple(_in_the_way(said.answer, out)) or card.trouble)


def card_of_answer(
    number: int, answer: terms.Answer, *, today: date, season: terms.Season, facts: Iterable[Fact] = ()
) -> Card:
    """The card of what the planner says by itself, of a line that need not be an order's."""
    if answer.impossible:
        return _impossible_card(number, answer, today)
    assert answer.plan is not None
    title = _("Line %(n)s fits. Ready %(day)s.") if answer.fits else _("Line %(n)s does not fit on %(day)s.")
    shown = min((part.ready for part in answer.plan.parts), default=answer.plan.pickup)
    return Card(
        number=number,
        title=title % {"n": number, "day": day_words(shown if answer.fits else answer.wish.pickup, today)},
        fits=answer.fits,
        strands=strands_of(answer.plan, today),
        facts=tuple(facts),
        uses=tuple(uses_of(answer.plan, season, today)),
        trouble=tuple(_trouble(answer)),
        offers=tuple(offers_of(number, answer, today)),
        reasons=tuple(reason for part in answer.plan.parts for reason in part.reasons),
    )


def _in_the_way(answer: terms.Answer, out: ways.Out) -> Iterable[str]:
    """Only what no other way of planning it gets around."""
    yield from (conflict_sentence(each.conflict, answer.wish.key) for each in out.why.obstacles)
    if out.why.obstacles and not answer.earlier and not answer.later:
        yield _("No day within two months fits.")


def _trouble(answer: terms.Answer) -> Iterable[str]:
    yield from (conflict_sentence(conflict, answer.wish.key) for conflict in answer.conflicts)
    if not answer.fits and not answer.earlier and not answer.later:
        yield _("No day within two months fits. Fewer plants, a split, or more room would help.")


def _impossible_card(number: int, answer: terms.Answer, today: date) -> Card:
    wrong = answer.impossible
    assert wrong is not None
    return Card(
        number=number,
        title=_("Line %(n)s cannot be ready on %(day)s.")
        % {"n": number, "day": day_words(answer.wish.pickup, today)},
        fits=False,
        trouble=(f"{wrong.reason} {wrong.mend}".strip(),),
        offers=tuple(offers_of(number, answer, today)),
    )


def conflict_sentence(conflict: terms.Conflict, own: str = "") -> str:
    """The conflict, and whose plants ask most besides our own."""
    others = [cause.label for cause in conflict.causes if cause.owner != own][:3]
    if not others:
        return conflict_words(conflict)
    return _("%(what)s %(who)s.") % {
        "what": conflict_words(conflict),
        "who": ngettext("%(names)s holds most", "%(names)s hold most", len(others))
        % {"names": get_text_list(others, _("and"))},
    }


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


def offers_out(number: int, said: LineAnswer, out: ways.Out, today: date, nursery: Nursery) -> Iterable[Offer]:
    """The ways out in their order, the cheapest first, each with what it costs."""
    for way in out.ways:
        offer = _OFFERS[way.kind](number, way, today, said)
        yield replace(offer, why=". ".join(filter(None, (offer.why, _cost_words(way.cost, nursery)))))


def _cost_words(cost: float, nursery: Nursery) -> str:
    """What work and room cost more or less than they would as asked; nothing where they have no price."""
    amount = Decimal(str(round(abs(cost), 2)))
    if not amount:
        return ""
    words = _("%(sum)s more in work and room") if cost > 0 else _("%(sum)s less in work and room")
    return words % {"sum": wording.money(amount, nursery.currency)}


def _offer_day(number: int, way: WayOut, today: date, said: LineAnswer) -> Offer:
    return _other_day(number, said.line.pickup_asked, way.plan.pickup, today)


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


def _offer_more(_number: int, way: WayOut, _today: date, _said: LineAnswer) -> Offer:
    """Per place or people once: the most of it that is wanted, and from when to when."""
    wanted: dict[tuple[str, str], list[Extra]] = {}
    for extra in way.extra:
        wanted.setdefault((extra.conflict.resource, extra.conflict.key), []).append(extra)
    return Offer(_("Make more room"), "; ".join(extra_words(each) for each in wanted.values()))


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
    return _("%(name)s: %(amount)s, %(days)s") % {"name": conflict.name, "amount": amount, "days": days}


_OFFERS = {
    "earlier": _offer_day,
    "later": _offer_day,
    "method": _offer_method,
    "fewer": _offer_fewer,
    "moving": _offer_moving,
    "more": _offer_more,
}


def facts_of(
    line: OrderLine, plan: terms.LinePlan, *, today: date, nursery: Nursery, season: terms.Season
) -> Iterable[Fact]:
    if plan.sowings:
        yield Fact(_("Sow"), tuple(_sowing_words(line, sowing, today) for sowing in plan.sowings))
    grafts = [work for work in plan.works if work.kind == terms.GRAFT]
    if grafts:
        yield Fact(_("Graft"), tuple(_graft_words(work, today) for work in grafts))
    healing = [stay for stay in plan.stays if stay.stage_kind == terms.HEAL]
    if healing:
        yield Fact(_("Healing"), tuple(_nights_words(stay) for stay in healing))
    if line.kind != OrderLine.Kind.ROOM:
        ready = sorted({part.ready for part in plan.parts})
        yield Fact(_("Ready"), tuple(day_words(day, today) for day in ready))
        chance = round(100 * min((part.sizing.chance for part in plan.parts), default=0))
        yield Fact(
            _("Chance"),
            (_("%(n)s in 100 that all %(q)s can be handed over") % {"n": min(chance, 99), "q": line.quantity},),
        )
    yield Fact(_("Pickup"), (_pickup_words(plan, today),))
    price = line.unit_price or price_for(line)
    if price and not (line.order_id and line.order.own_crop):
        yield Fact(_("Price"), (_price_words(line.quantity, price, nursery),))


def _sowing_words(line: OrderLine, sowing: terms.SowingPlan, today: date) -> str:
    variety = line.rootstock if sowing.subject == "rootstock" else line.scion
    return _("%(name)s on %(day)s, %(trays)s, %(seeds)s seeds") % {
        "name": variety,
        "day": day_words(sowing.day, today),
        "trays": ngettext("%(n)s tray", "%(n)s trays", sowing.trays) % {"n": sowing.trays},
        "seeds": sowing.seeds,
    }


def _graft_words(work: terms.WorkPlan, today: date) -> str:
    return _("%(day)s, %(n)s grafts, %(time)s") % {
        "day": day_words(work.day, today),
        "n": work.plants,
        "time": hours_words(round(work.total_hours * 60)),
    }


def _nights_words(stay: terms.StayPlan) -> str:
    last = stay.leaves - timedelta(days=1)
    trays = ngettext("%(n)s tray", "%(n)s trays", stay.containers) % {"n": stay.containers}
    if last == stay.first:
        return _("night of %(first)s, %(trays)s") % {"first": date_format(last, "j F"), "trays": trays}
    same = (stay.first.year, stay.first.month) == (last.year, last.month)
    first = str(stay.first.day) if same else date_format(stay.first, "j F")
    return _("nights of %(first)s to %(last)s, %(trays)s") % {
        "first": first,
        "last": date_format(last, "j F"),
        "trays": trays,
    }


def _pickup_words(plan: terms.LinePlan, today: date) -> str:
    last = plan.pickup + timedelta(days=max(plan.wish.collection, 1) - 1)
    if last == plan.pickup:
        return day_words(plan.pickup, today)
    return _("%(first)s to %(last)s") % {"first": day_words(plan.pickup, today), "last": day_words(last, today)}


def _price_words(quantity: int, price: Decimal, nursery: Nursery) -> str:
    total = wording.money(money.line_amount(quantity, price), nursery.currency)
    if nursery.prices_include_tax:
        return _("%(total)s with tax") % {"total": total}
    return _("%(total)s before tax") % {"total": total}


def uses_of(plan: terms.LinePlan, season: terms.Season, today: date) -> Iterable[Use]:
    """The most that the plan takes of each place on any night, and its hours by skill."""
    for place in season.places:
        nights = _load_by_night([stay for stay in plan.stays if stay.place == place.key])
        if not nights:
            continue
        most = max(nights.values())
        unit = _("tray places") if place.measure == "positions" else _("m²")
        yield Use(
            name=place.name,
            amount=f"{most:g} {unit}" if place.measure == "positions" else f"{most:.2f} {unit}",
            there=f"{place.capacity:g}",
            when=_("%(first)s to %(last)s")
            % {"first": date_format(min(nights), "j M"), "last": date_format(max(nights), "j M")},
        )
    for skill, hours in sorted(_hours_by_skill(plan).items()):
        yield Use(name=skill.capitalize(), amount=hours_words(round(hours * 60)), there="", when="")


def _load_by_night(stays: Iterable[terms.StayPlan]) -> dict[date, float]:
    nights: dict[date, float] = {}
    for stay in stays:
        for number in range(stay.nights):
            night = stay.first + timedelta(days=number)
            nights[night] = nights.get(night, 0.0) + stay.load
    return nights


def _hours_by_skill(plan: terms.LinePlan) -> dict[str, float]:
    found: dict[str, float] = {}
    for work in plan.works:
        for skill, hours in work.hours:
            found[skill] = found.get(skill, 0.0) + hours
    return found
