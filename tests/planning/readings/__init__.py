"""Plans that tell readings of FORMAT.md apart: each breaks a sentence as somebody may misread it, or seems to.

Every function in `sides`, `plants` and `loads` changes one good plan; its docstring is the sentence that is tried
and the `note` of the plan. Beside it stands what the page says of the plan, by hand: rule, line and part of all
that is impossible; key, first, last, peak and there of all that is in conflict.
"""

from tests.planning.readings import loads, plants, sides
from tests.planning.readings.drafts import Draft, cold, living, readings, spring

__all__ = ["Draft", "cold", "living", "loads", "plants", "readings", "sides", "spring"]
