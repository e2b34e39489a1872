"""A list of orders: kept unconfirmed, checked as a job, and on confirmation promised order by order.

Each order is one transaction, judged on what is then so; its key is derived from the list's, so that a second
submit or a job done again makes no order twice.
"""

from __future__ import annotations

import time
import uuid
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, replace
from datetime import date
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders import services as orders
from orders.jobs import GiveUp, enqueue, handler
from orders.models import Customer, Nursery, Order, OrderLine, User, Variety
from orders.refusals import ManyRefused, Refused
from orders.tables import Row, Table, read_table

from .. import bridge
from ..models import OrderList
from ..order_list.columns import columns_of
from ..order_list.rows import Book, Draft, Fault, customer_named, orders_of
from ..papers.confirmation import ask_for_confirmation
from ..planning import terms
from ..planning.claims import season_with
from ..words import conflict_words
from .answering import LineAnswer, refusal_of, what_if
from .judging import TRIES, HoldsNoMore, judged, lock_the_plan

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


@handler("check_order_list")
def check_now(payload: dict[str, Any]) -> None:
    """Find every fault, and say of each good order whether it fits beside what is promised and those before it."""
    kept = OrderList.objects.filter(pk=payload["list"], state__in=(State.WAITING, State.CHECKING)).first()
    if kept is None:
        return
    OrderList.objects.filter(pk=kept.pk).update(state=State.CHECKING)
    try:
        _check(kept)
    except Exception as trouble:  # whatever it is, somebody waits for an answer, and nothing is lost
        said = str(trouble)[:300] or type(trouble).__name__
        OrderList.objects.filter(pk=kept.pk).update(state=State.FAILED, trouble=said)
        raise GiveUp(said) from trouble


def _check(kept: OrderList) -> None:
    nursery = Nursery.current()
    today = nursery.today()
    drafts = drafts_of(kept, nursery=nursery, today=today)
    good = [draft for draft in drafts if not draft.faults]
    answers = _answers(good, nursery=nursery, today=today, watch=_watch(kept, len(good)))
    said = dict(zip(map(id, good), answers, strict=True))
    OrderList.objects.filter(pk=kept.pk).update(
        state=State.CHECKED,
        orders=[shown_of(draft, said.get(id(draft))) for draft in drafts],
        faults=[asdict(fault) for draft in drafts for fault in draft.faults],
    )


def _watch(kept: OrderList, of: int) -> Callable[[int], bool]:
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


