"""What if: a capacity, a closed day, crew hours or a pickup changed, and the season seen before and after.

Looking stores nothing. Saving does what the pages of places, closed days, hands and moves do, all or none: solving
happens before the transaction, and the referee judges a moved line inside it, on fresh data.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders import records
from orders.access import EDIT_NURSERY
from orders.models import Nursery, OrderLine, User
from orders.refusals import Refused

from .. import at_hand, bridge
from ..models import ClosedDay, Part, Person, PersonAbsence, Place
from ..planning import terms
from ..planning.claims import place_claims
from ..planning.conflicts import conflicts
from ..planning.load import Load
from ..queries import touched
from . import answering, closing, judging, moving, replan
from .joining import alone

MOST_REPLANNED = 60  # parts planned again to see what a change does; of more, their plans are judged as they stand


@dataclass(frozen=True, slots=True)
class Changes:
    """What would be otherwise; what is None stays as it is."""

    place: Place | None = None
    capacity: float | None = None
    close: date | None = None
    reopen: ClosedDay | None = None
    person: Person | None = None
    hours: Decimal | None = None  # on each day on which the person works now
    away: tuple[date, date] | None = None
    line: OrderLine | None = None
    pickup: date | None = None

    @property
    def of_nursery(self) -> bool:
        return self.place is not None or self.person is not None or bool(self.close or self.reopen)


@dataclass(frozen=True, slots=True)
class Tried:
    """The season as it is and as it would be. `notes` say what was planned again for it, and what was not."""

    before: Load
    after: Load
    conflicts_before: tuple[terms.Conflict, ...]
    conflicts_after: tuple[terms.Conflict, ...]
    notes: tuple[str, ...] = ()
    moved: moving.Move | None = None

    @property
    def refused(self) -> bool:
        """Whether the line would not fit on its new day even so."""
        return self.moved is not None and not self.moved.fits


def look(changes: Changes, *, today: date) -> Tried:
    """See both seasons. Stores nothing. Raises Refused for a change that cannot be."""
    _refuse(changes, today)
    nursery = Nursery.current()
    taken = at_hand.taken(today, nursery)
    now = taken.season()
    changed = bridge.Taken(_changed(taken.empty, changes), dict(taken.claims))
    notes = list(_plan_again(changed, changes, nursery, today))
    moved, last = None, _last(now, today)
    if changes.line and changes.pickup:
        moved = moving.look_at_move(
            line=changes.line, pieces=[(changes.line.quantity, changes.pickup)], today=today, taken=changed
        )
        changed = _with_moved(changed, moved)
    before, after = Load(now, last), Load(changed.season(), last)
    return Tried(before, after, conflicts(before), conflicts(after), tuple(notes), moved)


def _last(season: terms.Season, today: date) -> date:
    return max((claim.leaves for claim in season.room), default=today)


# --- what cannot be -------------------------------------------------------------------------------------------


def _refuse(changes: Changes, today: date) -> None:
    if not changes.of_nursery and changes.line is None:
        raise Refused(_("Nothing is changed."), mend=_("Change a place, a day, a person's time or a pickup."))
    calendar = bridge.calendar_of(Nursery.current())
    if changes.close and changes.close < today:
        raise Refused(_("That day is past."), mend=_("Choose a day to come."), field="close")
    if changes.close and not calendar.is_open(changes.close):
        raise Refused(
            _("The nursery is closed on that day already."), mend=_("Choose an open day."), field="close"
        )


def _changed(season: terms.Season, changes: Changes) -> terms.Season:
    """The nursery as it would be."""
    closed = set(season.calendar.closed)
    closed -= {changes.reopen.day} if changes.reopen else set()
    closed |= {changes.close} if changes.close else set()
    return replace(
        season,
        calendar=replace(season.calendar, closed=frozenset(closed)),
        places=tuple(_place(place, changes) for place in season.places),
        people=tuple(_person(person, changes) for person in season.people),
    )


def _place(place: terms.Place, changes: Changes) -> terms.Place:
    if changes.place is None or changes.capacity is None or place.key != str(changes.place.pk):
        return place
    return replace(place, capacity=changes.capacity)


def _person(person: terms.Person, changes: Changes) -> terms.Person:
    if changes.person is None or person.key != str(changes.person.pk):
        return person
    if changes.away:
        person = replace(person, away=(*person.away, terms.Span(*changes.away)))
    if changes.hours is not None:
        now = bridge.person_of(with_hours(changes.person, changes.hours))
        person = replace(now, away=person.away)
    return person


def with_hours(person: Person, hours: Decimal) -> Person:
    """The person, not saved, with so many hours on each weekday on which there are any."""
    twin = Person.objects.get(pk=person.pk)
    for name, there in zip(Person.WEEKDAYS, person.hours, strict=True):
        if there:
            setattr(twin, name, hours)
    return twin


# --- what would be planned again ------------------------------------------------------------------------------


def _plan_again(taken: bridge.Taken, changes: Changes, nursery: Nursery, today: date) -> Iterable[str]:
    """Plan again, one after another, what the job would plan again after such a change; says what it came to."""
    stale = _stale(changes, nursery, today)
    count = stale.count()
    if not count:
        return
    if count > MOST_REPLANNED:
        yield _(
            "%(n)d batches would be planned again, too many to try while you wait: they are judged as they stand."
        ) % {"n": count}
        return
    kept, around = 0, replan.Around(today, taken)
    for part in bridge.living_parts().filter(pk__in=stale.values("pk")).order_by("pk"):
        wish, rolled = replan.what_if(part, around)
        if isinstance(rolled, str):
            kept += 1
        else:
            taken.claims[part.pk] = _claims(part, wish, rolled, taken.claims[part.pk], today)
    yield ngettext(
        "One batch is planned again for it.", "%(n)d batches are planned again for it.", count - kept
    ) % {"n": count - kept}
    if kept:
        yield ngettext(
            "One could not be, and is judged as it stands.",
            "%(n)d could not be, and are judged as they stand.",
            kept,
        ) % {"n": kept}


def _stale(changes: Changes, nursery: Nursery, today: date) -> QuerySet[Part]:
    """The parts that saving these changes would have planned again."""
    found = Part.objects.none()
    if changes.close:
        found |= touched.working_on([changes.close])
    if changes.reopen:
        found |= touched.working_on(touched.next_to(changes.reopen.day, bridge.calendar_of(nursery)))
    if changes.place and changes.capacity is not None:
        found |= touched.standing_in(changes.place.pk)
    if changes.person and changes.away:
        found |= touched.working_between(max(changes.away[0], today), changes.away[1])
    if changes.person and changes.hours is not None:
        fewer = {number for number, there in enumerate(changes.person.hours) if there > changes.hours}
        if fewer:
            found |= touched.working_on_weekdays(fewer, today=today)
    return found


def _claims(part: Part, wish: terms.Wish, rolled: terms.Rolled, now: bridge.Claims, today: date) -> bridge.Claims:
    """What the part would take, owned as what it takes `now` is; work that is done asks for nothing."""
    works = tuple(_to_do(rolled.part.works, bridge.facts_of(part)))
    room, hands = place_claims(terms.LinePlan(wish, part.pickup, (replace(rolled.part, works=works),)), wish.key)
    owned = [*((claim.owner, claim.label) for claim in now[0]), *((claim.owner, claim.label) for claim in now[1])]
    owner, label = owned[0] if owned else (wish.key, wish.label)
    return (
        [replace(claim, owner=owner, label=label) for claim in room if claim.leaves > today],
        [replace(claim, owner=owner, label=label, day=max(claim.day, today)) for claim in hands],
    )


def _to_do(works: Iterable[terms.WorkPlan], facts: terms.PartFacts) -> Iterable[terms.WorkPlan]:
    recorded = Counter(facts.done)
    for work in sorted(works, key=lambda work: work.day):
        done = terms.Done(work.kind, work.subject, work.stage, work.sowing)
        if recorded[done]:
            recorded[done] -= 1
        else:
            yield work


def _with_moved(taken: bridge.Taken, moved: moving.Move) -> bridge.Taken:
    """The line on its new day: what only it took is given back, what it would take is taken."""
    gone = alone(moved.line)
    claims = {part: claimed for part, claimed in taken.claims.items() if part not in gone}
    for number, answer in enumerate(moved.answers):
        if answer.plan:
            room, hands = place_claims(answer.plan, answer.wish.key)
            claims[-1 - number] = (list(room), list(hands))
    return bridge.Taken(taken.empty, claims)


# --- saving ---------------------------------------------------------------------------------------------------


def save(changes: Changes, *, by: User, today: date) -> None:
    """Make it so, all or none. Raises Refused, also when the line does not fit on its new day even then."""
    if changes.of_nursery and not by.has_perm(EDIT_NURSERY):
        raise Refused(_("You may not change places, hands or closed days."), mend=_("Ask the grower."))
    tried = look(changes, today=today)
    answers = []
    if tried.moved:
        answers = [
            answering.LineAnswer(tried.moved.line, (), answer, tried.moved.protocol)
            for answer in tried.moved.answers
        ]
        for said in answers:
            if not said.fits:
                raise answering.refusal_of(said)
    try:
        with transaction.atomic():
            judging.lock_the_plan()  # before the parts that a change of the nursery touches
            _save_nursery(changes, by)
            if tried.moved:
                moving.commit_move(tried.moved.line, answers, by=by, today=today, over_conflict="")
    except judging.HoldsNoMore as found:
        raise found.refusal() from None


def _save_nursery(changes: Changes, by: User) -> None:
    if changes.place and changes.capacity is not None:
        place = Place.objects.select_for_update().get(pk=changes.place.pk)
        place.capacity = changes.capacity
        place.full_clean()
        place.save()
        records.note_saved(record=place, by=by, new=False, changed=[_("capacity")])
    if changes.close:
        closing.close(days=[closing.Holiday(changes.close, "")], by=by)
    if changes.reopen:
        closing.reopen(day=changes.reopen, by=by)
    if changes.person and changes.away:
        first, last = changes.away
        PersonAbsence.objects.create(person=changes.person, first=first, last=last)
        records.note_saved(record=changes.person, by=by, new=False, changed=[_("away")])
    if changes.person and changes.hours is not None:
        person = with_hours(changes.person, changes.hours)
        person.full_clean()
        person.save()
        records.note_saved(record=person, by=by, new=False, changed=[_("hours")])
