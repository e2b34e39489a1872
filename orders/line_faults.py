"""What is wrong with an order line by itself, whatever room there is: its numbers, plants and days."""

from __future__ import annotations

from datetime import date, timedelta

from django.utils.translation import gettext as _

from .models import OrderLine, Variety
from .models.orders import MOST_PLANTS
from .refusals import Refused

MOST_LATITUDE = 60  # days
FARTHEST_PICKUP = 800  # days ahead


def faults_of(line: OrderLine, *, today: date) -> list[Refused]:
    """Everything wrong with a line in itself, whatever the nursery is doing; [] when it can be planned."""
    faults = faults_of_quantity(line.quantity)
    faults += _variety_faults(line)
    faults += _day_faults(line, today)
    return faults


def faults_of_quantity(quantity: int | None) -> list[Refused]:
    """What is wrong with a number of plants (of room only, of trays)."""
    if not quantity or quantity < 1:
        return [Refused(_("The quantity is zero or less."), mend=_("Write how many plants."), field="quantity")]
    if quantity > MOST_PLANTS:
        return [
            Refused(
                _("%(n)s plants are more than any season could hold.") % {"n": quantity},
                mend=_("Check the number; the most is %(most)s.") % {"most": MOST_PLANTS},
                field="quantity",
            )
        ]
    return []


def _variety_faults(line: OrderLine) -> list[Refused]:
    if line.kind == OrderLine.Kind.ROOM:
        faults = []
        if not line.room_place_kind:
            faults.append(Refused(_("No kind of place is named."), mend=_("Choose one."), field="room_place_kind"))
        if not line.room_nights:
            faults.append(Refused(_("No nights are named."), mend=_("Write how many."), field="room_nights"))
        return faults
    if line.scion is None:
        return [Refused(_("No variety is named."), mend=_("Choose or make one."), field="scion")]
    if line.kind == OrderLine.Kind.PLAIN:
        return []
    return _graft_faults(line.scion, line.rootstock)


def _graft_faults(scion: Variety, rootstock: Variety | None) -> list[Refused]:
    faults = []
    if rootstock is None:
        return [Refused(_("No rootstock is named."), mend=_("Choose or make one."), field="rootstock")]
    if not scion.may_be_scion:
        faults.append(
            Refused(
                _("%(name)s is kept as a rootstock, not as a scion.") % {"name": scion},
                mend=_("Choose a scion, or change what %(name)s is used as.") % {"name": scion},
                field="scion",
            )
        )
    if not rootstock.may_be_rootstock:
        faults.append(
            Refused(
                _("%(name)s is kept as a scion, not as a rootstock.") % {"name": rootstock},
                mend=_("Choose a rootstock, or change what %(name)s is used as.") % {"name": rootstock},
                field="rootstock",
            )
        )
    allowed = scion.crop.rootstock_crops.all()
    if rootstock.crop != scion.crop and rootstock.crop not in allowed:
        faults.append(
            Refused(
                _("%(crop)s is not grafted on %(root)s here.") % {"crop": scion.crop, "root": rootstock.crop},
                mend=_("Choose another rootstock, or add %(root)s to the rootstocks of %(crop)s.")
                % {"crop": scion.crop, "root": rootstock.crop},
                field="rootstock",
            )
        )
    return faults


def _day_faults(line: OrderLine, today: date) -> list[Refused]:
    faults = []
    if line.pickup_asked < today:
        faults.append(
            Refused(_("The pickup lies in the past."), mend=_("Choose a day from today on."), field="pickup_asked")
        )
    elif line.pickup_asked > today + timedelta(days=FARTHEST_PICKUP):
        faults.append(
            Refused(
                _("The pickup lies more than two years ahead."), mend=_("Check the year."), field="pickup_asked"
            )
        )
    for field in ("earlier", "later"):
        if getattr(line, field) > MOST_LATITUDE:
            faults.append(
                Refused(
                    _("More than %(n)s days of latitude.") % {"n": MOST_LATITUDE},
                    mend=_("Choose another pickup instead."),
                    field=field,
                )
            )
    return faults
