"""A list of orders from a file: its rows kept unconfirmed, and checked as a job."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, replace
from datetime import date
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders.jobs import GiveUp, enqueue, handler
from orders.models import Nursery, OrderLine, User
from orders.refusals import Refused
from orders.tables import Row, Table, read_table

from .. import bridge
from ..models import OrderList
from ..order_list.columns import columns_of
from ..order_list.rows import Book, Draft, Fault, orders_of
from ..planning import terms
from ..planning.claims import season_with
from ..words import conflict_words
from .answering import LineAnswer, refusal_of, what_if

LONGEST = 240.0  # seconds of one job, well within its lease; what is left is the next job's
TELL_EVERY = 0.5  # seconds between two rows of progress
MOST_CAUSES = 2  # of those that are told of a line that does not fit
TOGETHER = 30  # lines of a list that are tried all at once, if one order after the other does not do
KEPT = 20  # lists

State, Outcome = OrderList.State, OrderList.Outcome
OPEN = (Outcome.FITS, Outcome.FULL, Outcome.UNJUDGED)  # nothing has become of them yet


# --- what was brought -------------------------------------------------------------------------------------------


def keep(*, name: str, content: bytes, by: User | None) -> OrderList:
    """Read a file and keep its rows. Refused (several at once) if it is no list or its headings say nothing."""
    table = read_table(content)
    columns_of(table.head)
    if not table.rows:
        raise Refused(_("The list has headings and no rows."), mend=_("Write a row per line."), field="file")
    with transaction.atomic():
        kept = OrderList.objects.create(
            name=name[-200:] or _("a list"),
            made_by=by,
            head=list(table.head.cells),
            rows=[[row.number, list(row.cells)] for row in table.rows],
        )
        old = OrderList.objects.values_list("pk", flat=True)[KEPT:]
        OrderList.objects.filter(pk__in=list(old)).exclude(state=State.TAKING).delete()
    return kept


def start(*, name: str, content: bytes, by: User | None) -> OrderList:
    """Keep a file and have it checked, as a job."""
    with transaction.atomic():
        kept = keep(name=name, content=content, by=by)
        enqueue("check_order_list", f"check_order_list:{kept.pk}", {"list": kept.pk})
    return kept


def table_of(kept: OrderList) -> Table:
    return Table(Row(0, tuple(kept.head)), tuple(Row(number, tuple(cells)) for number, cells in kept.rows))


def drafts_of(kept: OrderList, *, nursery: Nursery, today: date) -> list[Draft]:
    """The orders of the list by what the nursery has now."""
    table = table_of(kept)
    return orders_of(table.rows, columns_of(table.head), Book.read(nursery, today))


# --- checking ---------------------------------------------------------------------------------------------------


def _given_up(payload: dict[str, Any], why: str) -> None:
    """Somebody waits for an answer, and nothing of the list is stored as an order."""
    waiting = OrderList.objects.filter(pk=payload["list"], state__in=(State.WAITING, State.CHECKING))
    waiting.update(state=State.FAILED, trouble=why[:300])


@handler("check_order_list", given_up=_given_up)
def check_now(payload: dict[str, Any]) -> None:
    """Find every fault, and say of each good order whether it fits beside what is promised and those before it."""
    kept = OrderList.objects.filter(pk=payload["list"], state__in=(State.WAITING, State.CHECKING)).first()
    if kept is None:
        return
    OrderList.objects.filter(pk=kept.pk).update(state=State.CHECKING)
    try:
        _check(kept)
    except Exception as trouble:  # whatever it is, somebody waits for an answer, and nothing is lost
        said = str(trouble) or type(trouble).__name__
        _given_up(payload, said)  # where it is no job that checks
        raise GiveUp(said) from trouble


def _check(kept: OrderList) -> None:
    nursery = Nursery.current()
    today = nursery.today()
    drafts = drafts_of(kept, nursery=nursery, today=today)
    good = [draft for draft in drafts if not draft.faults]
    answers = answers_to(good, nursery=nursery, today=today, watch=watched(kept, len(good)))
    said = dict(zip(map(id, good), answers, strict=True))
    OrderList.objects.filter(pk=kept.pk).update(
        state=State.CHECKED,
        orders=[shown_of(draft, said.get(id(draft))) for draft in drafts],
        faults=[asdict(fault) for draft in drafts for fault in draft.faults],
    )


def watched(kept: OrderList, of: int) -> Callable[[int], bool]:
    """Tells how far it is now and then; False once it takes too long."""
    begun, told = time.monotonic(), 0.0

    def watch(done: int) -> bool:
        nonlocal told
        now = time.monotonic()
        if now - told >= TELL_EVERY:
            told = now
            OrderList.objects.filter(pk=kept.pk).update(progress={"done": done, "of": of})
        return now - begun < LONGEST

    return watch


def answers_to(
    drafts: Sequence[Draft], *, nursery: Nursery, today: date, watch: Callable[[int], bool]
) -> list[list[LineAnswer]]:
    """What can be said of the lines of each order, in the list's order; nothing of those it never came to.

    An order that fits takes its room before the next is judged. Of a short list all orders are tried at once,
    where one after the other does not do.
    """
    found: list[list[LineAnswer]] = []
    season = start_season = bridge.season_of(today, nursery=nursery)
    for draft in drafts:
        if not watch(len(found)):
            break
        said = what_if(draft.lines, today=today, nursery=nursery, season=season)
        if all(each.fits for each in said):
            season = season_with(season, _owned(draft, said))
        found.append(said)
    every = [line for draft in drafts for line in draft.lines]
    if len(found) > 1 and len(every) <= TOGETHER and not all(each.fits for said in found for each in said):
        at_once = what_if(every, today=today, nursery=nursery, season=start_season)
        if all(each.fits for each in at_once):
            rest = iter(at_once)
            return [[next(rest) for _line in draft.lines] for draft in drafts]
    return found + [[]] * (len(drafts) - len(found))


def _owned(draft: Draft, said: Sequence[LineAnswer]) -> Iterator[terms.LinePlan]:
    """The plans of a draft that fits, owned by its rows: what they take has to have a name for the next."""
    for row, each in zip(draft.rows, said, strict=True):
        assert each.plan is not None
        label = _("row %(n)s of the list") % {"n": row}
        yield replace(each.plan, wish=replace(each.plan.wish, key=f"row:{row}", label=label))


def shown_of(draft: Draft, said: Sequence[LineAnswer] | None) -> dict[str, Any]:
    """An order of the list as it is kept and shown."""
    outcome = Outcome.FAULTY if said is None else _outcome(said)
    answers: Sequence[LineAnswer | None] = said or [None] * len(draft.lines)
    lines = [_line_shown(*each) for each in zip(draft.rows, draft.lines, answers, strict=False)]
    return {
        "name": draft.name,
        "who": _("our own crop") if draft.own_crop else draft.customer,
        "address": bool(draft.email),
        "rows": draft.rows,
        "state": str(outcome),
        "order": "",
        "lines": [] if draft.faults else lines,
    }


def _outcome(said: Sequence[LineAnswer]) -> OrderList.Outcome:
    if not said:
        return Outcome.UNJUDGED
    return Outcome.FITS if all(each.fits for each in said) else Outcome.FULL


def _line_shown(row: int, line: OrderLine, said: LineAnswer | None) -> dict[str, Any]:
    plan = said.plan if said and said.fits else None
    answer = said.answer if said and not said.fits else None
    nearest = [other.pickup for other in (answer.earlier, answer.later) if other] if answer else []
    return {
        "row": row,
        "what": line.what,
        "plants": line.quantity,
        "asked": line.pickup_asked.isoformat(),
        "pickup": plan.pickup.isoformat() if plan else None,
        "days": [day.isoformat() for day in sorted(nearest)],
        "says": _why(said) if said and not said.fits else "",
    }


def _why(said: LineAnswer) -> str:
    """Why a line does not fit, with the first of what stands in its way; the desk says all of it."""
    refusal = refusal_of(said)
    more = len(said.answer.conflicts) - MOST_CAUSES if said.answer else 0
    if more <= 0 or said.answer is None or said.answer.impossible:
        return str(refusal)
    causes = " ".join(conflict_words(each) for each in said.answer.conflicts[:MOST_CAUSES])
    others = ngettext("Elsewhere too.", "And in %(n)s more places.", more) % {"n": more}
    return f"{causes} {others} {refusal.mend}"


def faults_shown(faults: Sequence[Fault]) -> list[dict[str, Any]]:
    return [{"row": fault.row, "says": f"{fault.reason} {fault.mend}".strip()} for fault in faults]
