"""What is done about money. Each service takes keywords and `by`, runs in one transaction and records history."""

from .billing import issue
from .crediting import credit
from .payments import record_payment, take_back_payment
from .reminders import remind

__all__ = ["credit", "issue", "record_payment", "remind", "take_back_payment"]
