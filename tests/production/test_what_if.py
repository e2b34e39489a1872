"""What if: both seasons side by side, nothing stored until saved, and then all of it or none."""

from datetime import timedelta
from decimal import Decimal

import pytest
import time_machine
from django.urls import reverse

from orders.models import HistoryEntry
from orders.refusals import Refused
from production import bridge
from production.models import ClosedDay, Part, Person, PersonAbsence, Place, Stay, Work
from production.planning.conflicts import conflicts
from production.planning.load import Load
from production.services import closing, replan, what_if
from production.services.what_if import Changes
from tests.nursery import TODAY

from .test_season_page import healing, promised

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _on_the_day():
    with time_machine.travel(TODAY):
        yield


@pytest.fixture
def season(ground):
    for quantity in (60, 400, 400):
        promised(ground, quantity)
    return ground


def look(**changes):
    return what_if.look(Changes(**changes), today=TODAY)


def about(found, name):
    return [each for each in found if each.name == name]


def graft_day():
    return Work.objects.filter(kind="graft").earliest("day").day


def test_more_room_ends_the_conflict_and_nothing_is_stored(season):
    place = healing()
    tried = look(place=place, capacity=200.0)
    assert about(tried.conflicts_before, "Healing chamber")
    assert not about(tried.conflicts_after, "Healing chamber")
    place.refresh_from_db()
    assert place.capacity == 12
    assert not Part.objects.filter(batch__stale=True).exists()


def test_before_is_the_season_as_it_is(season):
    now = conflicts(Load(bridge.season_of(TODAY)))
    assert look(place=healing(), capacity=200.0).conflicts_before == now


def test_a_closed_day_is_looked_at_as_the_job_would_plan_again(season):
    """Against what closing and planning again really come to, conflict by conflict and night by night."""
    day = graft_day()
    tried = look(close=day)
    closing.close(days=[closing.Holiday(day, "")], by=season.grower)
    replan.roll_parts(Part.objects.filter(batch__stale=True).order_by("pk").values_list("pk", flat=True), TODAY)
    really = Load(bridge.season_of(TODAY), tried.after.days[-1])
    assert (tried.after.used == really.used).all()
    assert tried.after.asked == pytest.approx(really.asked)
    assert not tried.after.open[tried.after.index(day)]


def test_a_day_opened_again_is_open_then(season):
    day = graft_day()
    closing.close(days=[closing.Holiday(day, "")], by=season.grower)
    tried = look(reopen=ClosedDay.objects.get(day=day))
    assert not tried.before.open[tried.before.index(day)]
    assert tried.after.open[tried.after.index(day)]


def test_somebody_away_leaves_fewer_hours(season):
    day, ada = graft_day(), Person.objects.get(name="Ada")
    tried = look(person=ada, away=(day, day))
    at = tried.before.index(day)
    assert tried.before.hours[-1, at] == 16
    assert tried.after.hours[-1, at] == 8


def test_hours_are_those_of_the_days_on_which_somebody_works(season):
    tried = look(person=Person.objects.get(name="Ada"), hours=Decimal(4))
    monday, saturday = tried.before.index(TODAY), tried.before.index(TODAY + timedelta(days=5))
    assert tried.after.hours[-1, monday] == 12
    assert tried.after.hours[-1, saturday] == tried.before.hours[-1, saturday]


def test_a_line_on_another_day_takes_its_room_along(season):
    line = Part.objects.filter(plants__lte=60).first().allocations.get().line
    tried = look(line=line, pickup=line.pickup + timedelta(days=28))
    owner = f"line:{line.pk}"
    assert tried.moved is not None
    assert any(cause.owner == owner for each in tried.conflicts_before for cause in each.causes)
    nights = {stay.first for part in tried.moved.answers[0].plan.parts for stay in part.stays}
    assert max(nights) > line.pickup


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({}, ""),
        ({"close": TODAY - timedelta(days=1)}, "close"),
        ({"close": TODAY + timedelta(days=6)}, "close"),  # a Sunday
    ],
)
def test_what_cannot_be_is_refused(season, changes, field):
    with pytest.raises(Refused) as refused:
        look(**changes)
    assert refused.value.field == field
    assert refused.value.mend


# --- saved -----------------------------------------------------------------------------------------------------


def save(season, by=None, **changes):
    what_if.save(Changes(**changes), by=by or season.grower, today=TODAY)


def test_all_of_it_is_saved_with_its_history(season):
    day, ada, place = graft_day(), Person.objects.get(name="Ada"), healing()
    save(season, place=place, capacity=200.0, close=day, person=ada, hours=Decimal("7.5"), away=(day, day))
    place.refresh_from_db()
    ada.refresh_from_db()
    assert place.capacity == 200
    assert ClosedDay.objects.get().day == day
    assert PersonAbsence.objects.get().person == ada
    assert ada.monday == Decimal("7.5")
    assert ada.saturday == 0
    assert Part.objects.filter(batch__stale=True).exists()
    assert HistoryEntry.objects.filter(what="place changed").count() == 1


