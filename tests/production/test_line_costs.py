"""What a line costs and leaves, and the seed to buy: by hand, and only for those who may see it."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse
from rest_framework.test import APIClient

from orders.models import Price
from orders.services import take_order
from production import line_costs
from production.models import Part
from production.services import answering, promise
from tests.factories import CustomerFactory, UserFactory
from tests.nursery import TODAY, Working, working_nursery
from tests.production import test_joining

pytestmark = pytest.mark.django_db


@pytest.fixture
def working(time_machine) -> Working:
    """Rootstock seed at 320 a thousand in packs of 500, scion seed at 180; 20 an hour, 2 a metre and week."""
    time_machine.move_to("2027-01-11 09:00 +0000", tick=False)
    return priced(working_nursery())


def priced(working: Working) -> Working:
    for variety, price, pack in ((working.rootstock, "320", 500), (working.scion, "180", None)):
        variety.thousand_seeds_price, variety.pack_seeds = Decimal(price), pack
        variety.save()
    return working


def confirmed(working: Working, **changes: object):
    order = take_order(customer=CustomerFactory(), lines=[working.line(**changes)], by=None, today=TODAY)
    promise.accept(order=order, by=None, today=TODAY)
    return order.lines.get()


def test_a_promised_line_costs_its_seed_its_hours_and_its_bench(working):
    """Reckoned again from the stored rows: seeds at their price, hours at 20, m² for nights at 2 a week."""
    line = confirmed(working, unit_price=Decimal("3.50"))
    part = Part.objects.get()
    seeds = {each.subject: each.seeds for each in part.sowings.all()}
    hours = sum(float(each) for work in part.works.all() for _skill, each in work.hours)
    metres = sum(stay.containers * stay.container.area * stay.nights for stay in part.stays.all()) / 7
    found = line_costs.line_cost(line, nursery=working.nursery)
    assert found.seed == pytest.approx(
        Decimal(seeds["rootstock"]) * Decimal("0.32") + Decimal(seeds["scion"]) * Decimal("0.18"),
        abs=Decimal("0.01"),
    )
    assert float(found.work) == pytest.approx(20 * hours, abs=0.01)
    assert float(found.room) == pytest.approx(2 * metres, abs=0.01)
    assert found.price == Decimal("350.00")
    assert found.margin == Decimal("350.00") - found.seed - found.work - found.room
    assert found.each == (found.total / 100).quantize(Decimal("0.01"))


def test_tax_that_prices_include_is_no_income(working):
    working.nursery.prices_include_tax = True
    line = working.line(unit_price=Decimal("1.20"), tax_rate=Decimal(20))
    (said,) = answering.what_if([line], today=TODAY)
    assert line_costs.cost_of_plan(line, said.plan, nursery=working.nursery).price == Decimal("100.00")


def test_seed_of_the_customer_costs_nothing_and_a_price_that_is_missing_is_said(working):
    (brought, unknown) = (working.line(scion_seed="customers", rootstock_seed="customers"), working.line())
    (said,) = answering.what_if([brought], today=TODAY)
    found = line_costs.cost_of_plan(brought, said.plan, nursery=working.nursery)
    assert (found.seed, found.seed_known) == (Decimal("0.00"), True)
    type(working.scion).objects.update(thousand_seeds_price=None)
    unknown.scion.refresh_from_db()
    (said,) = answering.what_if([unknown], today=TODAY)
    assert not line_costs.cost_of_plan(unknown, said.plan, nursery=working.nursery).seed_known


def test_lines_that_share_a_batch_share_its_cost_by_their_plants(time_machine):
    time_machine.move_to("2027-01-11 09:00 +0000", tick=False)
    working = priced(test_joining.narrow())
    first = test_joining.promised(working, unit_price=Decimal(2))
    alone = line_costs.line_cost(first, nursery=working.nursery)
    second = test_joining.taken(working, unit_price=Decimal(2))
    test_joining.join(working, second, Part.objects.get().batch.code)
    shared = [line_costs.line_cost(line, nursery=working.nursery) for line in (first, second)]
    assert shared[0].total == shared[1].total
    assert shared[0].total < alone.total


def test_packs_are_rounded_up_and_what_is_sown_is_not(working):
    to_buy = line_costs.seed_to_buy(working.rootstock, 501)
    assert (to_buy.seeds, to_buy.packs, to_buy.pack, to_buy.cost) == (501, 2, 500, Decimal("160.32"))
    assert line_costs.seed_to_buy(working.scion, 501).packs is None


def test_dear_rootstock_seed_is_spared_in_what_is_planned(working):
    (said,) = answering.what_if([working.line()], today=TODAY)
    type(working.rootstock).objects.filter(pk=working.rootstock.pk).update(thousand_seeds_price=2000)
    line = working.line()
    line.rootstock.refresh_from_db()
    (dear,) = answering.what_if([line], today=TODAY)
    before, after = said.plan.parts[0].sizing, dear.plan.parts[0].sizing
    assert after.rootstock_seeds < before.rootstock_seeds
    assert after.scion_seeds > before.scion_seeds


# --- who sees it ---------------------------------------------------------------------------------------------


def looked_at(client, working: Working, user):
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    Price.objects.create(kind="grafted", unit_price=Decimal("3.00"))
    desk = client.get(reverse("desk")).context["desk"]
    forms = [desk.form, desk.lines.management_form, *desk.lines]
    data = {bound.html_name: bound.value() for form in forms for bound in form if bound.value() is not None}
    wanted = {"quantity": "60", "scion": "Tallis Red", "rootstock": "Kelder", "pickup": "2027-04-21"}
    data |= {f"lines-0-{name}": value for name, value in wanted.items()} | {
        "action": "answer",
        "customer": "Briar",
    }
    data.pop("own_crop", None)
    return client.post(reverse("desk"), data)


def test_the_grower_sees_cost_and_margin_on_the_answer(client, working):
    page = looked_at(client, working, working.grower)
    [card] = page.context["desk"].cards
    assert [fact.word for fact in card.costs] == ["Seed", "Work", "Room", "Together", "Leaves"]
    assert "What it costs and leaves" in page.content.decode()


def test_the_office_does_not(client, working):
    page = looked_at(client, working, UserFactory(username="office", role="office"))
    [card] = page.context["desk"].cards
    assert not card.costs
    assert "What it costs and leaves" not in page.content.decode()


@pytest.mark.parametrize(("role", "sees"), [("grower", True), ("crew", False)])
def test_the_batch_tells_packs_to_all_and_the_price_to_who_may_see_it(client, working, role, sees):
    confirmed(working)
    user = working.grower if role == "grower" else UserFactory(username=role, role=role)
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    page = client.get(reverse("batch", args=[Part.objects.get().batch.code])).content.decode()
    assert "1 pack of 500 seeds" in page
    assert ("seed for" in page) == sees
    api = APIClient()
    api.force_authenticate(user)
    [part] = api.get(f"/api/batches/{Part.objects.get().batch.code}/").json()["parts"]
    assert {row["packs"] for row in part["seed"]} == {1, None}
    assert (part["seed"][0]["cost"] is not None) == sees


def test_a_program_of_the_grower_gets_the_cost_of_a_line(working):
    api = APIClient()
    api.force_authenticate(working.grower)
    wanted = {
        "quantity": 65, "scion": "Tallis Red", "rootstock": "Kelder", "container": working.pot.name,
        "pickup": date(2027, 4, 21).isoformat(), "unit_price": "3.00",
    }  # fmt: skip
    [said] = api.post("/api/promise/", {"lines": [wanted]}, format="json").json()
    assert Decimal(said["cost"]["margin"]) == Decimal("195.00") - Decimal(said["cost"]["total"])
    assert said["cost"]["seed_known"]
    api.force_authenticate(UserFactory(username="office", role="office"))
    assert api.post("/api/promise/", {"lines": [wanted]}, format="json").json()[0]["cost"] is None
