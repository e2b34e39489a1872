"""Amounts that the database adds up."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.db.models import Case, DecimalField, F, Q, QuerySet, Subquery, Sum, Value, When
from django.db.models.functions import Coalesce

from orders import money

from ..models import Payment

ZERO = Decimal("0.00")


class Amount(DecimalField):
    """A reckoned amount: SQLite adds binary fractions, so it is rounded where it comes in."""

    def from_db_value(self, value: Decimal | None, _expression: Any, _connection: Any) -> Decimal | None:
        return None if value is None else money.amount(value)


AMOUNT = Amount(max_digits=14, decimal_places=2)

# A payment adds; what was given back takes away; taking back a mistake does the opposite of the mistake.
_ADDS = Q(kind=Payment.Kind.PAYMENT) | Q(kind=Payment.Kind.TAKEN_BACK, corrects__kind=Payment.Kind.REFUND)
SIGNED = Case(When(_ADDS, then=F("amount")), default=-F("amount"), output_field=AMOUNT)


def summed(rows: QuerySet[Any], group: str, what: Any, field: Any) -> Coalesce:
    """The sum over rows that belong to an outer row; 0 without any."""
    sums = rows.order_by().values(group).annotate(sum=Sum(what)).values("sum")
    return Coalesce(Subquery(sums, output_field=field), Value(0, output_field=field))
