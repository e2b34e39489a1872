"""The season as it stands, kept in memory between two questions: only what changed meanwhile is read again.

What a part takes is known by its stamp (`stamps.py`), which another number replaces with every change, so that
what is given here is what the database holds at this moment, inside a transaction as well. Places, people and
calendar are few, and are read each time.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

from django.utils.translation import get_language

from orders.models import Nursery

from . import bridge
from .models import Part, PartStamp
from .planning import terms
from .planning.conflicts import conflicts
from .planning.load import Load
from .planning.promise import load_for

MOST_KEPT = 3
FEW = 100  # parts up to which those that changed are asked for by their keys


@dataclass(frozen=True)
class _Kept:
    stamps: dict[int, int]
    claims: dict[int, bridge.Claims]
    season: terms.Season

    @cached_property
    def conflicts(self) -> tuple[terms.Conflict, ...]:
        return conflicts(load_for(self.season, ()))


# By language, since the labels of claims are words, and by day. Whoever reads takes the lock: one reads for all.
_kept: dict[tuple[str | None, date], _Kept] = {}
_lock = threading.Lock()


def season_of(today: date, *, nursery: Nursery | None = None) -> terms.Season:
    """All that a promise is judged against on `today`: the same object for as long as nothing changes."""
    return _at_hand(today, nursery or Nursery.current()).season


def taken(today: date, nursery: Nursery) -> bridge.Taken:
    """The same, so that some of the parts can be left out."""
    kept = _at_hand(today, nursery)
    return bridge.Taken(replace(kept.season, room=(), hands=()), dict(kept.claims), kept.season)


def pinched(today: date, nursery: Nursery) -> tuple[Load, tuple[terms.Conflict, ...]]:
    """The load of that season, the caller's own, and all its conflicts."""
    kept = _at_hand(today, nursery)
    return load_for(kept.season, ()), kept.conflicts


def _at_hand(today: date, nursery: Nursery) -> _Kept:
    empty, key = bridge.empty_season(today, nursery), (get_language(), today)
    with _lock:
        kept = _refreshed(_kept.pop(key, None), today, empty)
        _kept[key] = kept
        while len(_kept) > MOST_KEPT:
            del _kept[next(iter(_kept))]  # the one that was asked for longest ago
    return kept


def _refreshed(kept: _Kept | None, today: date, empty: terms.Season) -> _Kept:
    stamps = _stamps()  # read before the claims: what changes in between is then read once more the next time
    if kept is None:
        return _with(stamps, bridge.claims_of(today), empty)
    changed = {part for part, stamp in stamps.items() if kept.stamps.get(part) != stamp}
    gone = kept.stamps.keys() - stamps.keys()
    if not changed and not gone:
        same = replace(kept.season, room=(), hands=()) == empty
        return kept if same else _with(stamps, kept.claims, empty)
    if len(changed) > FEW:
        return _with(stamps, bridge.claims_of(today), empty)
    claims = {part: claimed for part, claimed in kept.claims.items() if part not in changed and part not in gone}
    return _with(stamps, claims | bridge.claims_of(today, changed), empty)


def _stamps() -> dict[int, int]:
    """Of each living part."""
    living = Part.objects.filter(state__in=bridge.LIVING).values("pk")
    return dict(PartStamp.objects.filter(part_id__in=living).values_list("part_id", "stamp"))


def _with(stamps: dict[int, int], claims: dict[int, bridge.Claims], empty: terms.Season) -> _Kept:
    # In the order of their keys, so that a season does not depend on what was read when.
    ordered = dict(sorted(claims.items()))
    return _Kept(stamps, ordered, bridge.Taken(empty, ordered).season())
