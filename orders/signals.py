"""The only way up: what the order file tells the apps above it. Each is sent inside the transaction.

`line_changed` and `line_cancelled` carry `line`; `line_collected` carries `line`, `quantity` and the day
`on`. All three carry `by`. `line_ending` carries `line` alone and comes before the line is locked: whoever locks
rows of their own together with a line does so now.
"""

from django.dispatch import Signal

line_changed = Signal()
line_ending = Signal()
line_cancelled = Signal()
line_collected = Signal()
