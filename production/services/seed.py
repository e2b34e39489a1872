"""Choosing the lot that a sowing is sown from, or saying why there is none."""

from __future__ import annotations

from datetime import date

from django.utils.translation import gettext as _

from orders.refusals import Refused

from ..models import SeedLot, Sowing
from ..queries.seed import Supply, line_of, seeds_left, supply_of
from ..words import day_words


def lot_to_sow(sowing: Sowing, *, seeds: int, today: date, wanted: SeedLot | None = None) -> SeedLot:
    """The lot to sow from: the one wanted, the one set before, or the oldest in hand with enough seeds left.

    Called inside a transaction: the lot stays locked until it ends. Raises Refused (lot).
    """
    supply = supply_of(sowing, today)
    chosen = wanted or sowing.lot or supply.first_with(seeds)
    if chosen is None:
        raise _no_seed(sowing, seeds, supply)
    chosen = SeedLot.objects.select_for_update().get(pk=chosen.pk)  # two sowings must not share the last seeds
    _check_lot(chosen, sowing, seeds, today)
    return chosen


def _no_seed(sowing: Sowing, seeds: int, supply: Supply) -> Refused:
    if supply.lots:
        most = max(left for _lot, left in supply.lots)
        return Refused(
            _("No lot of %(name)s has %(n)s seeds left; the fullest has %(most)s.")
            % {"name": sowing.variety, "n": seeds, "most": most},
            mend=_("Sow fewer, or enter the lot you sow from."),
            field="lot",
        )
    if supply.customers:
        until = day_words(supply.expected) if supply.expected else _("no day given")
        return Refused(
            _("Sowing waits for the customer's seed of %(name)s (expected: %(day)s).")
            % {"name": sowing.variety, "day": until},
            mend=_("Enter the lot when the seed is in hand."),
            field="lot",
        )
    return Refused(
        _("No lot of %(name)s is in hand.") % {"name": sowing.variety},
        mend=_("Enter the lot you sow from under Nursery, Seed lots."),
        field="lot",
    )


def _check_lot(lot: SeedLot, sowing: Sowing, seeds: int, today: date) -> None:
    if lot.variety_id != sowing.variety_id:
        raise Refused(
            _("Lot %(lot)s is %(is)s, not %(name)s.") % {"lot": lot, "is": lot.variety, "name": sowing.variety},
            mend=_("Choose a lot of the variety that is sown."),
            field="lot",
        )
    line = line_of(sowing)
    if lot.customer_id and (line is None or line.order.customer_id != lot.customer_id):
        raise Refused(
            _("Lot %(lot)s belongs to %(who)s.") % {"lot": lot, "who": lot.customer},
            mend=_("Choose our own seed, or seed of the customer who ordered."),
            field="lot",
        )
    if lot.received_on is None or lot.received_on > today:
        raise Refused(
            _("Lot %(lot)s is not in hand yet.") % {"lot": lot},
            mend=_("Enter the day on which it came."),
            field="lot",
        )
    left = seeds_left(lot)
    if seeds > left:
        raise Refused(
            _("Lot %(lot)s has %(left)s seeds left, fewer than the %(n)s sown.")
            % {"lot": lot, "left": left, "n": seeds},
            mend=_("Sow fewer, or sow from another lot."),
            field="lot",
        )
