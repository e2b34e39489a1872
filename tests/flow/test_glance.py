"""The first minute of the day: each figure counts what its list shows, for those who may open the list."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from rest_framework.test import APIClient

from invoicing.services import billing
from orders import services as orders
from orders import states
from orders.models import Letter, OrderLine
from production.models import Part, Place, Work
from production.services.readiness import send_notice
from tests.browser import assert_holds
from tests.factories import CustomerFactory
from tests.nursery import TODAY
from tests.production.growing import ground

pytestmark = pytest.mark.django_db


@pytest.fixture
def clock(time_machine):
    time_machine.move_to(f"{TODAY}T09:00:00Z", tick=False)
    return time_machine


@pytest.fixture
def on(clock):
    return ground()


def at_noon(clock, day: date) -> None:
    clock.move_to(f"{day}T12:00:00Z", tick=False)


def figures(user) -> dict[str, int]:
    api = APIClient()
    api.force_authenticate(user)
    return {row["key"]: row["number"] for row in api.get("/api/glance/").json()}


def test_on_a_quiet_day_nothing_is_due_and_the_page_says_so(client, on):
    client.force_login(on.grower)
    page = client.get(reverse("glance")).content.decode()
    assert "Nothing is due, nothing is late, and nobody waits for you." in page
    assert set(figures(on.grower).values()) == {0}


def test_what_is_due_late_and_waiting_for_seed_are_counted_as_today_shows_them(client, on, clock):
    line = on.line(scion_seed="customers", rootstock_seed="customers")
    part = on.part(line)
    first = Work.objects.filter(part=part).order_by("day").first().day
    at_noon(clock, first)
    n = Work.objects.filter(part=part, day=first, kind="sow").count()
    assert figures(on.grower)["waiting"] == n
    for variety in (on.scion, on.rootstock):
        on.lot(variety, customer=line.order.customer)
    assert (figures(on.grower)["due"], figures(on.grower)["waiting"]) == (n, 0)
    at_noon(clock, first + timedelta(days=1))
    assert (figures(on.grower)["late"], figures(on.grower)["due"]) == (n, 0)
    client.force_login(on.grower)
    page = client.get(reverse("glance")).content.decode()
    assert 'href="/#part-late"' in page
    assert 'id="part-late"' in client.get("/").content.decode()


def test_conflicts_of_the_next_three_weeks_and_not_later_ones(on, clock):
    on.lots()
    part = on.part(on.line())
    graft = part.graft_day
    Place.objects.filter(name="Healing chamber").update(capacity=0.5)
    at_noon(clock, graft - timedelta(days=21))
    assert figures(on.grower)["conflicts"] == 0
    at_noon(clock, graft - timedelta(days=20))
    assert figures(on.grower)["conflicts"] == 1


def test_lines_that_may_run_short_or_come_late_lead_to_their_batches(client, on):
    on.lots()
    short, late, well = (on.part(on.line(quantity=20)) for _n in range(3))
    Part.objects.filter(pk=short.pk).update(chance=0.4)
    Part.objects.filter(pk=late.pk).update(late_by=3)
    counted = figures(on.grower)
    assert (counted["risk"], counted["behind"]) == (1, 1)
    client.force_login(on.grower)
    listed = client.get(reverse("batches") + "?only=risk").content.decode()
    assert f">{short}<" in listed
    assert "full in 40 of 100" in listed
    assert f">{well}<" not in listed
    listed = client.get(reverse("batches") + "?only=late").content.decode()
    assert f">{late}<" in listed
    assert f">{short}<" not in listed
    api = APIClient()
    api.force_authenticate(on.crew)
    assert [each["code"] for each in api.get("/api/batches/?only=risk").json()] == [short.batch.code]
    assert len(api.get("/api/batches/").json()) == 3


def test_replies_awaited_by_us_and_by_them(client, on):
    held = on.line()
    OrderLine.objects.filter(pk=held.pk).update(state=states.HELD, hold_until=TODAY + timedelta(days=1))
    on.asked()
    on.asked(own_crop=True)
    counted = figures(on.clerk)
    assert (counted["held"], counted["asked"]) == (1, 1)
    client.force_login(on.clerk)
    page = client.get(reverse("glance")).content.decode()
    assert f"{held} for {held.order.who}, held until Tue 12 January" in page


def test_letters_to_read_calls_to_make_and_whom_to_tell(on):
    line = on.line(CustomerFactory(email=""))
    other = on.line()
    Letter.objects.create(kind="c", key="1", customer=line.order.customer, subject="S", text="T", state="to_call")
    Letter.objects.create(kind="c", key="2", customer=other.order.customer, subject="S", text="T", state="draft")
    Letter.objects.create(kind="c", key="3", customer=other.order.customer, subject="S", text="T", state="failed")
    OrderLine.objects.filter(pk=line.pk).update(state=states.READY, ready_quantity=60)
    counted = figures(on.clerk)
    assert [counted[key] for key in ("calls", "drafts", "failed", "to_tell")] == [1, 1, 1, 1]
    send_notice(line=OrderLine.objects.get(pk=line.pk), by=on.clerk, today=TODAY)
    assert figures(on.clerk)["to_tell"] == 0


def test_money_owed_and_to_bill(on, clock):
    line = on.line(unit_price=Decimal("2.00"))
    OrderLine.objects.filter(pk=line.pk).update(state=states.READY, ready_quantity=60)
    line.refresh_from_db()
    orders.mark_collected(line=line, quantity=60, by=on.clerk, on=TODAY)
    assert figures(on.clerk)["to_bill"] == 1
    billing.issue(order=line.order, by=on.clerk, today=TODAY)
    counted = figures(on.clerk)
    assert [counted[key] for key in ("to_bill", "owed", "overdue")] == [0, 1, 0]
    at_noon(clock, TODAY + timedelta(days=120))
    assert figures(on.clerk)["overdue"] == 1


def test_each_sees_only_what_their_lists_are_open_to(client, on):
    on.asked()
    assert not {"held", "drafts", "owed", "risk"} & set(figures(on.crew))
    assert {"late", "due", "conflicts"} <= set(figures(on.crew))
    assert {"held", "drafts", "owed", "risk"} <= set(figures(on.clerk))
    client.force_login(on.stranger)
    assert client.get(reverse("glance")).status_code == 403


def test_its_queries_do_not_grow_with_the_season(client, on, django_assert_max_num_queries):
    on.lots()
    client.force_login(on.grower)
    _season(on, 2)
    client.get(reverse("glance"))
    with django_assert_max_num_queries(70) as queries:
        client.get(reverse("glance"))
        few = len(queries)
    _season(on, 6)
    client.get(reverse("glance"))  # the day turns once for what is new
    with django_assert_max_num_queries(few):
        assert client.get(reverse("glance")).status_code == 200


def _season(on, orders_of_each: int) -> None:
    for n in range(orders_of_each):
        short, late, held = on.line(quantity=10), on.line(quantity=10), on.line(quantity=10)
        Part.objects.filter(allocations__line=short).update(chance=0.4)
        Part.objects.filter(allocations__line=late).update(late_by=3)
        OrderLine.objects.filter(pk=held.pk).update(state=states.HELD, hold_until=TODAY)
        on.asked(quantity=10)
        key = f"{orders_of_each}-{n}"
        Letter.objects.create(
            kind="c", key=key, customer=late.order.customer, subject="S", text="T", state="draft"
        )
        Work.objects.filter(part__allocations__line__in=[short, late]).update(day=TODAY)
        ready = on.line(quantity=10)
        OrderLine.objects.filter(pk=ready.pk).update(state=states.READY, ready_quantity=10)


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_it_holds_on_a_phone_and_its_numbers_lead_to_their_lists(open_page, on):
    on.lots()
    short = on.line(quantity=20)
    Part.objects.filter(allocations__line=short).update(chance=0.4)
    on.asked()
    phone = open_page("phone", on.grower)
    phone.goto(reverse("today"))
    phone.get_by_role("link", name="At a glance").click()
    phone.get_by_role("heading", name="At a glance").wait_for()
    assert_holds(phone)
    phone.get_by_role("link", name="line that may run short").click()
    phone.get_by_role("heading", name="Batches whose orders may run short").wait_for()
    assert_holds(phone)
