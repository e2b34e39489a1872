"""Places, hands, closed days and seed lots on their pages."""

from datetime import date

import pytest
import time_machine
from dateutil.easter import easter
from django.urls import reverse

from orders.models import Nursery, User
from production import bridge
from production.models import ClosedDay, Person, Place, SeedLot, Skill
from production.planning.terms import UNSAID
from production.services import closing, starting
from tests import factories
from tests.pages import filled

pytestmark = pytest.mark.django_db

PAGES = [
    "places", "new_place", "people", "new_person", "skills", "new_skill", "seed_lots", "new_seed_lot",
    "closed_days", "public_holidays",
]  # fmt: skip


@pytest.fixture
def nursery() -> Nursery:
    return factories.NurseryFactory()


@pytest.fixture
def grower(nursery, client) -> User:
    user = factories.UserFactory(username="ines", role="grower")
    client.force_login(user)
    return user


@pytest.fixture
def place() -> Place:
    return Place.objects.create(name="Bench 1", kinds=["bench"], capacity=40, temperature=21.11)


@pytest.mark.parametrize("page", PAGES)
def test_only_the_grower_edits_places_hands_and_days(client, nursery, page) -> None:
    assert client.get(reverse(page)).url.startswith(reverse("sign_in"))
    for role in ("office", "crew"):
        client.force_login(factories.UserFactory(role=role))
        assert client.get(reverse(page)).status_code == 403
    client.force_login(factories.UserFactory(role="grower"))
    assert client.get(reverse(page)).status_code == 200


# Places.


def test_a_place_is_made_with_its_opening_and_a_spell(client, grower) -> None:
    sent = filled(client.get(reverse("new_place"))) | {
        "name": "Tunnel", "kinds": ["bench", "hardening"], "capacity": "60", "temperature": "16",
        "openings-0-first": "2027-03-01", "openings-0-last": "2027-09-30",
        "temperatures-0-first": "2027-03-01", "temperatures-0-last": "2027-03-14", "temperatures-0-degrees": "9.5",
    }  # fmt: skip
    assert client.post(reverse("new_place"), sent).status_code == 302
    made = Place.objects.get(name="Tunnel")
    assert made.kinds == ["bench", "hardening"]
    assert made.openings.get().last == date(2027, 9, 30)
    assert made.temperatures.get().degrees == 9.5


def test_temperatures_are_typed_in_fahrenheit_and_kept_in_celsius(client, grower, place) -> None:
    factories.NurseryFactory(temperature_unit="F")
    at = reverse("edit_place", args=[place.pk])
    page = client.get(at)
    assert "24-hour mean temperature, °F" in page.content.decode()
    client.post(at, filled(page) | {"temperature": "77"})  # 77 °F = 25 °C
    place.refresh_from_db()
    assert place.temperature == 25.0


def test_a_spell_that_ends_before_it_begins_is_refused(client, grower, place) -> None:
    at = reverse("edit_place", args=[place.pk])
    sent = filled(client.get(at)) | {
        "temperatures-0-first": "2027-03-14", "temperatures-0-last": "2027-03-01", "temperatures-0-degrees": "9",
    }  # fmt: skip
    assert client.post(at, sent).status_code == 422
    assert not place.temperatures.exists()


def test_a_place_must_serve_as_something(client, grower, place) -> None:
    at = reverse("edit_place", args=[place.pk])
    answer = client.post(at, filled(client.get(at)) | {"kinds": []})
    assert "kinds" in answer.context["form"].errors


def test_a_place_out_of_use_is_listed_apart(client, grower, place) -> None:
    Place.objects.create(name="Old bench", kinds=["bench"], capacity=4, active=False)
    page = client.get(reverse("places"))
    assert [row["record"].name for row in page.context["shown"]] == ["Bench 1"]
    assert [row["record"].name for row in page.context["retired"]] == ["Old bench"]


# Hands.


def test_the_first_person_has_every_skill_and_is_not_asked(client, grower) -> None:
    starting.skills()
    page = client.get(reverse("new_person"))
    assert "skills" not in page.context["form"].fields
    client.post(reverse("new_person"), filled(page) | {"name": "Ines", "monday": "6.5"})
    person = Person.objects.get(name="Ines")
    assert person.skills.count() == Skill.objects.count() == 3
    assert float(person.monday) == 6.5


