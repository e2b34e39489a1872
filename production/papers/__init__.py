"""The papers of growing and promising: their data from our tables, and the jobs that issue and send them."""

from .confirmation import confirmation_data, issue_confirmation
from .pickup import issue_pickup_notice, pickup_data

__all__ = ["confirmation_data", "issue_confirmation", "issue_pickup_notice", "pickup_data"]
