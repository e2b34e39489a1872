"""The papers of growing and promising: their data from our tables, and the jobs that issue and send them."""

from .confirmation import confirmation_data, issue_confirmation
from .day_sheet import day_sheet_data
from .labels import labels_data, labels_of_batch, labels_of_day
from .pickup import issue_pickup_notice, pickup_data
from .quote import issue_quote, quote_data

__all__ = [
    "confirmation_data",
    "day_sheet_data",
    "issue_confirmation",
    "issue_pickup_notice",
    "issue_quote",
    "labels_data",
    "labels_of_batch",
    "labels_of_day",
    "pickup_data",
    "quote_data",
]