def test_the_second_person_has_the_skills_that_are_ticked(client, grower) -> None:
    skills = starting.skills()
    Person.objects.create(name="Ines")
    sent = filled(client.get(reverse("new_person"))) | {"name": "Marek", "skills": [skills["care"].pk]}
    assert client.post(reverse("new_person"), sent).status_code == 302
    assert [skill.name for skill in Person.objects.get(name="Marek").skills.all()] == ["Potting and care"]


def test_of_somebody_who_works_alone_no_parts_of_the_day_are_asked(client, grower) -> None:
    starting.skills()
    alone = Person.objects.create(name="Ines")
    for at in (reverse("people"), reverse("edit_person", args=[alone.pk])):
        assert "hours_by_part" not in client.get(at).content.decode()


def test_hours_in_the_evening_are_said_where_several_work(client, grower) -> None:
    Person.objects.create(name="Ines")
    marek = Person.objects.create(name="Marek")
    at = reverse("edit_person", args=[marek.pk])
    sent = filled(client.get(at)) | {
        "skills": [starting.skills()["care"].pk],
        "hours_by_part-0-part": "evening", "hours_by_part-0-monday": "2", "hours_by_part-0-tuesday": "0",
    }  # fmt: skip
    assert client.post(at, sent).status_code == 302
    known = {person.name: person for person in bridge.people()}
    assert known["Marek"].evenings == (2.0, 0.0, None, None, None, None, None)
    assert known["Marek"].mornings == UNSAID
    assert not known["Ines"].has_parts
    Person.objects.get(name="Ines").delete()  # what was said stays in sight
    assert 'name="hours_by_part-0-monday" value="2' in client.get(at).content.decode()


@pytest.mark.parametrize(
    ("rows", "field"),
    [
        ((("evening", "5"), ("morning", "4")), "monday"),  # of eight hours
        ((("evening", "1"), ("evening", "1")), "part"),
        ((("evening", ""),), "monday"),
    ],
)
def test_parts_of_the_day_that_cannot_be_are_refused(client, grower, rows, field) -> None:
    Person.objects.create(name="Ines")
    marek = Person.objects.create(name="Marek")
    marek.skills.add(starting.skills()["care"])
    at = reverse("edit_person", args=[marek.pk])
    sent = filled(client.get(at)) | {"hours_by_part-TOTAL_FORMS": len(rows)}
    for number, (part, hours) in enumerate(rows):
        sent |= {f"hours_by_part-{number}-{name}": "" for name in (*Person.WEEKDAYS, "id")}
        sent |= {f"hours_by_part-{number}-part": part, f"hours_by_part-{number}-monday": hours}
    answer = client.post(at, sent)
    assert answer.status_code == 422
    (_inline, formset), *_others = answer.context["inlines"]
    assert set(formset.errors[-1]) == {field}
    assert not marek.hours_by_part.exists()


def test_an_evening_is_never_longer_than_the_hours_that_are_left_of_a_day() -> None:
    """Hours may become fewer where nobody looks at their parts, as on the first evening."""
    marek = Person.objects.create(name="Marek", monday=3)
    marek.hours_by_part.create(part="evening", monday=2)
    marek.hours_by_part.create(part="morning", monday=2)
    (known,) = bridge.people()
    assert (known.mornings[0], known.evenings[0]) == (2.0, 1.0)


def test_a_user_is_one_person(client, grower) -> None:
    Person.objects.create(name="Ines", user=grower)
    users = client.get(reverse("new_person")).context["form"].fields["user"].queryset
    assert grower not in users


def test_a_skill_that_somebody_has_stays(client, grower) -> None:
    skill = starting.skills()["care"]
    Person.objects.create(name="Ines").skills.add(skill)
    answer = client.post(reverse("remove_skill", args=[skill.pk]), follow=True)
    assert "1 person" in answer.content.decode()


# Closed days.


def test_a_day_is_closed_once_and_opened_again(client, grower) -> None:
    at = reverse("closed_days")
    assert client.post(at, {"day": "2027-12-24", "name": "Stocktaking"}).status_code == 302
    assert client.post(at, {"day": "2027-12-24", "name": "Again"}).status_code == 422
    closed = ClosedDay.objects.get()
    client.post(reverse("reopen_day", args=[closed.pk]))
    assert not ClosedDay.objects.exists()


