"""A field that was left empty says what to do, in every form and by API."""

from collections.abc import Iterator

import pytest
from django import forms
from django.urls import get_resolver
from rest_framework.test import APIClient

from orders.forms.nursery import CustomerForm
from orders.models import Nursery
from production.forms.standing import StandingForm
from tests.factories import NurseryFactory, UserFactory

OURS = ("config", "orders", "production", "invoicing")


def kinds(of: type) -> Iterator[type]:
    for kind in of.__subclasses__():
        yield kind
        yield from kinds(kind)


def test_no_form_of_ours_says_only_that_a_field_is_required():
    assert get_resolver().url_patterns  # every view, and with it every form, is read
    said = {
        f"{form.__name__}.{name}": str(field.error_messages["required"])
        for form in kinds(forms.BaseForm)
        if form.__module__.split(".")[0] in OURS
        for name, field in getattr(form, "base_fields", {}).items()
    }
    assert len(said) > 100
    assert {name: words for name, words in said.items() if "required" in words} == {}


def test_what_to_do_depends_on_the_kind_of_field(db):
    assert CustomerForm({}, nursery=Nursery()).errors["name"] == ["Nothing is written here. Write it."]
    errors = StandingForm({}).errors
    assert errors["plants"] == ["No number is written here. Say how many."]
    assert errors["pickup"] == ["No day is chosen. Choose one."]
    assert errors["place"] == ["Nothing is chosen. Choose one."]


@pytest.mark.django_db
def test_the_api_says_so_with_the_name_of_the_field():
    NurseryFactory()
    client = APIClient()
    client.force_authenticate(UserFactory(role="grower"))
    faults = client.post("/api/orders/", {"lines": [{}]}, format="json").json()["faults"]
    assert faults
    assert {fault["reason"] for fault in faults if fault["field"] == "lines.0.quantity"} == {
        "It is missing. Say what it is."
    }
