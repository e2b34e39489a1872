"""A changed calendar, place or person: the plans that rest on it are planned again, and no others."""

import datetime as dt

import pytest

from orders.jobs import drain
from orders.models import Job, Nursery
from production.models import Batch, Person, PersonAbsence, Place, PlaceOpening, PlaceTemperature, Stay, Work
from production.planning import terms
from production.services import closing


@pytest.fixture
def part(ground):
    """A part that is promised, and one ten weeks later that is no matter here."""
    found = ground.part(ground.line(later=0))
    ground.line(pickup_asked=dt.date(2027, 6, 30), later=0)
    Job.objects.all().delete()
    return found


def stale():
    return set(Batch.objects.filter(stale=True).values_list("pk", flat=True))


def replanned(part):
    """Do the jobs, as the serving process does in a moment."""
    Job.objects.exclude(kind__startswith="replan").delete()
    drain()
    part.refresh_from_db()
    return part


def close(ground, day):
    return closing.close(days=[closing.Holiday(day, "Fair")], by=ground.grower)


def test_closing_a_day_moves_the_work_planned_on_it_and_nothing_of_others(ground, part):
    graft = part.graft_day
    others = list(Work.objects.exclude(part=part).order_by("pk").values())
    close(ground, graft)
    assert stale() == {part.batch_id}
    assert replanned(part).graft_day != graft
    assert not Work.objects.filter(part=part, day=graft, care=False, state="planned").exists()
    assert list(Work.objects.exclude(part=part).order_by("pk").values()) == others
    assert stale() == set()
    assert part.pickup == dt.date(2027, 4, 21)


def test_a_promised_pickup_stays_when_its_day_is_closed_and_the_part_says_so(ground, part):
    pickup = part.pickup
    close(ground, pickup)
    assert replanned(part).pickup == pickup
    assert any("day promised, is closed" in trouble for trouble in part.troubles)
    (hand_over,) = part.works.filter(kind=terms.HAND_OVER)
    assert hand_over.day == pickup + dt.timedelta(days=1)


def test_opening_the_day_again_takes_the_trouble_away(ground, part):
    (day,) = close(ground, part.pickup)
    replanned(part)
    closing.reopen(day=day, by=ground.grower)
    assert replanned(part).troubles == []
    assert part.works.get(kind=terms.HAND_OVER).day == part.pickup


def test_closing_a_day_without_work_writes_no_job(ground, part):
    close(ground, dt.date(2027, 9, 1))
    assert not Job.objects.exists()
    assert stale() == set()


def test_a_smaller_place_concerns_those_that_stand_there(ground, part):
    chamber = Place.objects.get(pk=Stay.objects.get(part=part, stage_kind="healing").place_id)
    chamber.notes = "new door"
    chamber.save()
    assert not Job.objects.exists()
    chamber.capacity = 1
    chamber.save()
    standing = set(Stay.objects.filter(place=chamber).values_list("part__batch", flat=True))
    assert stale() == standing
    assert Job.objects.filter(kind="replan_parts").count() == 1
    replanned(part)
    assert stale() == set()


@pytest.mark.parametrize("row", [PlaceOpening, PlaceTemperature])
def test_nights_and_temperatures_of_a_place_concern_those_that_stand_there(ground, part, row):
    place = Stay.objects.filter(part=part, stage_kind="germinating").first().place
    more = {"degrees": 15.0} if row is PlaceTemperature else {}
    spell = row.objects.create(place=place, first=dt.date(2027, 1, 1), last=dt.date(2027, 12, 31), **more)
    assert part.batch_id in stale()
    replanned(part)
    spell.delete()
    assert part.batch_id in stale()


def test_fewer_hours_or_an_absence_concern_the_work_of_those_days(ground, part):
    ada = Person.objects.get(name="Ada")
    ada.wednesday += 1
    ada.save()
    assert stale() == set()
    PersonAbsence.objects.create(person=ada, first=part.graft_day, last=part.graft_day)
    assert stale() == {part.batch_id}
    replanned(part)
    weekday = Person.WEEKDAYS[part.graft_day.weekday()]
    ada.hours_by_part.create(part="evening", **{weekday: 2})
    assert part.batch_id in stale()
    for batch in list(stale()):
        replanned(Batch.objects.get(pk=batch).parts.get())
    ada.active = False
    ada.save()
    assert len(stale()) == 2


def test_a_weekday_that_is_closed_from_now_on_moves_its_work(ground, part):
    nursery = Nursery.current()
    weekday = part.graft_day.weekday()
    nursery.open_weekdays = [day for day in nursery.open_weekdays if day != weekday]
    nursery.save()
    assert part.batch_id in stale()
    assert replanned(part).graft_day.weekday() != weekday
