"""How many pairs two sides give, asked on the page of a batch and by API, and whether its trays are enough."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse
from rest_framework.test import APIClient

from orders.services import take_order
from production.forms.stems import sowing_list, stem_list
from production.models import Part, Place
from production.queries.batch import batches
from production.queries.shares import trays_enough
from production.services import promise
from tests.factories import CustomerFactory, UserFactory
from tests.nursery import TODAY, working_nursery

pytestmark = pytest.mark.django_db


@pytest.fixture
def working(time_machine):
    time_machine.move_to("2027-01-11 09:00 +0000", tick=False)
    return working_nursery()


@pytest.fixture
def part(working) -> Part:
    return confirmed(working)


def confirmed(working, **changes) -> Part:
    order = take_order(customer=CustomerFactory(), lines=[working.line(**changes)], by=None, today=TODAY)
    promise.accept(order=order, by=None, today=TODAY)
    return Part.objects.get(allocations__line=order.lines.get())


@pytest.fixture
def grower(client, working):
    client.force_login(working.grower, backend="django.contrib.auth.backends.ModelBackend")
    return client


def asked(client, part: Part, **values: object):
    return client.get(reverse("batch_stems", args=[part.batch.code, part.number]), values)


MEASURED = {
    "by": "measured", "rootstocks": "2.0 2.2 2.4 3.5", "scions": "1.9 2.5 2.5", "thicker": 0.2, "thinner": 0.2,
}  # fmt: skip
SPREAD = {
    "by": "spread", "rootstock_stems": 60, "scion_stems": 50, "rootstock_mean": 2.2, "scion_mean": 2.2,
    "rootstock_spread": 0.2, "scion_spread": 0.2, "thicker": 0.3, "thinner": 0.3,
}  # fmt: skip


# --- what is typed -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "stems"),
    [
        ("2.1 2.3", [2.1, 2.3]),
        ("2,1; 2,3", [2.1, 2.3]),
        ("2.1, 2.3,\n2.4", [2.1, 2.3, 2.4]),
        ("2.0x3 1.8 × 2", [2.0, 2.0, 2.0, 1.8, 1.8]),
    ],
)
def test_stems_are_read_as_they_are_written(text, stems):
    assert stem_list(text) == stems


@pytest.mark.parametrize("text", ["two", "2.1 -1", "0", "2.1,2.2,2.3", "nan", "inf", "2x0", "1000", "2x9999"])
def test_what_is_no_diameter_is_named(grower, part, text):
    page = asked(grower, part, **MEASURED | {"rootstocks": text})
    assert page.status_code == 422
    assert page.context["form"].errors["rootstocks"]


@pytest.mark.parametrize("text", ["2027-03-02", "soon 60", "2027-02-30 60", "2027-03-02 0", "2027-03-02 -3"])
def test_what_is_no_sowing_is_named(grower, part, text):
    page = asked(grower, part, by="sown", scion_sowings=text)
    assert page.status_code == 422
    assert "is no sowing" in page.context["form"].errors["scion_sowings"][0]


def test_sowings_are_read_line_by_line():
    (first, second) = sowing_list("2027-03-02 60\n2027-03-04: 40\n")
    assert (first[1], second[1], second[0] - first[0]) == (60, 40, timedelta(days=2))


# --- the answers ---------------------------------------------------------------------------------------------


def test_measured_stems_are_matched_and_what_is_left_is_told(grower, part):
    """By hand: 2.0 with 1.9; 2.4 with 2.5; 2.2 and the second 2.5 lie 0.3 apart; 3.5 is too thick."""
    answer = asked(grower, part, **MEASURED).context["answer"]
    assert (answer.pairs, answer.rootstocks_left, answer.scions_left) == (2, 2, 1)


def test_of_a_sample_all_there_are_is_expected(grower, part):
    answer = asked(grower, part, **MEASURED | {"rootstock_stems": 100, "scion_stems": 90}).context["answer"]
    assert answer.pairs == 2
    assert answer.expected.bad_day <= answer.expected.mean <= answer.expected.good_day <= 90


def test_a_sample_of_one_and_one_side_alone_are_refused(grower, part):
    one = asked(grower, part, **MEASURED | {"rootstocks": "2.0", "rootstock_stems": 100, "scion_stems": 90})
    assert one.context["form"].errors["rootstocks"]
    half = asked(grower, part, **MEASURED | {"rootstock_stems": 100})
    assert half.context["form"].errors["scion_stems"]


def test_equal_sides_pair_better_than_unlike_ones(grower, part):
    same = asked(grower, part, **SPREAD).context["answer"].expected
    unlike = asked(grower, part, **SPREAD | {"rootstock_mean": 3.0}).context["answer"].expected
    assert unlike.mean < same.mean <= 50


def test_by_sowing_days_the_batch_is_answered_at_once(grower, part):
    page = asked(grower, part)
    answer, form = page.context["answer"], page.context["form"]
    assert page.status_code == 200
    assert form.cleaned_data["graft_day"] == part.graft_day
    assert [day for day, _stems in form.cleaned_data["scion_sowings"]] == [part.sowings.get(subject="scion").day]
    assert 0 < answer.expected.bad_day <= answer.expected.mean <= answer.most
    assert [(each.sowings, each.apart) for each in answer.successions] == [(1, 0), (2, 1), (2, 2), (2, 3), (2, 4)]


def test_a_second_sowing_buys_off_a_clock_that_is_unsure(grower, part):
    unsure = asked(grower, part, by="sown", sides_differ=2, plants_differ=0.5, tolerance=25).context["answer"]
    assert unsure.best
    assert unsure.gain == unsure.best.pairs.bad_day - unsure.once.pairs.bad_day > 0


def test_a_side_sown_weeks_too_late_gives_no_pairs(grower, part):
    late = (part.graft_day - timedelta(days=3)).isoformat()
    assert asked(grower, part, by="sown", scion_sowings=f"{late} 100").context["answer"].expected.mean == 0


def test_a_place_too_cold_for_the_clock_is_said_beside_the_form(grower, part):
    Place.objects.filter(name="Germination chamber").update(temperature=3)
    page = asked(grower, part, by="sown", plants_differ=1)
    assert page.status_code == 422
    assert "Set the temperatures" in page.content.decode()


# --- who, and where ------------------------------------------------------------------------------------------


def test_the_batch_leads_there_and_a_batch_that_is_not_grafted_does_not(grower, working, part):
    way = reverse("batch_stems", args=[part.batch.code, part.number])
    assert way in grower.get(reverse("batch", args=[part.batch.code])).content.decode()
    assert grower.get(reverse("batch_stems", args=["B999", 1])).status_code == 404
    assert grower.get(reverse("batch_stems", args=[part.batch.code, 9])).status_code == 404


def test_a_program_gets_the_same_answer_and_the_same_faults(grower, working, part):
    api = APIClient()
    api.force_authenticate(working.grower)
    way = f"/api/batches/{part.batch.code}/{part.number}/stems/"
    measured = api.get(way, MEASURED).json()
    assert (measured["pairs"], measured["rootstocks_left"], measured["expected"]) == (2, 2, None)
    sown = api.get(way).json()
    assert sown["expected"]["bad_day"] == asked(grower, part).context["answer"].expected.bad_day
    assert len(sown["successions"]) == 5
    wrong = api.get(way, MEASURED | {"scions": "thick"})
    assert wrong.status_code == 400
    assert "is no diameter" in str(wrong.json())
    assert api.get(way, {"by": "guess"}).status_code == 400
    assert api.get("/api/batches/B999/1/stems/").status_code == 404


def test_strangers_see_nothing(client, part):
    client.force_login(UserFactory(username="stranger"), backend="django.contrib.auth.backends.ModelBackend")
    assert asked(client, part).status_code == 403


# --- are the trays enough ------------------------------------------------------------------------------------


def test_filled_trays_are_enough_more_often_than_what_is_planned(grower, working, part):
    """By the core's own sums: size_given of all cells; the page tells both in a hundred."""
    enough = trays_enough(batches().get(code=part.batch.code), working.nursery)[part.pk]
    assert 0.95 <= enough.as_planned <= enough.filled
    assert (
        "if every cell of its seed trays is sown"
        in grower.get(reverse("batch", args=[part.batch.code])).content.decode()
    )
    api = APIClient()
    api.force_authenticate(working.grower)
    [shown] = api.get(f"/api/batches/{part.batch.code}/").json()["parts"]
    assert shown["enough"] == {"as_planned": enough.as_planned, "filled": enough.filled}


def test_once_sown_that_is_no_question_any_more(grower, working, part):
    part.sowings.update(sown_on=TODAY)
    assert not trays_enough(batches().get(code=part.batch.code), working.nursery)
