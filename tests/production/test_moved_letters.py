"""Who is told of a move, and how: a draft for each order, a call where there is no address; never unseen."""

from datetime import date, timedelta

import pytest
from django.urls import reverse

from orders import drafts, jobs, states
from orders import services as orders
from orders.models import Document, Letter, MailboxMessage, OrderLine
from orders.refusals import Refused
from production.queries.levelled import moves_of
from production.services import levelling, moving, promise
from tests.factories import CustomerFactory, UserFactory
from tests.nursery import TODAY

from .test_levelling import THURSDAY, crowded, key, levelled, working  # noqa: F401  (fixtures)

pytestmark = [pytest.mark.django_db, pytest.mark.papers]


@pytest.fixture(autouse=True)
def mailbox(settings):
    settings.EMAIL_BACKEND = "orders.mailbox.MailboxBackend"


def test_each_move_says_who_must_be_told_and_how(crowded):  # noqa: F811
    first, second = crowded
    second.order.customer.email = ""
    second.order.customer.save()
    told = {row["key"]: (row["customer"], row["how"]) for row in moves_of(levelled())}
    assert told == {
        key(first): (first.order.customer.name, "email"),
        key(second): (second.order.customer.name, "call"),
    }


def test_taken_moves_draft_one_letter_for_each_order_and_send_nothing(working, crowded):  # noqa: F811
    first, second = crowded
    run = levelled(working.grower)
    sent_before = MailboxMessage.objects.count()
    assert sent_before == 1  # the first one's confirmation
    levelling.take(run, keys=[key(second)], by=working.grower, today=TODAY)
    jobs.drain()
    assert MailboxMessage.objects.count() == sent_before
    moved = Letter.objects.get(order=first.order, state="draft")
    assert (moved.kind, moved.document.revision) == ("pickup_moved", 2)
    assert "until now we had said Thu 22 April" in moved.text
    promised = Letter.objects.get(order=second.order)  # a first promise tells no other day
    assert (promised.kind, promised.state, promised.document.revision) == ("confirmation", "draft", 1)
    drafts.send(letter=moved, by=working.grower)
    jobs.drain()
    assert MailboxMessage.objects.count() == sent_before + 1


def test_without_an_address_the_call_list_has_the_words(working, crowded):  # noqa: F811
    first, second = crowded
    first.order.customer.email = ""
    first.order.customer.save()
    jobs.drain()
    Letter.objects.filter(order=first.order).update(state="called")
    run = levelled(working.grower)
    levelling.take(run, keys=[key(second)], by=working.grower, today=TODAY)
    jobs.drain()
    call = Letter.objects.get(order=first.order, state="to_call")
    assert f"about order {first.order.code}: its pickup is on another day now." in call.call_words
    assert "until now we had said Thu 22 April" in call.call_words


@pytest.fixture
def two_lines(working):  # noqa: F811
    """An order of two promised lines, whose confirmation has left."""
    order = orders.take_order(
        customer=CustomerFactory(),
        lines=[working.line(quantity=40, pickup_asked=THURSDAY), working.line(quantity=30, pickup_asked=THURSDAY)],
        by=None,
        today=TODAY,
    )
    promise.accept(order=order, by=None, today=TODAY)
    jobs.drain()
    return order.lines.order_by("number")


def move(line, days):
    pieces = [(line.quantity, THURSDAY + timedelta(days=days))]
    moving.move(line=line, pieces=pieces, by=UserFactory(role="grower"), today=TODAY)
    jobs.drain()


def test_several_moves_of_one_order_are_one_draft_that_names_the_day_the_customer_knows(two_lines):
    """A line moved twice before anybody read the draft: the day on the customer's paper stays the one named."""
    one, two = two_lines
    move(one, 7)
    move(two, 7)
    move(one, 14)
    draft = Letter.objects.get(order=one.order, state="draft")
    assert draft.document == Document.objects.filter(order=one.order).first()
    assert draft.text.count("until now we had said Thu 22 April") == 2
    assert "Thu 6" in draft.text
    assert draft.text.count("Thu 29") == 1
    assert MailboxMessage.objects.count() == 1


def test_what_is_to_be_said_while_a_draft_lies_ready_joins_it(two_lines):
    """A cancelled line has a paper of its own, whose letter would tell the new day of the other line unread."""
    one, two = two_lines
    move(one, 7)
    orders.cancel(line=two, by=None, why="The polytunnel blew away")
    jobs.drain()
    draft = Letter.objects.get(order=one.order, state="draft")
    assert (draft.kind, draft.document.revision, MailboxMessage.objects.count()) == ("pickup_moved", 3, 1)


def test_once_it_is_sent_the_next_letter_leaves_by_itself_again(two_lines):
    one, two = two_lines
    move(one, 7)
    drafts.send(letter=Letter.objects.get(order=one.order, state="draft"), by=UserFactory())
    jobs.drain()
    orders.cancel(line=two, by=None, why="The polytunnel blew away")
    jobs.drain()
    assert not Letter.objects.filter(state="draft").exists()
    assert MailboxMessage.objects.count() == 3


# --- refusing moves -------------------------------------------------------------------------------------------


def test_a_refused_move_is_not_taken_nor_what_needs_it_until_it_is_taken_back(working, crowded):  # noqa: F811
    first, second = crowded
    run = levelled()
    levelling.refuse(run, keys=[key(first)])
    run.refresh_from_db()
    with pytest.raises(Refused, match="needed for that, and you refused it"):
        levelling.take(run, keys=[key(second)], by=working.grower, today=TODAY)
    levelling.refuse(run, keys=[key(first)], refused=False)
    run.refresh_from_db()
    levelling.take(run, keys=[key(second)], by=working.grower, today=TODAY)
    with pytest.raises(Refused, match="taken already"):
        levelling.refuse(run, keys=[key(first)])
    with pytest.raises(Refused, match="no move"):
        levelling.refuse(run, keys=["line:0"])


