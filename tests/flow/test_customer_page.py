"""The customer's page behind the private link: who may open it, what it says, and saying yes."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from config.pages import customer
from orders import history, jobs
from orders import services as orders
from orders.holding import new_link
from orders.models import Document, Job, MailboxMessage, Order, OrderLine
from production.services import holding, moving
from production.services.quoting import send_quote
from tests.factories import CustomerFactory
from tests.nursery import TODAY, Working, working_nursery

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def clock(time_machine, settings):
    settings.EMAIL_BACKEND = "orders.mailbox.MailboxBackend"
    cache.clear()
    time_machine.move_to(f"{TODAY}T10:00:00Z", tick=False)
    return time_machine


@pytest.fixture
def working() -> Working:
    return working_nursery(tax_rate=Decimal("13.5"), phone="+353 1 555 0100")


@pytest.fixture
def order(working) -> Order:
    return held(working)


def asked(working: Working) -> Order:
    return orders.take_order(
        customer=CustomerFactory(name="Long Field", email="mara@field.example"),
        lines=[working.line(unit_price=Decimal("2.75"))],
        by=working.grower,
        today=TODAY,
    )


def held(working: Working) -> Order:
    order = asked(working)
    holding.hold(order=order, by=working.grower, today=TODAY)
    return order


def page(order: Order) -> str:
    return reverse("customer_order", args=[order.token])


def accept(client, order: Order, **changes: str):
    seen = client.get(page(order)).context["seen"]
    return client.post(page(order), {"name": "Mara Quill", "agree": "on", "seen": seen} | changes)


def state(order: Order) -> str:
    return OrderLine.objects.get(order=order).state


# --- who may, and what is told to whom ------------------------------------------------------------------------


def test_the_link_needs_no_account_and_any_other_opens_nothing(client, order):
    assert client.get(page(order)).status_code == 200
    for token in (order.token[:-1], order.token + "A", "x", "A" * 32, order.code):
        wrong = reverse("customer_order", args=[token])
        for answer in (client.get(wrong), client.post(wrong, {"name": "Mallory", "agree": "on"})):
            assert answer.status_code == 404
            assert "Long Field" not in answer.content.decode()
    assert state(order) == "held"


def test_nobody_on_the_way_keeps_lists_or_hears_of_it(client, order):
    nothing = reverse("customer_order", args=["x"])
    for answer in (client.get(page(order)), client.get(nothing), accept(client, order, name="")):
        assert "no-store" in answer["Cache-Control"]
        assert "noindex" in answer["X-Robots-Tag"]
        assert answer["Referrer-Policy"] == "same-origin"
    assert 'name="robots"' in client.get(page(order)).content.decode()


def test_a_new_link_kills_the_old_one(client, order, working):
    old = page(order)
    new_link(order=order, by=working.grower)
    assert (client.get(old).status_code, client.get(page(order)).status_code) == (404, 200)


def test_the_link_dies_some_weeks_after_the_end_of_the_order(client, order, clock):
    holding.lapse(TODAY + timedelta(days=4))
    clock.shift(timedelta(days=89))
    assert client.get(page(order)).status_code == 200
    clock.shift(timedelta(days=3))
    assert client.get(page(order)).status_code == 404


def test_our_own_crop_has_no_customer_and_no_page(client, working):
    line = working.line()
    own = orders.take_order(customer=None, lines=[line], by=None, today=TODAY, own_crop=True)
    assert client.get(page(own)).status_code == 404


def test_only_the_order_s_own_papers_are_shown(client, order, working):
    other = held_of_another(working)
    mine, theirs, labels = (
        paper(each, kind) for each, kind in ((order, "quote"), (other, "quote"), (order, "labels"))
    )
    way = [reverse("customer_paper", args=[order.token, each.token]) for each in (mine, theirs, labels)]
    assert [client.get(each).status_code for each in way] == [200, 404, 404]
    assert client.get(way[0]).content == b"%PDF-1.7 as issued"
    assert "no-store" in client.get(way[0])["Cache-Control"]
    shown = client.get(page(order)).content.decode()
    assert [each in shown for each in way] == [True, False, False]


def held_of_another(working: Working) -> Order:
    return orders.take_order(customer=CustomerFactory(), lines=[working.line()], by=None, today=TODAY)


def paper(order: Order, kind: str) -> Document:
    return Document.objects.create(
        kind=kind,
        code=order.code,
        title=f"{kind} {order.code}",
        content=b"%PDF-1.7 as issued",
        sha256="-",
        order=order,
    )


def test_who_asks_too_often_waits_a_minute_and_disturbs_nobody_else(client, order, clock):
    wrong = reverse("customer_order", args=["x"])
    answers = [client.get(wrong).status_code for _each in range(customer.OF_ONE_GUESSER + 2)]
    assert answers[: customer.OF_ONE_GUESSER] == [404] * customer.OF_ONE_GUESSER
    assert answers[-1] == 429
    assert client.get(wrong)["Retry-After"] == "60"
    assert client.get(page(order)).status_code == 200, "a link that is known has a count of its own"
    cache.clear()  # as after a minute
    assert client.get(wrong).status_code == 404


def test_accepting_asks_for_the_token_of_the_form_as_every_form_does(order):
    stranger = Client(enforce_csrf_checks=True)
    assert stranger.post(page(order), {"name": "Mara", "agree": "on"}).status_code == 403
    assert state(order) == "held"


# --- what it says ---------------------------------------------------------------------------------------------


def test_the_page_says_what_is_held_until_when_and_for_how_much(client, order):
    said = client.get(page(order)).content.decode()
    for words in (
        "Held for you until Thu 14 January", "Tallis Red on Kelder", "100 plants", "Pickup Wed 21 to Thu 22 April",
        "€275.00", "€312.13", "held for you", "Grafted",
    ):  # fmt: skip
        assert words.lower() in said.lower(), words
    assert "over_conflict" not in said
    assert "Batch" not in said, "the nursery's own names are none of the customer's"


def test_what_is_only_asked_for_is_not_said_to_be_promised(client, working):
    order = asked(working)
    said = client.get(page(order)).content.decode()
    assert "Nothing is promised yet" in said
    assert 'id="accept"' not in said


# --- saying yes -----------------------------------------------------------------------------------------------


def test_accepting_confirms_is_kept_with_name_and_time_and_twice_is_once(client, order):
    seen = client.get(page(order)).context["seen"]
    for _twice in range(2):
        answer = client.post(page(order), {"name": "Mara Quill", "agree": "on", "seen": seen})
        assert (answer.status_code, answer.headers["Location"]) == (302, page(order))
    assert state(order) == "confirmed"
    assert [row.detail["name"] for row in history.of(order).filter(what="accepted by customer")] == ["Mara Quill"]
    said = client.get(page(order)).content.decode()
    assert "Accepted by Mara Quill on 11 January 2027, 10:00" in said
    assert 'id="accept"' not in said
    assert Job.objects.filter(kind="confirmation").count() == 1


@pytest.mark.papers
def test_the_confirmation_follows_by_mail_and_stands_on_the_page(client, order, working):
    send_quote(order=order, by=working.grower)
    jobs.drain()
    accept(client, order)
    jobs.drain()
    assert [mail.subject for mail in MailboxMessage.objects.order_by("pk")] == [
        f"Order {order.code}: quote",
        f"Order {order.code}: confirmation",
    ]
    shown = client.get(page(order)).content.decode()
    for document in Document.objects.filter(order=order):
        assert document.title in shown


@pytest.mark.parametrize(
    ("sent", "says"),
    [
        ({"name": ""}, "Your name"),
        ({"name": "   "}, "Your name"),
        ({"name": "x" * 121}, "Your name"),
        ({"agree": ""}, "I accept this order"),
    ],
)
def test_without_name_or_tick_nothing_is_accepted(client, order, sent, says):
    answer = accept(client, order, **sent)
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert state(order) == "held"


def test_what_was_changed_meanwhile_is_read_again_before_it_is_accepted(client, order, working):
    seen = client.get(page(order)).context["seen"]
    moving.move(line=order.lines.get(), pieces=[(100, date(2027, 4, 28))], by=working.grower, today=TODAY)
    answer = client.post(page(order), {"name": "Mara Quill", "agree": "on", "seen": seen})
    assert (answer.status_code, state(order)) == (409, "held")
    said = answer.content.decode()
    assert "changed while you were reading" in said
    assert "28" in said
    client.post(page(order), {"name": "Mara Quill", "agree": "on", "seen": answer.context["seen"]})
    assert state(order) == "confirmed"


@pytest.mark.parametrize("job_ran", [False, True])
def test_after_its_end_the_page_says_so_politely_and_whom_to_ring(client, order, clock, job_ran):
    seen = client.get(page(order)).context["seen"]
    clock.move_to("2027-01-15T00:00:30Z" if not job_ran else "2027-01-15T08:00:00Z")
    if job_ran:
        jobs.drain()
    for answer in (
        client.get(page(order)),
        client.post(page(order), {"name": "Mara Quill", "agree": "on", "seen": seen}),
    ):
        said = answer.content.decode()
        assert "This promise has ended" in said
        assert "+353 1 555 0100" in said
        assert 'id="accept"' not in said
    assert state(order) == ("let_go" if job_ran else "held")
