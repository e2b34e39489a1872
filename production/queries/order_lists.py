"""Lists of orders as pages show them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import QuerySet

from orders.models import Customer

from ..models import OrderList
from ..order_list.columns import BY_KEY

MOST_SHOWN = 200  # of each table on the page; the files have all
Outcome = OrderList.Outcome


def newest() -> QuerySet[OrderList]:
    return OrderList.objects.select_related("made_by").defer("rows", "faults", "orders", "head")


@dataclass(frozen=True, slots=True)
class Found:
    """What is in a list, sorted by what can or did become of it. Rows of tables, each a line of an order."""

    faults: Sequence[dict[str, Any]]
    more_faults: int
    faulty_rows: int
    waiting_rows: int  # good themselves, in an order of which another row is not
    counts: dict[str, int]  # orders by outcome
    promised: Sequence[dict[str, Any]]
    others: Sequence[dict[str, Any]]
    more: int
    to_call: int  # customers of good orders of whom neither we nor the list have an address

    @classmethod
    def of(cls, kept: OrderList) -> Found:
        counts = dict.fromkeys(Outcome.values, 0)
        for order in kept.orders:
            counts[order["state"]] += 1
        faulty = {fault["row"] for fault in kept.faults}
        rows = {row for order in kept.orders if order["state"] == Outcome.FAULTY for row in order["rows"]}
        good = [order for order in kept.orders if order["state"] in (Outcome.FITS, Outcome.PROMISED)]
        rest = [
            order
            for order in kept.orders
            if order["state"] in (Outcome.FULL, Outcome.UNJUDGED, Outcome.KEPT, Outcome.LEFT)
        ]
        promised, others = list(_lines(good)), list(_lines(rest))
        return cls(
            faults=[_fault(fault) for fault in kept.faults[:MOST_SHOWN]],
            more_faults=max(len(kept.faults) - MOST_SHOWN, 0),
            faulty_rows=len(faulty),
            waiting_rows=len(rows - faulty),
            counts=counts,
            promised=promised[:MOST_SHOWN],
            others=others[:MOST_SHOWN],
            more=max(len(promised) - MOST_SHOWN, 0) + max(len(others) - MOST_SHOWN, 0),
            to_call=_without_address(good),
        )

    @property
    def to_mend(self) -> int:
        return sum(self.counts[each] for each in (Outcome.FAULTY, Outcome.FULL, Outcome.UNJUDGED, Outcome.LEFT))

    @property
    def not_fitting(self) -> int:
        return self.counts[Outcome.FULL] + self.counts[Outcome.UNJUDGED]


def _fault(fault: dict[str, Any]) -> dict[str, Any]:
    column = BY_KEY.get(fault["column"])
    return fault | {"word": column.word if column else ""}


def _lines(orders: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    return [
        line
        | {
            "who": order["who"],
            "name": order["name"],
            "order": order["order"],
            "state": order["state"],
            "label": Outcome(order["state"]).label,
            "asked": _day(line.get("asked")),
            "pickup": _day(line.get("pickup")),
            "days": [_day(day) for day in line.get("days", ())],
        }
        for order in orders
        for line in order["lines"] or [{"row": order["rows"][0], "says": ""}]
    ]


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None


def _without_address(orders: Sequence[dict[str, Any]]) -> int:
    """An address in the list is only that of a new customer: who is known keeps theirs."""
    listed = {order["who"]: order["address"] for order in orders}
    known = dict(Customer.objects.filter(name__in=listed).values_list("name", "email"))
    return sum(not known.get(name, address) for name, address in listed.items())
