"""What the lines of a batch are to expect, on its page and behind it."""

import pytest
from django.urls import reverse
from rest_framework.test import APIClient
from scipy import stats

from orders.models import Nursery
from production import bridge
from production.planning.chances import combine
from production.queries.batch import batches
from production.queries.shares import in_a_hundred, lines_expect


def page_of(client, user, batch) -> str:
    client.force_login(user)
    return " ".join(client.get(reverse("batch", args=[batch.code])).content.decode().split())


def expected(part):
    return lines_expect(batches().get(pk=part.batch_id), Nursery.objects.get())


def test_before_anything_is_counted_a_line_expects_what_it_was_planned_with(ground, client):
    line = ground.line()
    part = ground.part(line)
    assert 1 - expected(part)[line.pk].short == pytest.approx(part.chance, abs=1e-3)
    assert f"60; in full {round(100 * part.chance)} times in 100" in page_of(client, ground.crew, part.batch)


def test_a_program_is_told_the_same(ground):
    line = ground.line()
    part = ground.part(line)
    api = APIClient()
    api.force_authenticate(ground.crew)
    (said,) = api.get(f"/api/batches/{part.batch.code}/").json()["lines"]
    outlook = expected(part)[line.pk]
    assert (said["line"], said["quantity"], said["short"]) == (str(line), 60, outlook.short)
    assert (said["expected"], said["low"], said["high"]) == (outlook.expected, outlook.low, outlook.high)


def test_once_grafted_it_is_the_chance_of_so_many_grafts(ground, client):
    ground.lots()
    line = ground.line()
    part = ground.grow_until(ground.part(line), ("graft",))
    ground.do(part, "graft", 70)
    wish = bridge.wish_of(line, nursery=Nursery.objects.get(), protocol=part.batch.protocol)
    after = combine(wish.recipe.take, wish.recipe.kept)
    chance = stats.betabinom(70, after.mean * after.weight, (1 - after.mean) * after.weight).sf(59)
    assert 1 - expected(part)[line.pk].short == pytest.approx(chance)
    assert f"in full {in_a_hundred(chance)} times in 100" in page_of(client, ground.crew, part.batch)


def test_what_is_ready_is_no_chance(ground, client):
    ground.lots()
    line = ground.line()
    part = ground.grow_to_ready(ground.part(line))
    ground.do(part, "count_ready", 55)
    part.refresh_from_db()
    assert expected(part) == {}
    assert "times in 100" not in page_of(client, ground.crew, part.batch)


@pytest.mark.parametrize(
    ("chance", "times"), [(0.0, 0), (0.0004, 0), (0.002, 1), (0.934, 93), (0.998, 99), (0.9999, 100), (1.0, 100)]
)
def test_nothing_is_called_certain_that_is_not(chance, times):
    assert in_a_hundred(chance) == times
