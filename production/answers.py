"""What the desk says of an answer: the planner's terms as the words and pictures of a page."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from decimal import Decimal

from django.utils.formats import date_format
from django.utils.text import get_text_list
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders import money, wording
from orders.models import Nursery, OrderLine
from orders.prices import price_for
from orders.refusals import Refused
from orders.strand import Strand
from orders.templatetags.house import day as day_words
from orders.templatetags.house import hours as hours_words

from .line_costs import LineCost, cost_of_plan
from .offers import Offer, offers_of, offers_out
from .planning import terms
from .planning.joining import Joined
from .planning.promise import load_for
from .planning.tightest import tightest
from .services import ways
from .services.answering import LineAnswer
from .strands import strands_of
from .whys import Why, whys_of
from .words import conflict_words, room_unit


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
    reasons: tuple[Why, ...] = ()
    faults: tuple[Refused, ...] = field(default=())
    costs: tuple[Fact, ...] = ()  # for those who may see costs
    looking: bool = False  # no room at first sight; a closer look is to come


def card_of(
    number: int,
    said: LineAnswer,
    *,
    today: date,
    nursery: Nursery,
    season: terms.Season,
    out: ways.Out | None = None,
    beside: Sequence[terms.LinePlan] = (),
    joining: Mapping[int, Joined] | None = None,
    costs: bool = False,
    closely: bool = True,
) -> Card:
    """The card of one line; `number` counts from 1.

    `out` is what could be done where it does not fit, `beside` what would be promised with it, `joining` the
    batches that lines of the order could join, by number. With `costs`, what it costs and leaves too. Not
    `closely` a no is only a first look.
    """
    if said.faults:
        return Card(number, _("Line %(n)s cannot be planned yet.") % {"n": number}, False, faults=said.faults)
    assert said.answer is not None
    plan = said.answer.plan
    facts = facts_of(said.line, plan, today=today, nursery=nursery, season=season) if plan else ()
    if plan and said.fits:
        facts = [*facts, *_tightest(plan, season, beside)]
    card = card_of_answer(number, said.answer, today=today, season=season, facts=facts, closely=closely)
    if costs and plan:
        card = replace(card, costs=tuple(cost_facts(cost_of_plan(said.line, plan, nursery=nursery), nursery)))
    if out is None or not out.ways:
        return card
    offers = tuple(offers_out(number, said, out, today, nursery, joining))
    return replace(card, offers=offers, trouble=tuple(_in_the_way(said.answer, out)) or card.trouble)


def card_of_answer(
    number: int,
    answer: terms.Answer,
    *,
    today: date,
    season: terms.Season,
    facts: Iterable[Fact] = (),
    closely: bool = True,
) -> Card:
    """The card of what the planner says by itself, of a line that need not be an order's."""
    if answer.impossible:
        return replace(_impossible_card(number, answer, today), looking=not closely)
    assert answer.plan is not None
    looking = not (answer.fits or closely)
    title = _("Line %(n)s fits. Ready %(day)s.") if answer.fits else _("Line %(n)s does not fit on %(day)s.")
    if looking:
        title = _("Line %(n)s finds no room at first sight.")
    shown = min((part.ready for part in answer.plan.parts), default=answer.plan.pickup)
    return Card(
        number=number,
        title=title % {"n": number, "day": day_words(shown if answer.fits else answer.wish.pickup, today)},
        fits=answer.fits,
        strands=strands_of(answer.plan, today),
        facts=tuple(facts),
        uses=tuple(uses_of(answer.plan, season, today)),
        trouble=tuple(_trouble(answer, looking)),
        offers=tuple(offers_of(number, answer, today)),
        reasons=tuple(_whys(answer.plan)),
        looking=looking,
    )


def _whys(plan: terms.LinePlan) -> Iterable[Why]:
    kinds = {stay.stage: stay.stage_kind for stay in plan.stays}
    return whys_of(((each.what, each.day, each.why) for part in plan.parts for each in part.reasons), kinds)


def _in_the_way(answer: terms.Answer, out: ways.Out) -> Iterable[str]:
    """Only what no other way of planning it gets around."""
    yield from (conflict_sentence(each.conflict, answer.wish.key) for each in out.why.obstacles)
    if out.why.obstacles and not answer.earlier and not answer.later:
        yield _("No day within two months fits.")


def _trouble(answer: terms.Answer, looking: bool) -> Iterable[str]:
    yield from (conflict_sentence(conflict, answer.wish.key) for conflict in answer.conflicts)
    if not (answer.fits or looking or answer.earlier or answer.later):
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
        "who": ngettext("%(names)s asks most", "%(names)s ask most", len(others))
        % {"names": get_text_list(others, _("and"))},
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


def _tightest(plan: terms.LinePlan, season: terms.Season, beside: Sequence[terms.LinePlan]) -> Iterable[Fact]:
    """The place that is fullest while the plan stands there."""
    tight = tightest(load_for(season, [plan.wish]), plan, beside)
    if tight:
        unit = room_unit(tight.place.measure, tight.there)
        words = _("%(place)s: %(taken)s of %(there)s %(unit)s on the night of %(night)s") % {
            "place": tight.place.name,
            "taken": f"{tight.taken:.1f}".removesuffix(".0"),
            "there": f"{tight.there:g}",
            "unit": unit,
            "night": date_format(tight.night, "j F"),
        }
        yield Fact(_("Tightest"), (words,))


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


def cost_facts(cost: LineCost, nursery: Nursery) -> Iterable[Fact]:
    """What a line costs, by what, and what it leaves of its price."""

    def said(value: Decimal) -> str:
        return wording.money(value, nursery.currency)

    seed = said(cost.seed) if cost.seed_known else _("not known: a variety has no price of seed")
    yield Fact(_("Seed"), (seed,))
    yield Fact(_("Work"), (said(cost.work),))
    yield Fact(_("Room"), (said(cost.room),))
    yield Fact(_("Together"), (_("%(sum)s, %(each)s each") % {"sum": said(cost.total), "each": said(cost.each)},))
    if cost.margin_percent is not None:
        words = _("%(sum)s of %(price)s before tax (%(percent)s)")
        values = {
            "sum": said(cost.margin),
            "price": said(cost.price),
            "percent": wording.percent(cost.margin_percent),
        }
        yield Fact(_("Leaves"), (words % values,))


def uses_of(plan: terms.LinePlan, season: terms.Season, today: date) -> Iterable[Use]:
    """The most that the plan takes of each place on any night, and its hours by skill."""
    for place in season.places:
        nights = _load_by_night([stay for stay in plan.stays if stay.place == place.key])
        if not nights:
            continue
        most = max(nights.values())
        unit = room_unit(place.measure, most)
        yield Use(
            name=place.name,
            amount=f"{most:g} {unit}" if place.measure == "positions" else f"{most:.2f} {unit}",
            there=f"{place.capacity:g}",
            when=_nights_between(min(nights), max(nights)),
        )
    for skill, hours in sorted(_hours_by_skill(plan).items()):
        yield Use(name=skill.capitalize(), amount=hours_words(round(hours * 60)), there="", when="")


def _nights_between(first: date, last: date) -> str:
    """'7 Jan', '26 Nov to 1 Dec'."""
    if first == last:
        return date_format(first, "j M")
    return _("%(first)s to %(last)s") % {"first": date_format(first, "j M"), "last": date_format(last, "j M")}


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
