"""Reads of the bill: what was handed over and not billed, what is owed, and how an order stands."""

from typing import TYPE_CHECKING

from .amounts import ZERO
from .deposits import Deposit, deposits_in_hand, deposits_left_over, deposits_to_come
from .issued import (
    InvoiceState,
    find_papers,
    invoice_state,
    invoices,
    left_to_credit,
    overdue,
    owed,
    owed_in_all,
    paid_too_much,
    paper,
    papers,
    payments,
)
from .order import (
    MoneyState,
    OrderMoney,
    is_over,
    money_state,
    money_states,
    order_money,
    order_value,
    still_to_bill,
)
from .unbilled import ToBill, lines_to_bill, to_bill, with_billed

if TYPE_CHECKING:
    from .issued import Paper as Paper
    from .unbilled import Line as Line

__all__ = [
    "ZERO",
    "Deposit",
    "InvoiceState",
    "MoneyState",
    "OrderMoney",
    "ToBill",
    "deposits_in_hand",
    "deposits_left_over",
    "deposits_to_come",
    "find_papers",
    "invoice_state",
    "invoices",
    "is_over",
    "left_to_credit",
    "lines_to_bill",
    "money_state",
    "money_states",
    "order_money",
    "order_value",
    "overdue",
    "owed",
    "owed_in_all",
    "paid_too_much",
    "paper",
    "papers",
    "payments",
    "still_to_bill",
    "to_bill",
    "with_billed",
]
