"""A list of orders that was checked, taken: on confirmation, as a job, promised order by order.

Each order is one transaction, judged on what is then so; its key is derived from the list's, so that a second
submit or a job done again makes no order twice.
"""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from orders import services as orders
from orders.jobs import LEASE, enqueue, handler
from orders.models import Customer, Nursery, Order, OrderLine, User, Variety
from orders.refusals import ManyRefused, Refused

from .. import bridge
from ..models import OrderList
from ..order_list.rows import Draft, customer_named
from ..papers.confirmation import ask_for_confirmation
from .answering import LineAnswer, what_if
from .judging import TRIES, HoldsNoMore, judged, lock_the_plan
from .order_lists import OPEN, TOGETHER, Outcome, State, answers_to, drafts_of, faults_shown, shown_of, watched


def confirm(kept: OrderList, *, by: User | None, others: str = OrderList.Others.LEAVE) -> OrderList:
    """Have the orders that fit promised, as a job; `others` says what becomes of the good ones that do not fit.

    A second submit changes nothing. Refused while the list is not checked, and if there is nothing in it to take.
    """
    return _begun(kept, by=by, others=others, run_after=timezone.now())


@transaction.atomic
def _begun(kept: OrderList, *, by: User | None, others: str, run_after: datetime) -> OrderList:
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
    kept.progress, kept.trouble = {}, ""
    kept.save(update_fields=["state", "others", "taken_by", "progress", "trouble"])
    key = f"take_order_list:{uuid.uuid4()}:0"  # another one where it is confirmed once more
    enqueue("take_order_list", key, {"list": kept.pk}, run_after=run_after)
    return kept


def take_at_once(kept: OrderList, *, by: User | None, others: str = OrderList.Others.LEAVE) -> OrderList:
    """As `confirm`, done before it returns: for the command line. Should that be stopped, the job goes on."""
    kept = _begun(kept, by=by, others=others, run_after=timezone.now() + LEASE)
    while kept.state == State.TAKING:
        _take(kept)
        kept.refresh_from_db()
    return kept


def _given_up(payload: dict[str, Any], why: str) -> None:
    """What was taken stays so; the list can be confirmed once more, and makes no order twice."""
    kept = OrderList.objects.select_for_update().filter(pk=payload["list"], state=State.TAKING).first()
    if kept:
        OrderList.objects.filter(pk=kept.pk).update(
            state=State.CHECKED, orders=_with_made(kept), trouble=why[:300], progress={}
        )


@handler("take_order_list", given_up=_given_up)
def take_now(payload: dict[str, Any]) -> None:
    """Promise what fits, one order after the other; goes on where it stopped if a worker died over it."""
    kept = OrderList.objects.filter(pk=payload["list"], state=State.TAKING).select_related("taken_by").first()
    if kept is None:
        return
    done = _take(kept)
    kept.refresh_from_db(fields=["state"])
    if kept.state == State.TAKING:
        enqueue("take_order_list", f"{payload['cause'].rpartition(':')[0]}:{done}", {"list": kept.pk})


def _take(kept: OrderList) -> int:
    """Take what is left of the list, or as much as there is time for; how many of its orders are through."""
    nursery = Nursery.current()
    today = nursery.today()
    drafts = {tuple(draft.rows): draft for draft in drafts_of(kept, nursery=nursery, today=today)}
    shown = _with_made(kept)
    ahead = [at for at, each in enumerate(shown) if each["state"] in OPEN]
    watch = watched(kept, len(ahead))
    taker = Taker(kept, today, nursery)
    taker.look_ahead([drafts[tuple(shown[at]["rows"])] for at in ahead if shown[at]["state"] == Outcome.FITS])
    for done, at in enumerate(ahead):
        if not watch(done):
            break
        shown[at] = taker.take(drafts[tuple(shown[at]["rows"])], shown[at])
    through = all(each["state"] not in OPEN for each in shown)
    OrderList.objects.filter(pk=kept.pk).update(orders=shown, state=State.TAKEN if through else State.TAKING)
    return sum(each["state"] in (Outcome.PROMISED, Outcome.KEPT, Outcome.LEFT) for each in shown)


def _with_made(kept: OrderList) -> list[dict[str, Any]]:
    """The orders as they are shown, also those that a job made which died before it could say so."""
    keys = {_key_of(kept, each["rows"]): each for each in kept.orders if each["state"] in OPEN}
    orders = Order.objects.filter(submit_key__in=keys).prefetch_related("lines")
    made = {order.submit_key: order for order in orders}
    return [_as_made(each, made.get(_key_of(kept, each["rows"]))) for each in kept.orders]


def _key_of(kept: OrderList, rows: Sequence[int]) -> uuid.UUID:
    return uuid.uuid5(kept.key, ",".join(map(str, rows)))


def _as_made(shown: dict[str, Any], order: Order | None) -> dict[str, Any]:
    if order is None:
        return shown
    days = [line.pickup for line in order.lines.all()]
    promised = {"state": str(Outcome.PROMISED if any(days) else Outcome.KEPT), "order": order.code}
    on = zip(shown["lines"], days, strict=False)  # it may be in pieces by now
    return shown | promised | {"lines": [line | {"pickup": day.isoformat() if day else None} for line, day in on]}


class Taker:
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
            answers = answers_to(good, nursery=self.nursery, today=self.today, watch=lambda _done: True)
            self.ahead = dict(zip(map(id, good), answers, strict=True))

    def take(self, draft: Draft, shown: dict[str, Any]) -> dict[str, Any]:
        """The order as it is shown from now on: promised, kept as asked, or left out and why."""
        key = _key_of(self.kept, draft.rows)
        if made := Order.objects.filter(submit_key=key).first():  # by a twin of this job
            return _as_made(shown, made)
        if draft.faults:
            return shown | {"state": str(Outcome.LEFT), "lines": faults_shown(draft.faults)}
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


def _refused_shown(lines: Sequence[dict[str, Any]], refused: Refused) -> list[dict[str, Any]]:
    each = refused.refusals if isinstance(refused, ManyRefused) else [refused]
    return [line | {"pickup": None, "says": " ".join(map(str, each))} for line in lines]
