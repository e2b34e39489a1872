"""The nursery's own data on its pages: who may, what is saved, what is refused, in which unit."""

import re

import pytest
from django.urls import reverse

from orders import accounts, history, records
from orders.models import Container, Crop, Customer, HistoryEntry, Nursery, User, Variety
from orders.refusals import Refused
from orders.units import UNITS
from orders.views import orders as order_views
from orders.views import records as record_views
from tests import factories
from tests.pages import filled

pytestmark = pytest.mark.django_db

GROWERS_PAGES = [
    "nursery_settings", "users", "new_user", "crops", "new_crop", "varieties", "new_variety", "containers",
    "new_container", "prices", "new_price",
]  # fmt: skip
OFFICE_PAGES = ["customers", "new_customer"]


@pytest.fixture
def nursery() -> Nursery:
    return factories.NurseryFactory()


@pytest.fixture
def grower(nursery, client) -> User:
    user = factories.UserFactory(username="ines", role="grower")
    client.force_login(user)
    return user


# Who may.


@pytest.mark.parametrize("page", [*GROWERS_PAGES, *OFFICE_PAGES])
def test_a_stranger_is_sent_to_sign_in(client, nursery, page) -> None:
    answer = client.get(reverse(page))
    assert answer.status_code == 302
    assert answer.url.startswith(reverse("sign_in"))


@pytest.mark.parametrize("page", GROWERS_PAGES)
@pytest.mark.parametrize("role", ["office", "crew", None])
def test_only_the_grower_edits_the_nursery(client, nursery, page, role) -> None:
    client.force_login(factories.UserFactory(role=role))
    assert client.get(reverse(page)).status_code == 403


def test_the_office_keeps_customers_and_the_crew_does_not(client, nursery) -> None:
    client.force_login(factories.UserFactory(role="office"))
    assert client.get(reverse("customers")).status_code == 200
    client.force_login(factories.UserFactory(role="crew"))
    assert client.get(reverse("customers")).status_code == 403


@pytest.mark.parametrize("page", [*GROWERS_PAGES, *OFFICE_PAGES])
def test_the_grower_sees_every_page(client, grower, page) -> None:
    assert client.get(reverse(page)).status_code == 200


def test_signing_in_leads_to_where_one_wanted_to_go(client, nursery) -> None:
    factories.UserFactory(username="ines", role="grower")
    sent = {"username": "ines", "password": "a long password", "next": reverse("crops")}
    assert client.post(reverse("sign_in"), sent).url == reverse("crops")


# What is saved.


def test_an_empty_list_says_what_belongs_there(client, grower) -> None:
    assert "No crops yet" in client.get(reverse("crops")).content.decode()


@pytest.fixture
def customers() -> None:
    for name, place, phone in (
        ("Weir Farm", "2 Mill Lane\nCaher", "086 123 4567"),
        ("Longacre", "The Quay\nYoughal", "(086) 765-4321"),
    ):
        email = f"{name.split()[0].lower()}@customer.example"
        factories.CustomerFactory(name=name, address=place, phone=phone, email=email)


@pytest.mark.parametrize(
    "words", ["weir", "FARM weir", "caher", "mill farm", "1234567", "0861234567", "086 123", "weir@customer"]
)
def test_a_customer_is_found_by_name_place_telephone_or_email(client, grower, customers, words) -> None:
    page = client.get(reverse("customers"), {"q": words}).content.decode()
    assert "Weir Farm" in page
    assert "Longacre" not in page
    rows = client.get("/api/nursery/customers/", {"q": words}).json()
    assert [row["name"] for row in rows] == ["Weir Farm"]


def test_what_is_not_found_is_not_called_empty(client, grower, customers) -> None:
    page = client.get(reverse("customers"), {"q": "harbour"}).content.decode()
    assert "Nothing here has that" in page
    assert "No customers yet" not in page


def test_the_pages_of_a_search_keep_to_it(client, grower, monkeypatch) -> None:
    monkeypatch.setattr(record_views, "A_PAGE", 2)
    for n in range(3):
        factories.CustomerFactory(name=f"Far Field {n}")
        factories.OrderFactory(customer=factories.CustomerFactory(name=f"Near & {n}"))
    page = client.get(reverse("customers"), {"q": "far field"})
    assert len(page.context["shown"]) == 2
    assert 'href="?q=far+field&amp;page=2"' in page.content.decode()
    assert [
        str(row["record"]) for row in client.get("/nursery/customers/?q=far+field&page=2").context["shown"]
    ] == ["Far Field 2"]
    monkeypatch.setattr(order_views, "A_PAGE", 2)
    page = client.get(reverse("orders"), {"q": "near &"}).content.decode()
    assert 'href="?q=near+%26&amp;state=&amp;page=2"' in page


def test_a_variety_is_found_by_its_crop_also_when_it_is_no_longer_in_use(client, grower) -> None:
    factories.VarietyFactory(name="Old Red", crop__name="Tomato", active=False)
    factories.VarietyFactory(name="Dun", crop__name="Melon")
    page = client.get(reverse("varieties"), {"q": "tom"}).content.decode()
    assert "Old Red" in page
    assert "Dun" not in page