def _answers(
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


# --- taking -----------------------------------------------------------------------------------------------------


def confirm(kept: OrderList, *, by: User | None, others: str = OrderList.Others.LEAVE) -> OrderList:
    """Have the orders that fit promised, as a job; `others` says what becomes of the good ones that do not fit.

    A second submit changes nothing. Refused while the list is not checked, and if there is nothing in it to take.
    """
    with transaction.atomic():
        kept = _begun(kept, by=by, others=others)
        enqueue("take_order_list", f"take_order_list:{kept.pk}:0", {"list": kept.pk})
    return kept


def _begun(kept: OrderList, *, by: User | None, others: str) -> OrderList:
    kept = OrderList.objects.select_for_update().get(pk=kept.pk)
    if kept.state in (State.TAKING, State.TAKEN):
        return kept
    if kept.state != State.CHECKED:
        raise Refused(_("The list is not checked yet."), mend=_("Wait until it is."))
    if others not in OrderList.Others.values:
        raise Refused(
            _("“%(what)s” is nothing that can be done with the others.") % {"what": others},
            mend=_("Leave them out, or keep them as asked."),
            field="others",
        )
    wanted = {Outcome.FITS, *((Outcome.FULL, Outcome.UNJUDGED) if others == OrderList.Others.KEEP else ())}
    if not any(each["state"] in wanted for each in kept.orders):
        raise Refused(_("There is nothing in the list to take."), mend=_("Mend its rows, and bring it again."))
    kept.state, kept.others, kept.taken_by = State.TAKING, others, by
    kept.progress = {}
    kept.save(update_fields=["state", "others", "taken_by", "progress"])
    return kept


def take_at_once(kept: OrderList, *, by: User | None, others: str = OrderList.Others.LEAVE) -> OrderList:
    """As `confirm`, done before it returns: for the command line."""
    with transaction.atomic():
        kept = _begun(kept, by=by, others=others)
    while kept.state == State.TAKING:
        _take(kept)
        kept.refresh_from_db()
    return kept


@handler("take_order_list")
def take_now(payload: dict[str, Any]) -> None:
    """Promise what fits, one order after the other; goes on where it stopped if a worker died over it."""
    kept = OrderList.objects.filter(pk=payload["list"], state=State.TAKING).select_related("taken_by").first()
    if kept is None:
        return
    done = _take(kept)
    kept.refresh_from_db(fields=["state"])
    if kept.state == State.TAKING:
        enqueue("take_order_list", f"take_order_list:{kept.pk}:{done}", {"list": kept.pk})


def _take(kept: OrderList) -> int:
    """Take what is left of the list, or as much as there is time for; how many of its orders are through."""
    nursery = Nursery.current()
    today = nursery.today()
    drafts = {tuple(draft.rows): draft for draft in drafts_of(kept, nursery=nursery, today=today)}
    shown = list(kept.orders)
    ahead = [at for at, each in enumerate(shown) if each["state"] in OPEN]
    watch = _watch(kept, len(ahead))
    taker = _Taker(kept, today, nursery)
    taker.look_ahead([drafts[tuple(shown[at]["rows"])] for at in ahead if shown[at]["state"] == Outcome.FITS])
    for done, at in enumerate(ahead):
        if not watch(done):
            break
        shown[at] = taker.take(drafts[tuple(shown[at]["rows"])], shown[at])
    through = all(each["state"] not in OPEN for each in shown)
    OrderList.objects.filter(pk=kept.pk).update(orders=shown, state=State.TAKEN if through else State.TAKING)
    return sum(each["state"] in (Outcome.PROMISED, Outcome.KEPT, Outcome.LEFT) for each in shown)


class _Taker:
    """Takes the orders of one list; the answers found ahead are used as long as the referee lets them pass."""

    def __init__(self, kept: OrderList, today: date, nursery: Nursery) -> None:
        self.kept, self.today, self.nursery = kept, today, nursery
        self.ahead: dict[int, list[LineAnswer]] = {}

    def look_ahead(self, drafts: Sequence[Draft]) -> None:
        """Judge a short list whole, as it was checked; a long one is judged order by order."""
        good = [draft for draft in drafts if not draft.faults]
        for draft in good:
            self._make_new(draft)
        if sum(len(draft.lines) for draft in good) <= TOGETHER:
            answers = _answers(good, nursery=self.nursery, today=self.today, watch=lambda _done: True)
            self.ahead = dict(zip(map(id, good), answers, strict=True))

    def take(self, draft: Draft, shown: dict[str, Any]) -> dict[str, Any]:
        """The order as it is shown from now on: promised, kept as asked, or left out and why."""
        key = uuid.uuid5(self.kept.key, ",".join(map(str, draft.rows)))
        made = Order.objects.filter(submit_key=key).first()
        if made:  # by this job, before it died
            promised = made.lines.exclude(pickup=None).exists()
            return shown | {"order": made.code, "state": str(Outcome.PROMISED if promised else Outcome.KEPT)}
        if draft.faults:
            return shown | {"state": str(Outcome.LEFT), "lines": _faults_shown(draft.faults)}
        if shown["state"] == Outcome.FITS:
            try:
                order, said = self._promised(draft, key)
            except Refused as refused:
                return shown | {"state": str(Outcome.LEFT), "lines": _refused_shown(shown["lines"], refused)}
            if order:
                return shown_of(draft, said) | {"order": order.code, "state": str(Outcome.PROMISED)}
            shown = shown_of(draft, said)
        if self.kept.others != OrderList.Others.KEEP:
            return shown | {"state": str(Outcome.LEFT)}
        with transaction.atomic():
            order = self._stored(draft, key)
        return shown | {"order": order.code, "state": str(Outcome.KEPT)}

    def _promised(self, draft: Draft, key: uuid.UUID) -> tuple[Order | None, list[LineAnswer]]:
        """The order with its room taken, in one transaction; none if it does not fit any more."""
        said = self.ahead.pop(id(draft), [])
        outdated = HoldsNoMore()
        for _attempt in range(TRIES):
            if not said:
                season = bridge.season_of(self.today, nursery=self.nursery)
                said = what_if(draft.lines, today=self.today, nursery=self.nursery, season=season)
            if not all(each.fits for each in said):
                return None, said
            try:
                return self._committed(draft, said, key), said
            except HoldsNoMore as found:
                outdated, said = found, []
        raise outdated.refusal()

    def _committed(self, draft: Draft, said: Sequence[LineAnswer], key: uuid.UUID) -> Order:
        by = self.kept.taken_by
        with transaction.atomic():
            nursery = lock_the_plan()
            if made := Order.objects.filter(submit_key=key).first():
                return made  # by a twin of this job, a moment ago
            season = bridge.season_of(self.today, nursery=nursery)
            judged([each.plan for each in said if each.plan], season, over_conflict="")
            order = self._stored(draft, key)
            for line, each in zip(draft.lines, said, strict=True):
                assert each.plan is not None
                bridge.store_line(line, each.plan, each.protocol)
                orders.mark_confirmed(line=line, pickup=each.plan.pickup, by=by)
            ask_for_confirmation(order, by=by)
        return order

    def _stored(self, draft: Draft, key: uuid.UUID) -> Order:
        self._make_new(draft)
        return orders.take_order(
            customer=self._customer(draft),
            own_crop=draft.own_crop,
            lines=draft.lines,
            by=self.kept.taken_by,
            today=self.today,
            submit_key=key,
        )

    def _make_new(self, draft: Draft) -> None:
        """The varieties that the list names as new. They come before the plans, which name them."""
        with transaction.atomic():
            for line in draft.lines:
                for side in ("scion", "rootstock"):
                    _find_new(line, side)
            orders.with_new_varieties(draft.lines, by=self.kept.taken_by)

    def _customer(self, draft: Draft) -> Customer | None:
        if draft.own_crop:
            return None
        return customer_named(draft.customer) or orders.find_or_make_customer(
            name=draft.customer, email=draft.email, phone=draft.phone, by=self.kept.taken_by
        )


def _find_new(line: OrderLine, side: str) -> None:
    """A variety that was new when the row was read may have been made since, for another order."""
    variety = getattr(line, side)
    if variety is not None and not variety.pk:
        made = Variety.objects.filter(crop=variety.crop, name__iexact=variety.name).first()
        setattr(line, side, made or variety)


def _faults_shown(faults: Sequence[Fault]) -> list[dict[str, Any]]:
    return [{"row": fault.row, "says": f"{fault.reason} {fault.mend}".strip()} for fault in faults]


def _refused_shown(lines: Sequence[dict[str, Any]], refused: Refused) -> list[dict[str, Any]]:
    each = refused.refusals if isinstance(refused, ManyRefused) else [refused]
    return [line | {"pickup": None, "says": " ".join(map(str, each))} for line in lines]
