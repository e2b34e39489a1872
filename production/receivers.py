"""What production does when the order file or the nursery's plain data change: free what nobody wants, mark plans
stale, write jobs. All inside the transaction that changes them."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.db import models
from django.db.models import QuerySet
from django.db.models.signals import m2m_changed, post_delete, post_save, pre_save
from django.dispatch import receiver

from orders.models import Nursery, OrderLine, User
from orders.signals import line_cancelled, line_changed, line_collected, line_ending

from .models import Part, Person, PersonAbsence, PersonPart, Place, PlaceOpening, PlaceTemperature, Work
from .papers import needless
from .papers.confirmation import ask_for_confirmation
from .queries import touched
from .services import joining, replan
from .services.common import lock_grown_for, locked


@receiver(line_ending, dispatch_uid="production-line-ending")
def line_is_ending(*, line: OrderLine, **_more: Any) -> None:
    lock_grown_for([line.pk])


@receiver(line_changed, dispatch_uid="production-line-changed")
def line_was_changed(*, line: OrderLine, **_more: Any) -> None:
    for part in _parts_of(line):
        replan.touch(part)


@receiver(line_cancelled, dispatch_uid="production-line-cancelled")
def line_was_cancelled(*, line: OrderLine, by: User | None, **_more: Any) -> None:
    """Nobody waits for these plants now: what is not sown is dropped and its room free, what lives goes on.

    Whoever had a confirmation of the line gets one that says so.
    """
    if line.confirmed_at:
        ask_for_confirmation(line.order, by=by)
    needless.after_end(line)
    for part in _parts_of(line):
        joining.leave(part, line)
        if part.state == Part.State.PLANNED and not part.allocations.exists():
            drop(part)
        else:
            replan.touch(part)


@receiver(line_collected, dispatch_uid="production-line-collected")
def line_was_collected(*, line: OrderLine, on: date, **_more: Any) -> None:
    needless.after_hand_over(line, on)


def drop(part: Part) -> None:
    part.stays.all().delete()
    part.works.filter(state=Work.State.PLANNED).update(state=Work.State.DROPPED)
    part.state = Part.State.DROPPED
    part.save(update_fields=["state"])


def _parts_of(line: OrderLine) -> list[Part]:
    parts: QuerySet[Part] = Part.objects.filter(allocations__line=line).order_by("pk")
    return [locked(part) for part in parts]


# --- the nursery itself --------------------------------------------------------------------------------------

# What plans rest on; a new name or note makes none of them stale.
PLANNED_WITH: dict[type[models.Model], tuple[str, ...]] = {
    Place: ("kinds", "measure", "capacity", "temperature", "active"),
    Person: ("active", *Person.WEEKDAYS),
    Nursery: ("open_weekdays",),
}
EVERY_WEEKDAY = frozenset(range(7))


@receiver(pre_save, sender=Place, dispatch_uid="production-place-before")
@receiver(pre_save, sender=Person, dispatch_uid="production-person-before")
@receiver(pre_save, sender=Nursery, dispatch_uid="production-nursery-before")
def keep_what_was(*, sender: type[models.Model], instance: models.Model, raw: bool = False, **_more: Any) -> None:
    """Of the fields that plans rest on, keep what those were that this save changes."""
    names = PLANNED_WITH[sender]
    saved = None if raw or not instance.pk else sender._default_manager.filter(pk=instance.pk)
    was = (saved.values(*names).first() if saved is not None else None) or {}
    changed = {name: value for name, value in was.items() if value != getattr(instance, name)}
    vars(instance)["_planned_with"] = changed


def _was(instance: models.Model) -> dict[str, Any]:
    was: dict[str, Any] = vars(instance).pop("_planned_with", {})
    return was


@receiver(post_save, sender=Place, dispatch_uid="production-place-saved")
def place_was_saved(*, instance: Place, **_more: Any) -> None:
    if _was(instance):
        replan.touch_all(touched.standing_in(instance.pk))


@receiver([post_save, post_delete], sender=PlaceOpening, dispatch_uid="production-opening-changed")
@receiver([post_save, post_delete], sender=PlaceTemperature, dispatch_uid="production-spell-changed")
def nights_of_a_place_changed(
    *, instance: PlaceOpening | PlaceTemperature, raw: bool = False, **_more: Any
) -> None:
    if not raw:
        replan.touch_all(touched.standing_in(instance.place_id))


@receiver(post_save, sender=Person, dispatch_uid="production-person-saved")
def person_was_saved(*, instance: Person, **_more: Any) -> None:
    """Fewer hours: work may have to move. More of them move nothing that is planned already."""
    was = _was(instance)
    fewer = {number for number, name in enumerate(Person.WEEKDAYS) if was.get(name, 0) > getattr(instance, name)}
    _touch_weekdays(EVERY_WEEKDAY if was.get("active") else fewer)


@receiver(post_save, sender=PersonPart, dispatch_uid="production-part-of-day-saved")
def hours_lie_in_a_part(*, instance: PersonPart, raw: bool = False, **_more: Any) -> None:
    """Hours said to lie in one part of the day no longer do for another."""
    if not raw:
        _touch_weekdays({number for number, hours in enumerate(instance.hours) if hours is not None})


@receiver(post_save, sender=PersonAbsence, dispatch_uid="production-absence-saved")
def person_is_away(*, instance: PersonAbsence, raw: bool = False, **_more: Any) -> None:
    if not raw:
        first = max(instance.first, Nursery.current().today())
        replan.touch_all(touched.working_between(first, instance.last))


@receiver(m2m_changed, sender=Person.skills.through, dispatch_uid="production-skills-changed")
def person_lost_a_skill(*, action: str, **_more: Any) -> None:
    if action in ("post_remove", "post_clear"):
        _touch_weekdays(EVERY_WEEKDAY)


@receiver(post_save, sender=Nursery, dispatch_uid="production-nursery-saved")
def nursery_was_saved(*, instance: Nursery, **_more: Any) -> None:
    was = _was(instance)
    if was:
        _touch_weekdays(set(was["open_weekdays"]) ^ set(instance.open_weekdays))


def _touch_weekdays(weekdays: set[int] | frozenset[int]) -> None:
    if weekdays:
        replan.touch_all(touched.working_on_weekdays(weekdays, today=Nursery.current().today()))