def test_a_crop_is_made_with_its_history(client, grower) -> None:
    page = client.get(reverse("new_crop"))
    answer = client.post(reverse("new_crop"), filled(page) | {"name": "Tomato", "botanical_name": "Solanum"})
    assert answer.status_code == 302
    crop = Crop.objects.get(name="Tomato")
    assert history.of(crop).get().by == "ines"


def test_what_changed_is_said_in_the_history_and_nothing_where_nothing_did(client, grower) -> None:
    crop = factories.CropFactory()
    at = reverse("edit_crop", args=[crop.pk])
    client.post(at, filled(client.get(at)))
    assert not history.of(crop).exists()
    client.post(at, filled(client.get(at)) | {"emerged_share": "0.8"})
    assert "Share that emerges" in history.of(crop).get().text


def test_a_new_variety_begins_with_its_crops_values(client, grower) -> None:
    crop = factories.CropFactory(emergence_sum=102.4, emerged_share=0.87, basis="as published")
    client.post(
        reverse("new_variety"),
        {"crop": crop.pk, "name": "Tallis Red", "role": "scion", "thousand_seeds_price": "310"},
    )
    made = Variety.objects.get(name="Tallis Red")
    assert (made.emergence_sum, made.emerged_share, made.basis) == (102.4, 0.87, "as published")


def test_a_best_sum_outside_its_window_is_refused_beside_its_field(client, grower) -> None:
    crop = factories.CropFactory()
    at = reverse("edit_crop", args=[crop.pk])
    answer = client.post(at, filled(client.get(at)) | {"graftable_aim": "9999"})
    assert answer.status_code == 422
    assert "between the first and the last" in answer.context["form"].errors["graftable_aim"][0]


def test_settings_are_saved_with_open_days_as_numbers(client, grower) -> None:
    at = reverse("nursery_settings")
    page = client.get(at)
    sent = filled(page)
    answer = client.post(at, sent | {"open_weekdays": ["0", "2", "5"], "tax_rate": "13.5"})
    assert answer.status_code == 302
    saved = Nursery.current()
    assert saved.open_weekdays == [0, 2, 5]
    assert saved.set_up
    assert "Tax rate" in history.of(saved).get().text


def test_an_unknown_time_zone_is_refused(client, grower) -> None:
    at = reverse("nursery_settings")
    page = client.get(at)
    sent = filled(page)
    assert client.post(at, sent | {"time_zone": "Moon/Far_Side"}).status_code == 422


# Units.


@pytest.mark.parametrize(
    ("quantity", "unit", "kept", "shown"),
    # Freezing and boiling water, and body heat; the inch is 2.54 cm by definition (international yard, 1959).
    [
        ("degrees", "F", 0.0, 32.0), ("degrees", "F", 100.0, 212.0), ("degrees", "F", 37.0, 98.6),
        ("degrees", "C", 21.5, 21.5), ("length", "in", 2.54, 1.0), ("length", "in", 53.8988, 21.22),
        ("degree_days", "F", 100.0, 180.0),
    ],
)  # fmt: skip
def test_units_there_and_back(quantity, unit, kept, shown) -> None:
    assert UNITS[quantity][unit].shown(kept) == shown
    assert UNITS[quantity][unit].kept(shown) == pytest.approx(kept, abs=1e-4)


def test_what_is_typed_is_shown_again_as_typed() -> None:
    typed = [hundredths / 100 for hundredths in range(-400, 14_000)]
    for quantity, unit in (("degrees", "F"), ("degree_days", "F"), ("length", "in")):
        unit = UNITS[quantity][unit]
        assert [unit.shown(unit.kept(number)) for number in typed] == typed


def test_a_tray_is_measured_in_inches_where_the_nursery_does(client, grower) -> None:
    factories.NurseryFactory(length_unit="in")
    sent = {
        "name": "Plug flat", "kind": "plug_tray", "plants": "72", "length_cm": "21.22", "width_cm": "11",
        "positions": "1", "active": "on",
    }  # fmt: skip
    assert client.post(reverse("new_container"), sent).status_code == 302
    tray = Container.objects.get(name="Plug flat")
    assert (tray.length_cm, tray.width_cm) == (53.8988, 27.94)
    assert "21.22 × 11 in" in client.get(reverse("containers")).content.decode()


def test_saving_untouched_in_another_unit_changes_nothing(client, grower) -> None:
    crop = factories.CropFactory(emergence_base=7.62, graftable_aim=222.22)
    factories.NurseryFactory(temperature_unit="F")
    at = reverse("edit_crop", args=[crop.pk])
    assert client.post(at, filled(client.get(at))).status_code == 302
    crop.refresh_from_db()
    assert (crop.emergence_base, crop.graftable_aim) == (7.62, 222.22)


