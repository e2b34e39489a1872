"""Seed to buy: what the sowings to come need of ours, less the lots in hand and those on the way. Reads only."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders import states
from orders.days import day_words
from orders.models import OrderLine, Variety

from ..bridge import LIVING
from ..line_costs import ToBuy, seed_to_buy
from ..models import Allocation, SeedLot, Sowing
from ..planning.calendar import week_of
from ..queries.seed import stock
from .charts import Chart, Lane, weeks_from


@dataclass(frozen=True, slots=True)
class Need:
    """Seed of one variety that must be here on `day` to be sown, and where it comes from."""

    variety: Variety
    day: date
    seeds: int
    in_hand: int
    coming: int

    @property
    def to_buy(self) -> int:
        return self.seeds - self.in_hand - self.coming


@dataclass(frozen=True, slots=True)
class Buying:
    """What to buy of one variety, all in all, and the first day on which some of it must be here."""

    variety: Variety
    what: ToBuy
    by: date


def seed_needs(today: date) -> list[Need]:
    """By variety, then by day. Customers' own seed is theirs to bring; what is overdue is needed today.

    Seed goes to the earliest sowing first; a lot on the way serves from the day on which it is expected.
    """
    rows = _of_ours().order_by("variety__name", "variety_id", "day").values_list("variety_id", "day", "seeds")
    wanted = {key: list(group) for key, group in groupby(rows, key=lambda row: row[0])}
    varieties = Variety.objects.in_bulk(wanted)
    lots: dict[int, list[SeedLot]] = {}
    for lot in stock(wanted):
        if lot.customer_id is None:
            lots.setdefault(lot.variety_id, []).append(lot)
    found: list[Need] = []
    for key, sowings in wanted.items():
        asked = [(max(day, today), seeds) for _key, day, seeds in sowings]
        found += _served(varieties[key], asked, lots.get(key, ()), today)
    return found


def _of_ours() -> QuerySet[Sowing]:
    """Sowings to come; not where a customer brings the seed, nor while their lines are only held."""
    meant = Allocation.objects.values("part")
    brought_scion = meant.filter(line__scion_seed=OrderLine.Seed.CUSTOMERS)
    brought_rootstock = meant.filter(line__rootstock_seed=OrderLine.Seed.CUSTOMERS)
    root = Q(subject=Sowing.Subject.ROOTSTOCK)
    brought = (root & Q(part__in=brought_rootstock)) | (~root & Q(part__in=brought_scion))
    held, others = meant.filter(line__state=states.HELD), meant.exclude(line__state=states.HELD)
    to_come = Sowing.objects.filter(sown_on__isnull=True, part__state__in=LIVING)
    return to_come.exclude(brought).exclude(Q(part__in=held) & ~Q(part__in=others))


def _served(
    variety: Variety, wanted: Sequence[tuple[date, int]], lots: Sequence[SeedLot], today: date
) -> Iterator[Need]:
    """The sowings of one variety, day by day, each served from what the earlier ones left."""
    in_hand = sum(_left(lot) for lot in lots if lot.received_on and lot.received_on <= today)
    coming = sorted((day, _left(lot)) for lot in lots if (day := _arrives(lot, today)))
    for day, group in groupby(sorted(wanted, key=lambda each: each[0]), key=lambda each: each[0]):
        seeds = sum(each[1] for each in group)
        taken = min(seeds, in_hand)
        in_hand -= taken
        arrived = 0
        for n, (arrives, left) in enumerate(coming):
            more = min(left, seeds - taken - arrived) if arrives <= day else 0
            coming[n] = (arrives, left - more)
            arrived += more
        yield Need(variety, day, seeds, taken, arrived)


def _left(lot: SeedLot) -> int:
    """Seeds of a lot from `stock` that are not sown."""
    return max(lot.seeds - int(getattr(lot, "sown", 0)), 0)


def _arrives(lot: SeedLot, today: date) -> date | None:
    """When a lot that is not in hand is to be here, at once if overdue; None in hand, or where no day is known."""
    if lot.received_on and lot.received_on <= today:
        return None
    day = lot.received_on or lot.expected_on
    return max(day, today) if day else None


def by_week(needs: Iterable[Need], begins: int) -> list[Need]:
    """The needs of each variety and week together, with the first day of them: as the chart and its table show."""
    found = []
    for _key, group in groupby(needs, key=lambda need: (need.variety.pk, week_of(need.day, begins))):
        several = list(group)
        first = several[0]
        sums = (sum(getattr(need, name) for need in several) for name in ("seeds", "in_hand", "coming"))
        found.append(Need(first.variety, first.day, *sums))
    return found


def buying(needs: Iterable[Need]) -> list[Buying]:
    """The list to shop with, what is needed first on top."""
    found = []
    for _key, group in groupby(needs, key=lambda need: need.variety.pk):
        short = [need for need in group if need.to_buy]
        if short:
            variety = short[0].variety
            what = seed_to_buy(variety, sum(need.to_buy for need in short))
            found.append(Buying(variety, what, short[0].day))
    return sorted(found, key=lambda each: (each.by, each.variety.name))


def seed_chart(needs: list[Need], today: date, begins: int) -> Chart:
    """A lane for each variety: what its sowings need by week, from hand, on the way, and to buy."""
    weeks = weeks_from(week_of(today, begins), max([need.day for need in needs], default=today))
    lanes = []
    for _key, group in groupby(needs, key=lambda need: need.variety.pk):
        several = list(group)
        by_week = {week: [0.0, 0.0, 0.0] for week in weeks}
        for need in several:
            for n, part in enumerate((need.in_hand, need.coming, need.to_buy)):
                by_week[week_of(need.day, begins)][n] += part
        bars = tuple((a, b, c) for a, b, c in by_week.values())
        lanes.append(Lane(str(several[0].variety), _needs_words(several, today), bars))
    return Chart(
        key="seed",
        weeks=weeks,
        lanes=tuple(lanes),
        fills=("open", "coming", "solid"),
        legend=(_("in hand"), _("on the way"), _("to buy")),
        today=today,
    )


def _needs_words(needs: list[Need], today: date) -> str:
    """'240 seeds needed, 80 of them to buy, the first by Tue 2 March'."""
    seeds, short = sum(need.seeds for need in needs), [need for need in needs if need.to_buy]
    words = ngettext("%(n)d seed needed", "%(n)d seeds needed", seeds) % {"n": seeds}
    if not short:
        return _("%(needed)s, all there or on the way") % {"needed": words}
    return _("%(needed)s, %(n)d of them to buy, the first by %(day)s") % {
        "needed": words,
        "n": sum(need.to_buy for need in short),
        "day": day_words(short[0].day, today),
    }
