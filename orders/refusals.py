"""The refusal that pages, API and command line all word: which input, why not, and how to mend it."""

from __future__ import annotations


class Refused(Exception):
    """A service will not do what was asked; nothing was changed.

    `field` names the input ('' for the whole), `reason` says what is wrong, `mend` how to put it right.
    """

    def __init__(self, reason: str, *, mend: str = "", field: str = "") -> None:
        self.field = field
        self.reason = str(reason)
        self.mend = str(mend)
        super().__init__(f"{self.reason} {self.mend}".strip())


class ManyRefused(Refused):
    """Several refusals at once, so that all faults of one form or file are shown together."""

    def __init__(self, refusals: list[Refused]) -> None:
        self.refusals = refusals
        first = refusals[0]
        super().__init__(first.reason, mend=first.mend, field=first.field)
