"""An empty nursery, from its first account to being able to promise its first order."""

import time
from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from config.pages.guesses import country_of_browser, machine_zone
from orders.models import Container, Crop, Nursery, OrderLine, User, Variety
from production.models import ClosedDay, Person, Place, Protocol
from production.services.answering import what_if
from tests import factories
from tests.pages import filled

pytestmark = pytest.mark.django_db

ACCOUNT = {"username": "ines", "name": "Ines", "password": "a longer password"}


def step(name: str) -> str:
    return reverse("first_evening_step", args=[name])


@pytest.fixture
def grower(client) -> User:
    client.post(reverse("first_evening_account"), ACCOUNT)
    return User.objects.get()


def hands(page, *people: dict) -> dict:
    """The hands step as a browser sends it, with these people in its rows."""
    formset = page.context["formset"]
    sent = {field.html_name: field.value() for field in formset.management_form}
    for number, person in enumerate(people):
        sent |= {f"form-{number}-{name}": value for name, value in person.items()}
    return sent


def take_steps_to(client, last: str) -> None:
    """Every step before `last`, with its starting values."""
    about = client.get(step("about"))
    client.post(step("about"), filled(about) | {"name": "Ashwell Grafting", "country": "IE"})
    if last == "tax":
        return
    client.post(step("tax"), filled(client.get(step("tax"))))
    client.post(step("places"), filled(client.get(step("places"))))
    client.post(step("days"), {"open_weekdays": ["0", "1", "2", "3", "4"]})
    if last == "hands":
        return
    client.post(step("hands"), hands(client.get(step("hands")), {"name": "Ines", "hours": "8"}))


def test_an_empty_nursery_asks_for_its_first_account(client) -> None:
    for page in ("today", "sign_in", "nursery"):
        assert client.get(reverse(page)).url == reverse("first_evening_account")
    assert client.get(reverse("first_evening_account")).status_code == 200


def test_the_first_account_is_a_growers_and_signed_in(client, grower) -> None:
    assert grower.has_perm("orders.edit_nursery")
    assert client.get(reverse("today")).url == reverse("first_evening")
    assert client.get(reverse("first_evening")).url == step("about")


def test_there_is_only_one_first_account(client, grower) -> None:
    client.logout()
    assert client.get(reverse("first_evening_account")).url == reverse("sign_in")
    client.post(reverse("first_evening_account"), ACCOUNT | {"username": "eve"})
    assert User.objects.count() == 1


def test_a_weak_password_is_refused_beside_its_field(client) -> None:
    answer = client.post(reverse("first_evening_account"), ACCOUNT | {"password": "password"})
    assert answer.status_code == 422
    assert "password" in answer.context["form"].errors


def test_a_stranger_signs_in_before_the_first_evening(client, grower) -> None:
    client.logout()
    assert client.get(step("about")).url.startswith(reverse("sign_in"))


def test_the_crew_waits_for_the_grower(client, grower) -> None:
    client.force_login(factories.UserFactory(role="crew"))
    answer = client.get(reverse("today"))
    assert answer.status_code == 503
    assert "The grower sets the nursery up first" in answer.content.decode()
    assert client.get(step("about")).status_code == 403


def test_country_money_and_units_are_guessed_from_the_browser(client, grower) -> None:
    page = client.get(step("about"), headers={"accept-language": "en-US,en;q=0.8"})
    guessed = page.context["form"].instance
    assert (guessed.country, guessed.currency, guessed.temperature_unit, guessed.length_unit) == (
        "US", "USD", "F", "in",
    )  # fmt: skip
    assert guessed.first_weekday == 6
    assert not Nursery.objects.exists()  # only shown


@pytest.mark.parametrize(
    ("accepted", "country"),
    [
        ("en-IE,en;q=0.9", "IE"),
        ("de", "DE"),
        ("en", ""),
        ("zh-Hant-TW", "TW"),
        ("*", ""),
        ("", ""),
        ("x" * 99, ""),
    ],
)
def test_the_country_of_a_browser(accepted, country) -> None:
    assert country_of_browser(accepted) == country


def test_the_zone_of_a_machine(tmp_path) -> None:
    zone = tmp_path / "zoneinfo" / "Europe" / "Dublin"
    zone.parent.mkdir(parents=True)
    zone.write_text("")
    (tmp_path / "localtime").symlink_to(zone)
    assert machine_zone(tmp_path / "localtime") == "Europe/Dublin"
    assert machine_zone(tmp_path / "nothing") == ""