def test_more_room_and_the_line_that_needs_it_are_saved_together(season):
    line = Part.objects.filter(plants__gt=60).last().allocations.get().line
    pickup = line.pickup + timedelta(days=28)
    Place.objects.filter(name="Healing chamber").update(capacity=0.5)
    with pytest.raises(Refused):
        save(season, line=line, pickup=pickup)
    save(season, place=healing(), capacity=200.0, line=line, pickup=pickup)
    line.refresh_from_db()
    assert line.pickup == pickup
    assert healing().capacity == 200


def test_nothing_is_saved_where_the_line_does_not_fit(season):
    line = Part.objects.filter(plants__gt=60).last().allocations.get().line
    Place.objects.filter(name="Healing chamber").update(capacity=0.5)
    day = graft_day()
    with pytest.raises(Refused):
        save(season, close=day, line=line, pickup=line.pickup + timedelta(days=28))
    assert not ClosedDay.objects.exists()


# --- pages and operation ----------------------------------------------------------------------------------------


def test_the_page_looks_by_address_and_saves_by_form(client, season):
    client.force_login(season.grower)
    asked = {"place": healing().pk, "capacity": "200"}
    url = reverse("season_what_if")
    assert client.get(url).status_code == 200
    looked = client.get(url, asked | {"look": "1"})
    assert looked.status_code == 200
    assert "Save this" in looked.content.decode()
    changed = looked.context["compared"].weeks
    assert {week.name for week in changed} >= {"Healing chamber"}
    assert all(week.after.capacity == 200 for week in changed if week.name == "Healing chamber")
    assert all(week.before.over for week in changed if week.name == "Healing chamber")
    assert client.post(url, asked).status_code == 302
    assert healing().capacity == 200


def test_room_that_nobody_lacks_changes_no_week(client, ground):
    promised(ground, 60)
    client.force_login(ground.grower)
    looked = client.get(reverse("season_what_if"), {"place": healing().pk, "capacity": "200", "look": "1"})
    assert looked.context["compared"].weeks == ()
    assert "no week carries more or less" in looked.content.decode()


@pytest.mark.parametrize(
    ("asked", "field"),
    [
        ({"capacity": "5"}, "place"),
        ({"place": "1000000", "capacity": "5"}, "place"),
        ({"close": "soon"}, "close"),
        ({"hours": "4"}, "person"),
        ({"order": "none", "pickup": "2027-05-01"}, "order"),
        ({"pickup": "2027-05-01"}, "order"),
        ({"capacity": "-1"}, "capacity"),
        ({"away_first": "2027-05-02", "away_last": "2027-05-01"}, "away_last"),
    ],
)
def test_a_wrong_field_is_named_on_page_and_by_api(client, season, asked, field):
    client.force_login(season.grower)
    page = client.get(reverse("season_what_if"), asked | {"look": "1"})
    assert page.status_code == 422
    assert field in page.context["form"].errors
    refused = client.post(reverse("api_season_what_if"), asked, content_type="application/json")
    assert refused.status_code == 400
    assert field in {fault["field"] for fault in refused.json()["faults"]}


def test_the_operation_gives_both_seasons_and_keeps_only_when_asked(client, season):
    client.force_login(season.grower)
    url, asked = reverse("api_season_what_if"), {"place": healing().pk, "capacity": 200}
    said = client.post(url, asked, content_type="application/json").json()
    assert said["saved"] is False
    assert about_names(said["conflicts_before"]) >= {"Healing chamber"}
    assert "Healing chamber" not in about_names(said["conflicts_after"])
    assert {week["capacity_then"] for week in said["weeks"] if week["name"] == "Healing chamber"} == {200}
    assert healing().capacity == 12
    assert client.post(url, asked | {"keep": True}, content_type="application/json").json()["saved"] is True
    assert healing().capacity == 200


def about_names(found):
    return {each["name"] for each in found}


def test_only_who_may_replan_looks(client, season):
    client.force_login(season.clerk)
    assert client.get(reverse("season_what_if")).status_code == 403
    assert client.post(reverse("api_season_what_if"), {}, content_type="application/json").status_code == 403


def test_many_batches_are_judged_as_they_stand_and_it_says_so(season, monkeypatch):
    monkeypatch.setattr(what_if, "MOST_REPLANNED", 0)
    tried = look(close=graft_day())
    assert "judged as they stand" in tried.notes[0]
    assert (tried.before.used == tried.after.used).all()


def test_trays_of_the_chamber_are_the_same_as_stored(season):
    tried = look(place=healing(), capacity=200.0)
    row = tried.before.row[str(healing().pk)]
    first = Stay.objects.filter(place=healing()).earliest("first")
    assert tried.before.used[row, tried.before.index(first.first)] >= first.load