def test_levelled_again_what_was_refused_stays_where_it_is(working, crowded):  # noqa: F811
    first, second = crowded
    again = levelling.start(by=None, today=TODAY, leave=[key(first)])
    jobs.drain()
    again.refresh_from_db()
    assert again.moves == []
    assert [left["label"] for left in again.left_over] == [str(second)]


def test_a_refusal_for_what_changed_says_what_it_was(working, crowded):  # noqa: F811
    first, second = crowded
    run = levelled()
    orders.let_go(line=second, by=None)
    with pytest.raises(Refused, match=f"{second} is let go now. Nothing is moved. Level it again."):
        levelling.take(run, keys=[key(second)], by=working.grower, today=TODAY)
    taken = date_of(run, first)
    other = orders.take_order(
        customer=CustomerFactory(),
        lines=[working.line(quantity=80, pickup_asked=taken, later=0)],
        by=None,
        today=TODAY,
    )
    promise.accept(order=other, by=None, today=TODAY, over_conflict="It is the grower's own risk")
    with pytest.raises(Refused, match=r"Healing chamber, nights? of .* wanted, 2 there\. Nothing is moved"):
        levelling.take(run, keys=[key(first)], by=working.grower, today=TODAY)


def date_of(run, line):
    return date.fromisoformat(next(row["tells"] for row in run.moves if row["key"] == key(line)))


def test_on_the_page_a_move_is_refused_and_taken_back(client, working, crowded):  # noqa: F811
    first, second = crowded
    client.force_login(working.grower)
    run = levelled(working.grower)
    page = client.get(reverse("season_level")).content.decode()
    assert f"{first.order.customer} must be told: a letter is drafted for you to read." in page
    refuse = reverse("season_level_refuse", args=[run.pk])
    said = client.post(refuse, {"refuse": key(first)}, follow=True).content.decode()
    assert "Take it back into the list" in said
    assert "Leave what you refused where it is" in said
    client.post(reverse("season_level"), {"leave_refused": "on"})
    jobs.drain()
    assert levelling.newest().moves == []
    client.post(refuse, {"back": key(first)})
    run.refresh_from_db()
    assert not any(row["refused"] for row in run.moves)
    assert OrderLine.objects.get(pk=second.pk).state == states.ASKED


# --- what the customer's private page says meanwhile ----------------------------------------------------------


def page_of(client, order):
    return client.get(reverse("customer_order", args=[order.token]))


def papers_of(client, order):
    """Revisions of the confirmations that the page lists, and those that can be opened."""
    listed = {paper.revision for paper in page_of(client, order).context["papers"]}
    ways = {
        paper.revision: reverse("customer_paper", args=[order.token, paper.token])
        for paper in order.documents.all()
    }
    return listed, {revision for revision, way in ways.items() if client.get(way).status_code == 200}


def test_the_private_page_tells_no_day_before_the_letter_does(client, two_lines, working):  # noqa: F811
    """A move whose letter lies as a draft: day, strand and paper stay those that the customer was told."""
    one, _two = two_lines
    move(one, 7)
    page = page_of(client, one.order)
    assert [line.said["pickup"] for line in page.context["lines"]] == [THURSDAY, THURSDAY]
    assert "Thu 29" not in page.content.decode()
    assert papers_of(client, one.order) == ({1}, {1})
    drafts.send(letter=Letter.objects.get(order=one.order, state="draft"), by=working.grower)
    assert "Pickup Thu 29" in page_of(client, one.order).content.decode()
    assert papers_of(client, one.order) == ({1, 2}, {1, 2})


def test_a_letter_put_aside_has_told_nobody_anything(client, two_lines, working):  # noqa: F811
    one, _two = two_lines
    move(one, 7)
    drafts.put_aside(letter=Letter.objects.get(order=one.order, state="draft"), by=working.grower)
    assert "Thu 29" not in page_of(client, one.order).content.decode()
    assert papers_of(client, one.order) == ({1}, {1})


def test_a_line_that_was_divided_tells_no_day_of_its_new_piece(client, two_lines, working):  # noqa: F811
    one, _two = two_lines
    moving.move(
        line=one, pieces=[(25, THURSDAY), (15, THURSDAY + timedelta(days=7))], by=working.grower, today=TODAY
    )
    jobs.drain()
    said = page_of(client, one.order).content.decode()
    assert "Thu 29" not in said
    assert "We will write to you about the day." in said


def test_before_its_job_is_done_a_move_is_no_more_told_than_after(client, two_lines, working):  # noqa: F811
    one, _two = two_lines
    moving.move(line=one, pieces=[(40, THURSDAY + timedelta(days=7))], by=working.grower, today=TODAY)
    assert "Thu 29" not in page_of(client, one.order).content.decode()


def test_a_pickup_notice_tells_the_day_as_well(client, two_lines):
    """Once the plants are ready and their notice is out, the page says what the notice says."""
    one, _two = two_lines
    move(one, 7)
    code = f"{one.order.code}-{one.number}"
    Document.objects.create(
        kind="pickup_note", code=code, order=one.order, customer=one.order.customer, content=b"%PDF", data={}
    )
    assert "Thu 29" in page_of(client, one.order).content.decode()