@pytest.mark.parametrize("year", [2026, 2027, 2030])
def test_good_friday_and_easter_monday_in_germany(year) -> None:
    # Both are public holidays throughout Germany; the day of Easter is reckoned by dateutil.
    days = {holiday.day for holiday in closing.public_holidays(country="DE", year=year)}
    sunday = easter(year)
    assert {date.fromordinal(sunday.toordinal() - 2), date.fromordinal(sunday.toordinal() + 1)} <= days


def test_american_independence_and_a_german_region() -> None:
    # 5 U.S.C. 6103: 4 July. Bavaria keeps Epiphany, 6 January, as the whole of Germany does not.
    assert date(2028, 7, 4) in {h.day for h in closing.public_holidays(country="US", year=2028)}
    assert date(2027, 1, 6) in {h.day for h in closing.public_holidays(country="DE", year=2027, region="BY")}
    assert date(2027, 1, 6) not in {h.day for h in closing.public_holidays(country="DE", year=2027)}


def test_holidays_are_offered_and_only_those_ticked_are_closed(client, grower) -> None:
    with time_machine.travel(date(2027, 2, 1)):
        client.force_login(grower)
        page = client.get(reverse("public_holidays"), {"country": "DE", "year": "2027"})
        offered = [holiday.day for holiday, _closed in page.context["rows"]]
        assert date(2027, 12, 25) in offered
        assert date(2027, 1, 1) not in offered  # behind us
        client.post(reverse("public_holidays"), {"day": ["2027-12-25 Christmas", "no day"]})
    assert [(closed.day, closed.name) for closed in ClosedDay.objects.all()] == [(date(2027, 12, 25), "Christmas")]


def test_a_country_without_a_list_is_refused_in_words(client, grower) -> None:
    page = client.get(reverse("public_holidays"), {"country": "XX", "year": "2027"})
    assert page.context["rows"] == []
    assert "country" in page.context["form"].errors


# Seed lots.


@pytest.fixture
def tomato():
    crop = factories.CropFactory(botanical_name="Solanum lycopersicum")
    return factories.VarietyFactory(crop=crop)


def test_a_lot_without_a_code_takes_the_next_number(client, grower, tomato) -> None:
    page = client.get(reverse("new_seed_lot"))
    for _again in range(2):
        client.post(reverse("new_seed_lot"), filled(page) | {"variety": tomato.pk, "seeds": "500"})
    assert [lot.code for lot in SeedLot.objects.all()] == ["L1", "L2"]


def test_a_lot_is_in_hand_or_expected(client, grower, tomato) -> None:
    sent = {"variety": tomato.pk, "seeds": "500"}
    answer = client.post(reverse("new_seed_lot"), sent)
    assert "received_on" in answer.context["form"].errors
    assert client.post(reverse("new_seed_lot"), sent | {"expected_on": "2027-02-01"}).status_code == 302


def test_a_poor_test_is_shown_beside_what_the_law_asks(client, grower, tomato) -> None:
    # 7 CFR 201.31: tomato 75 %.
    lot = SeedLot.objects.create(
        code="A", variety=tomato, seeds=500, received_on=date(2027, 1, 4), tested_seeds=100, germinated_seeds=68
    )
    shown = client.get(reverse("edit_seed_lot", args=[lot.pk])).content.decode()
    assert "68 of 100 germinated: 68 %" in shown
    assert "75 % in the United States" in shown
    assert "check your local rules" in shown
    lot.germinated_seeds = 90
    lot.save()
    assert "United States" not in client.get(reverse("edit_seed_lot", args=[lot.pk])).content.decode()


def test_more_germinated_than_were_tested_is_refused(client, grower, tomato) -> None:
    sent = {
        "variety": tomato.pk, "seeds": "500", "received_on": "2027-01-04", "tested_seeds": "50",
        "germinated_seeds": "51",
    }  # fmt: skip
    answer = client.post(reverse("new_seed_lot"), sent)
    assert "germinated_seeds" in answer.context["form"].errors
