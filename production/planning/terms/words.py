"""The small words: kinds of place, work and stage, and a run of days."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

Side = Literal["rootstock", "scion"]
# Whose plants a stay or a piece of work concerns: one of the two sides before the graft, the union after it,
# the single variety of a plain line, or nothing but room.
Subject = Literal["rootstock", "scion", "union", "plain", "room"]
PartOfDay = Literal["morning", "day", "evening"]  # `day`: at any time of it
LineKind = Literal["grafted", "plain", "room"]

GERMINATION = "germination"
BENCH = "bench"
HEALING = "healing"
HARDENING = "hardening"
STAGING = "staging"
COLD = "cold"
PLACE_KINDS = (GERMINATION, BENCH, HEALING, HARDENING, STAGING, COLD)

# Kinds of work. `count` kinds ask for a number when they are done.
SOW = "sow"
MOVE = "move"
COUNT_EMERGED = "count_emerged"
COUNT_USABLE = "count_usable"
GRAFT = "graft"
PROP = "prop"  # prop the cover open
TAKE_OUT = "take_out"  # out of the healing chamber
COUNT_TAKEN = "count_taken"
NOTCH = "notch"
FINAL_CUT = "final_cut"
STAKE = "stake"
POT = "pot"
TOP = "top"  # top above the cotyledons, for two leaders
CHECK = "check"
COUNT_READY = "count_ready"
HAND_OVER = "hand_over"
WORK_KINDS = (
    SOW, MOVE, COUNT_EMERGED, COUNT_USABLE, GRAFT, PROP, TAKE_OUT, COUNT_TAKEN,
    NOTCH, FINAL_CUT, STAKE, POT, TOP, CHECK, COUNT_READY, HAND_OVER,
)  # fmt: skip

# Kinds of stage.
GERMINATING = "germinating"
RAISING = "raising"
HEAL = "healing"
COVER = "cover"
WEANING = "weaning"
HARDEN = "hardening"
COLD_HOLD = "cold_hold"  # plants stand still in the cold, to be grafted, or to be ready, at another time
GROW_ON = "growing_on"
WAITING = "waiting"
ROOM = "room"
STAGE_KINDS = (GERMINATING, RAISING, HEAL, COVER, WEANING, HARDEN, COLD_HOLD, GROW_ON, WAITING, ROOM)


@dataclass(frozen=True, slots=True)
class Span:
    """A run of days (or nights), first and last both included."""

    first: date
    last: date

    def __contains__(self, day: date) -> bool:
        return self.first <= day <= self.last
