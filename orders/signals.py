"""The only way up: what the order file tells the apps above it. Each is sent inside the transaction.

`line_changed` and `line_cancelled` carry `line`; `line_collected` carries `line`, `quantity` and the day
`on`. All carry `by`.
"""

from django.dispatch import Signal

line_changed = Signal()
line_cancelled = Signal()
line_collected = Signal()
