"""The running season given away as a file, and a file that is looked at: what if the season were that one."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from datetime import date

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from orders import states
from orders.models import Nursery, OrderLine
from orders.refusals import ManyRefused, Refused

from .. import at_hand, bridge, shared
from ..bridge.wishes import Lots
from ..models import Part
from ..planning import terms
from ..planning.filed import plan_from_answers
from ..planning.promise import promise
from ..planning.season_file import BadFile, PlanFile, Promised, SeasonFile, read_season

MOST_BYTES = 2_000_000  # of a file that is looked at on a page or by API; the command takes any
MOST_LINES = 100  # answered while somebody waits
MOST_FAULTS = 200  # told at once

# --- given away ----------------------------------------------------------------------------------------------


def running_season(*, today: date, nursery: Nursery) -> SeasonFile:
    """The nursery as it stands: all that is taken, the promised lines with their plans, and the lines asked."""
    season = at_hand.season_of(today, nursery=nursery)
    places = {place.key for place in season.places}
    lots = bridge.open_lots()
    known = tuple(claim for claim in season.room if claim.place in places)  # a place given up counts nowhere
    return SeasonFile(
        season=replace(season, room=known),
        lines=tuple(_asked(OrderLine.objects.all(), nursery, lots)),
        promised=tuple(_promised(bridge.living_parts(), nursery, lots)),
        note=_("%(nursery)s, as it stood on %(day)s.") % {"nursery": nursery.name, "day": today.isoformat()},
    )


def wishes_now(keys: Collection[str], *, nursery: Nursery) -> dict[str, terms.Wish]:
    """Those of these lines that are asked or promised, by key, as the file of the running season has them."""
    pks = [bridge.line_of(key) for key in keys]
    parts = Part.objects.filter(allocations__line__in=pks)
    lots = bridge.open_lots()
    asked = _asked(OrderLine.objects.filter(pk__in=pks), nursery, lots)
    promised = _promised(bridge.living_parts().filter(pk__in=parts.values("pk")), nursery, lots)
    return {wish.key: wish for wish in (*asked, *(each.plan.wish for each in promised))}


def _asked(rows: QuerySet[OrderLine], nursery: Nursery, lots: Lots) -> Iterable[terms.Wish]:
    asked = rows.filter(state=states.ASKED)
    lines = asked.select_related("order", "scion__crop", "rootstock__crop", "container").order_by("pk")
    protocols = {(each.crop_id, each.method): each for each in bridge.protocols().filter(current=True)}
    for line in lines:
        method = "plain" if line.kind == OrderLine.Kind.PLAIN else line.method
        protocol = protocols.get((line.scion.crop_id, method)) if line.scion else None
        yield bridge.wish_of(line, nursery=nursery, protocol=protocol, lots=lots)


def _promised(living: QuerySet[Part], nursery: Nursery, lots: Lots) -> Iterable[Promised]:
    """These living parts by the line that owns their claims, the first that each is for.

    What is only held takes its room and is not among them: it stands where it was offered.
    """
    parts: dict[OrderLine, list[Part]] = {}
    for part in living.order_by("pk"):
        allocations = sorted(part.allocations.all(), key=lambda each: each.line_id)
        if allocations and allocations[0].line.state != states.HELD:
            parts.setdefault(allocations[0].line, []).append(part)
    protocols = bridge.protocols_of(part for several in parts.values() for part in several)
    for line, several in parts.items():
        protocol = protocols.get(several[0].batch.protocol_id or 0)
        wish = bridge.wish_of(line, nursery=nursery, protocol=protocol, lots=lots)
        yield _promised_line(line, several, wish, nursery)


def _promised_line(line: OrderLine, parts: list[Part], wish: terms.Wish, nursery: Nursery) -> Promised:
    wish = shared.wish_of_all(line, parts, wish, nursery)
    begun = tuple(
        (number, bridge.facts_of(part))
        for number, part in enumerate(parts, start=1)
        if part.state != Part.State.PLANNED
    )
    return Promised(bridge.line_plan_of(wish, wish.pickup, parts), begun)


# --- looked at -----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Looked:
    """A season from a file, the answers to its lines, and the plan they make."""

    file: SeasonFile
    answers: tuple[terms.Answer, ...]
    plan: PlanFile


def look_at(text: str) -> Looked:
    """Plan a season from a file. Stores nothing. Raises ManyRefused with all that is wrong in the file."""
    try:
        file = read_season(text)
    except BadFile as bad:
        raise ManyRefused(list(_refusals(bad))) from None
    if len(file.lines) > MOST_LINES:
        raise ManyRefused([_too_many_lines(len(file.lines))])
    answers = promise(file.season, file.lines)
    return Looked(file, answers, plan_from_answers(file, answers))


def _refusals(bad: BadFile) -> Iterable[Refused]:
    for fault in bad.faults[:MOST_FAULTS]:
        yield Refused(fault.reason, mend=fault.mend, field=fault.path or "file")
    left = len(bad.faults) - MOST_FAULTS
    if left > 0:
        yield Refused(_("%(n)d more are wrong.") % {"n": left}, mend=_("Mend these first."), field="file")


def _too_many_lines(count: int) -> Refused:
    return Refused(
        _("The file asks for %(n)d lines; %(most)d are answered while you wait.")
        % {"n": count, "most": MOST_LINES},
        mend=_("Ask for fewer, or plan the file with the command plan_season."),
        field="lines",
    )


def too_big() -> Refused:
    return Refused(
        _("The file is larger than %(n)d MB.") % {"n": MOST_BYTES // 1_000_000},
        mend=_("Plan it with the command plan_season."),
        field="file",
    )


def text_of(raw: bytes) -> str:
    """The text of a file that somebody sent. Refused if it is too big or no text."""
    if len(raw) > MOST_BYTES:
        raise too_big()
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError:
        raise Refused(_("This is no text in UTF-8."), mend=_("Save the file as that."), field="file") from None
