"""Days on which the nursery is closed although its weekday is open. Care goes on; other work keeps off them.

What was planned on such a day is planned again by a job; a pickup stays promised, and its part says so.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

import holidays
from django.db import transaction
from django.utils.translation import gettext as _

from orders import history
from orders.models import Nursery, User
from orders.refusals import Refused

from .. import bridge
from ..models import ClosedDay
from ..queries import touched
from . import replan


@dataclass(frozen=True, slots=True)
class Holiday:
    day: date
    name: str


def close(*, days: Iterable[Holiday], by: User | None) -> list[ClosedDay]:
    """Close the nursery on these days; those that are closed already stay as they are."""
    with transaction.atomic():
        wanted = {holiday.day: holiday.name for holiday in days}
        closed = set(ClosedDay.objects.filter(day__in=wanted).values_list("day", flat=True))
        made = [ClosedDay(day=day, name=name[:80]) for day, name in sorted(wanted.items()) if day not in closed]
        ClosedDay.objects.bulk_create(made)
        if made:
            replan.touch_all(touched.working_on(day.day for day in made))
            said = ", ".join(str(day) for day in made)
            history.record(
                by=by, what="days closed", subject=Nursery(pk=1), text=_("Closed: %(days)s.") % {"days": said}
            )
    return made


def reopen(*, day: ClosedDay, by: User | None) -> None:
    with transaction.atomic():
        text = _("Open again: %(day)s.") % {"day": day}
        history.record(by=by, what="day opened", subject=Nursery(pk=1), text=text)
        day.delete()
        replan.touch_all(touched.working_on(touched.next_to(day.day, bridge.calendar_of(Nursery.current()))))


def public_holidays(*, country: str, year: int, region: str = "") -> list[Holiday]:
    """The public holidays of a country (or one of its regions) in a year, as far as they are publicly listed."""
    try:
        found = holidays.country_holidays(country, subdiv=region or None, years=year)
    except NotImplementedError as error:
        raise Refused(
            _("No public holidays are listed for %(country)s.") % {"country": country},
            mend=_("Add the closed days one by one."),
            field="country",
        ) from error
    return [Holiday(day, name) for day, name in sorted(found.items())]


def offered(nursery: Nursery) -> list[Holiday]:
    """The holidays of the nursery's own country in the year ahead of today; [] where none are listed."""
    today = nursery.today()
    try:
        years = [public_holidays(country=nursery.country, year=year) for year in (today.year, today.year + 1)]
    except Refused:
        return []
    until = date(today.year + 1, today.month, 1)
    return [holiday for year in years for holiday in year if today <= holiday.day < until]


def ticked(sent: Iterable[str]) -> list[Holiday]:
    """Days as their tick boxes send them, '2027-03-17 Name'; what is no day is left out."""
    found = []
    for each in sent:
        written, _space, name = each.partition(" ")
        try:
            found.append(Holiday(date.fromisoformat(written), name))
        except ValueError:
            continue
    return found
