"""What stands in a user's calendar: their work by day and part of day, and the pickups, all-day entries each."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders import queries, states
from orders.models import OrderLine, User
from orders.templatetags.house import hours

from ..models import Part, StageWork, Work
from .tally import tally_of
from .today import figure_of, may_do, skills_of, title_of, where_of
from .works import with_all

AHEAD = timedelta(weeks=12)  # of work; it moves too often to be told further ahead
SEES_WORK, SEES_ORDERS = "production.see_work", "orders.see_orders"


@dataclass(frozen=True, slots=True)
class Entry:
    """An all-day entry of `days` days. `uid` is its own as long as it stands for the same work or line."""

    uid: str
    first: date
    days: int
    summary: str
    description: str
    path: str  # of its page


def entries_for(user: User, *, today: date) -> list[Entry]:
    """All that this user may see now; work only as far as their skills go, as on Today."""
    found: list[Entry] = []
    if user.has_perm(SEES_WORK):
        found += _work(user, today)
    if user.has_perm(SEES_ORDERS):
        found += _pickups(today)
    return found


def _work(user: User, today: date) -> Iterator[Entry]:
    skills = skills_of(user)
    rows = Work.objects.filter(
        state=Work.State.PLANNED,
        day__lte=today + AHEAD,
        part__state__in=(Part.State.PLANNED, Part.State.ALIVE, Part.State.READY),
    )
    parts = list(StageWork.PartOfDay.values)
    works = [work for work in with_all(rows) if may_do(work, skills)]
    works.sort(key=lambda work: (max(work.day, today), parts.index(work.part_of_day), work.pk))
    for (day, part), some in groupby(works, key=lambda work: (max(work.day, today), work.part_of_day)):
        yield _entry(day, part, list(some))


def _entry(day: date, part: str, works: list[Work]) -> Entry:
    minutes = round(60 * sum(work.total_hours for work in works))
    count = ngettext("%(n)s thing to do", "%(n)s things to do", len(works)) % {"n": len(works)}
    summary = f"{StageWork.PartOfDay(part).label}: {count}"
    return Entry(
        uid=f"work-{day.isoformat()}-{part}",
        first=day,
        days=1,
        summary=f"{summary}, {hours(minutes)}" if minutes else summary,
        description="\n".join(_line(work) for work in works),
        path=reverse("day", args=[day]),
    )


def _line(work: Work) -> str:
    """'Graft Order 27: 66 grafts, Tallis Red on Kelder, Long bench', with the number that Today shows."""
    figure, unit = figure_of(work, tally_of(work.part))
    number = f"{figure} {unit}, " if figure else ""
    return f"{title_of(work)}: {number}{where_of(work)}".removesuffix(": ")


def _pickups(today: date) -> Iterable[Entry]:
    lines = queries.lines().filter(state__in=states.PROMISED, order__own_crop=False).exclude(pickup=None)
    for line in lines.order_by("pickup", "pk"):
        if line.pickup and line.pickup + timedelta(days=max(line.collection_days, 1)) > today:
            yield _pickup(line, line.pickup)


def _pickup(line: OrderLine, day: date) -> Entry:
    left = line.quantity - line.collected_quantity
    said = [f"{left} {line.what}", str(line), line.get_state_display()]
    if line.outstanding:
        here = ngettext("%(n)s plant is ready", "%(n)s plants are ready", line.outstanding)
        said.append(here % {"n": line.outstanding})
    return Entry(
        uid=f"pickup-{line.pk}",
        first=day,
        days=max(line.collection_days, 1),
        summary=_("Pickup: %(who)s, %(n)s %(what)s") % {"who": line.order.who, "n": left, "what": line.what},
        description="\n".join(said),
        path=reverse("order", args=[line.order.code]),
    )