def test_a_bound_is_said_in_the_nurserys_unit(client, grower) -> None:
    crop = factories.CropFactory()
    factories.NurseryFactory(temperature_unit="F")
    at = reverse("edit_crop", args=[crop.pk])
    answer = client.post(at, filled(client.get(at)) | {"growth_ceiling": "300"})
    assert "from 23.0 to 140.0 °F" in answer.context["form"].errors["growth_ceiling"][0]


# Taking away.


def test_what_nothing_refers_to_can_be_taken_away(client, grower) -> None:
    customer = factories.CustomerFactory()
    client.post(reverse("remove_customer", args=[customer.pk]))
    assert not Customer.objects.exists()
    assert HistoryEntry.objects.filter(what="customer taken away", code=customer.name).exists()


def test_what_is_used_stays_and_the_page_says_by_what(client, grower) -> None:
    line = factories.LineFactory()
    answer = client.post(reverse("remove_variety", args=[line.scion.pk]), follow=True)
    assert Variety.objects.filter(pk=line.scion.pk).exists()
    assert "order line" in answer.content.decode()


def test_a_price_keeps_its_crop_from_being_taken_away() -> None:
    crop = factories.CropFactory()
    crop.price_set.create(kind="grafted", unit_price=1)
    with pytest.raises(Refused, match="1 price"):
        records.remove(record=crop, by=None)


def test_a_get_takes_nothing_away(client, grower) -> None:
    customer = factories.CustomerFactory()
    assert client.get(reverse("remove_customer", args=[customer.pk])).status_code == 405


# Who signs in.


def test_a_new_user_may_do_what_the_role_says(client, grower) -> None:
    sent = {"username": "marek", "name": "Marek", "role": "crew", "password": "a longer password"}
    assert client.post(reverse("new_user"), sent).status_code == 302
    made = User.objects.get(username="marek")
    assert made.has_perm("production.record_work")
    assert not made.has_perm("orders.edit_nursery")
    assert made.check_password("a longer password")


@pytest.mark.parametrize(("field", "value"), [("username", "INES"), ("password", "short"), ("role", "king")])
def test_a_user_that_cannot_be_made_says_which_field(client, grower, field, value) -> None:
    sent = {"username": "marek", "name": "", "role": "crew", "password": "a longer password", field: value}
    answer = client.post(reverse("new_user"), sent)
    assert answer.status_code == 422
    assert field in answer.context["form"].errors


def test_the_last_grower_stays_one(client, grower) -> None:
    answer = client.post(reverse("edit_user", args=[grower.pk]), {"role": "office", "active": "on"})
    assert "only grower" in str(answer.context["form"].errors)
    with pytest.raises(Refused):
        accounts.change_user(user=grower, name="", role="grower", active=False, by=grower)


def test_who_may_no_longer_sign_in_has_no_token_either(client, grower) -> None:
    other = factories.UserFactory(role="office")
    client.post(reverse("user_token", args=[other.pk]), {"do": "make"})
    assert other.auth_token.key in client.get(reverse("edit_user", args=[other.pk])).content.decode()
    client.post(reverse("edit_user", args=[other.pk]), {"role": "office"})
    other = User.objects.get(pk=other.pk)
    assert not other.is_active
    assert not hasattr(other, "auth_token")


def test_a_new_token_replaces_the_old_one(client, grower) -> None:
    first = accounts.make_token(user=grower, by=grower)
    second = accounts.make_token(user=grower, by=grower)
    assert first != second
    assert User.objects.get(pk=grower.pk).auth_token.key == second


def test_the_first_grower_is_made_once(nursery) -> None:
    made = accounts.make_first_grower(username="ines", name="", password="a longer password")
    assert accounts.role_of(made) == "grower"
    with pytest.raises(Refused, match="already"):
        accounts.make_first_grower(username="eve", name="", password="a longer password")


def test_pages_have_no_inline_script_or_style(client, grower) -> None:
    for page in [*GROWERS_PAGES, *OFFICE_PAGES]:
        html = client.get(reverse(page)).content.decode()
        assert not re.search(r"<style|\sstyle=|\son\w+=|<script(?![^>]*src=)", html), page


def test_only_whoever_may_open_the_nursery_is_shown_the_way(client, grower) -> None:
    way = f'href="{reverse("nursery")}"'
    sections = client.get(reverse("customers")).content.decode().split('class="sections"')[1].split("</nav>")[0]
    assert way in sections
    client.force_login(factories.UserFactory(role="office"))
    sections = client.get(reverse("customers")).content.decode().split('class="sections"')[1].split("</nav>")[0]
    assert way not in sections


def test_one_shelf_is_marked_at_a_time(client, grower) -> None:
    shelves = client.get(reverse("crops")).content.decode().split('class="shelves"')[1].split("</nav>")[0]
    assert shelves.count("aria-current") == 1


def test_guessing_a_password_is_slowed_down_in_words(client, nursery) -> None:
    factories.UserFactory(username="ines", role="grower")
    for _guess in range(9):
        answer = client.post(reverse("sign_in"), {"username": "ines", "password": "guessed"})
    assert answer.status_code == 429
    assert "wrong too often" in answer.content.decode()
