"""Every address says who may open it; config/roles.py says which role may; nobody else gets in."""

import pytest
from django.contrib.auth.models import Permission

from config.roles import ROLES
from tests.factories import NurseryFactory, UserFactory
from tests.house.addresses import addresses, needs

# Open without signing in, or to everybody who has.
OPEN = {
    "sign-in/": "the way in",
    "sign-out/": "the way out",
    "first-evening/account/": "before there is anybody; it closes with the first user",
    "papers/<str:token>/": "any paper, for whoever works here and holds its token",
    "api/papers/<str:token>/": "the same by API",
    "o/<str:token>/": "a customer, who has no account, by the order's private link",
    "o/<str:token>/papers/<str:paper>/": "the same, for the order's own papers",
    "calendar/<str:token>.ics": "a program that holds a user's private link, with what that user may see",
    "api/schema/": "the description of the API, for whoever is signed in",
    "api/<path:rest>": "says that there is no such operation",
}


ALL = {path: view for path, _name, view in addresses()}


def test_every_address_names_its_permission_or_is_known_to_be_open():
    assert {path for path, view in ALL.items() if not needs(view)} == set(OPEN)


def test_every_permission_that_is_asked_for_exists_and_some_role_has_it(db):
    asked = {code for view in ALL.values() for code in {*needs(view), *needs(view, to_write=True)}}
    given = {code for codes in ROLES.values() for code in codes}
    rows = Permission.objects.values_list("content_type__app_label", "codename")
    assert asked <= given <= {".".join(row) for row in rows}


@pytest.mark.django_db
@pytest.mark.parametrize("address", sorted(path for path in ALL if "<" not in path and path not in OPEN))
def test_a_stranger_is_sent_to_sign_in(client, address):
    UserFactory()
    NurseryFactory()
    answer = client.get(f"/{address}")
    if address.startswith("api/"):
        assert answer.status_code == 401
    else:
        assert (answer.status_code, answer.headers["Location"]) == (302, f"/sign-in/?next=/{address}")


@pytest.mark.django_db
def test_below_the_api_a_stranger_learns_nothing_and_a_program_gets_problems(client):
    NurseryFactory()
    user = UserFactory()
    assert {client.get(f"/api/{path}").status_code for path in ("schema/", "nowhere/", "orders")} == {401}
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    assert client.get("/api/schema/").status_code == 200
    for method in ("get", "post", "delete"):
        answer = getattr(client, method)("/api/orders")
        assert (answer.status_code, answer["Content-Type"]) == (404, "application/problem+json")
        assert "slash" in answer.json()["detail"]


@pytest.mark.django_db
def test_what_a_user_is_shown_is_kept_by_no_shared_cache(client):
    NurseryFactory()
    client.force_login(UserFactory(role="grower"), backend="django.contrib.auth.backends.ModelBackend")
    for address in ("/orders/", "/season/", "/api/orders/", "/nursery/"):
        assert "private" in client.get(address).headers["Cache-Control"], address