def test_no_step_can_be_taken_before_the_nursery_has_a_name(client, grower) -> None:
    assert client.get(step("crops")).url == reverse("first_evening")
    assert client.get(step("nonsense")).url == reverse("first_evening")


def test_a_nursery_needs_a_name(client, grower) -> None:
    page = client.get(step("about"))
    answer = client.post(step("about"), filled(page) | {"name": ""})
    assert "name" in answer.context["form"].errors


def test_steps_can_be_gone_back_to_and_show_what_was_said(client, grower) -> None:
    take_steps_to(client, "crops")
    assert client.get(step("about")).context["form"]["name"].value() == "Ashwell Grafting"
    assert client.get(step("places")).context["form"]["healing"].value() == 24
    client.post(step("places"), filled(client.get(step("places"))) | {"healing": "30", "staging": "0"})
    assert Place.objects.filter(kinds=["healing"]).get().capacity == 30
    assert not Place.objects.filter(kinds=["staging"]).exists()
    assert Place.objects.count() == 4


def test_who_works_alone_can_do_everything_on_open_days(client, grower) -> None:
    take_steps_to(client, "crops")
    person = Person.objects.get()
    assert person.skills.count() == 3
    assert person.hours == (8, 8, 8, 8, 8, 0, 0)


def test_hands_entered_twice_are_the_same_people(client, grower) -> None:
    take_steps_to(client, "hands")
    sent = {"name": "Ines", "hours": "7.5"}
    client.post(step("hands"), hands(client.get(step("hands")), sent))
    person = Person.objects.get()
    client.post(step("hands"), hands(client.get(step("hands")), sent | {"person": person.pk, "name": "Ines B"}))
    assert Person.objects.get().name == "Ines B"
    assert Person.objects.get().monday == Decimal("7.5")


def test_a_skill_that_nobody_has_is_named(client, grower) -> None:
    take_steps_to(client, "hands")
    page = client.get(step("hands"))
    sowing = page.context["formset"].forms[0].fields["skills"].queryset.get(name="Sowing")
    people = [{"name": name, "hours": "8", "skills": [sowing.pk]} for name in ("Ines", "Marek")]
    answer = client.post(step("hands"), hands(page, *people))
    assert answer.status_code == 422
    assert "Nobody has the skill “Grafting”" in answer.content.decode()
    assert not Person.objects.exists()


def test_holidays_that_are_ticked_are_closed(client, grower) -> None:
    take_steps_to(client, "crops")
    offered = client.get(step("days")).context["holidays"]
    assert any(holiday.day.month == 12 and holiday.day.day == 25 for holiday in offered)
    client.post(step("days"), {"open_weekdays": ["0"], "day": [f"{offered[0].day} {offered[0].name}"]})
    assert ClosedDay.objects.get().day == offered[0].day


def test_the_last_step_needs_those_before_it(client, grower) -> None:
    take_steps_to(client, "tax")
    answer = client.post(step("crops"), {"crops": ["tomato"]})
    assert answer.status_code == 422
    assert not Nursery.current().set_up


def test_after_the_last_step_an_order_can_be_promised(client, grower) -> None:
    began = time.monotonic()
    take_steps_to(client, "crops")
    assert client.post(step("crops"), {"crops": ["tomato"]}).url == reverse("first_evening_done")
    assert client.get(reverse("first_evening_done")).status_code == 200
    assert set(Crop.objects.values_list("name", flat=True)) == {"Tomato"}
    assert Protocol.objects.filter(current=True).count() == 3
    assert client.get(reverse("nursery")).status_code == 200
    assert client.get(step("about")).url == reverse("nursery")

    nursery = Nursery.current()
    crop = Crop.objects.get()
    scion, rootstock = (Variety.from_crop(crop, name, "both") for name in ("Tallis Red", "Kelder"))
    scion.save()
    rootstock.save()
    pickup = nursery.today() + timedelta(days=84)
    pickup += timedelta(days=-pickup.weekday())  # a Monday
    line = OrderLine(
        scion=scion, rootstock=rootstock, quantity=100, method="splice", pickup_asked=pickup, later=6,
        container=Container.objects.get(plants=10),
    )  # fmt: skip
    assert what_if([line], today=nursery.today())[0].fits
    assert time.monotonic() - began < 600  # the first order within ten minutes


def test_the_done_page_waits_for_the_last_step(client, grower) -> None:
    assert client.get(reverse("first_evening_done")).url == reverse("first_evening")
