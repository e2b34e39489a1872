"""Drafts: letters that wait to be read, are changed and sent, or put aside; one for each order."""

import email
import email.policy

import pytest
from django.urls import reverse
from rest_framework.test import APIClient

from orders import drafts, jobs, letters
from orders.models import Document, HistoryEntry, Job, Letter, MailboxMessage
from orders.refusals import ManyRefused, Refused
from tests.factories import CustomerFactory, NurseryFactory, OrderFactory, UserFactory

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def nursery(settings):
    settings.EMAIL_BACKEND = "orders.mailbox.MailboxBackend"
    return NurseryFactory(name="Ashwell & Daughters")


@pytest.fixture
def clerk():
    return UserFactory(role="office", username="odd", first_name="Odd")


@pytest.fixture
def order():
    return OrderFactory(customer=CustomerFactory(name="Long Field", email="mara@field.example"))


def write(order, revision=1, *, draft=True, **more) -> Letter:
    paper = Document.objects.create(
        kind="confirmation", code=order.code, revision=revision, title="C", content=b"%PDF-1.7 paper", sha256="-"
    )
    return letters.queue(
        kind="confirmation",
        key=f"confirmation:{order.code}:{revision}",
        customer=order.customer,
        order=order,
        document=paper,
        context={"revision": revision},
        draft=draft,
        instead_of=("confirmation",),
        **more,
    )


def test_a_draft_leaves_only_when_somebody_sends_it_and_then_as_it_was_written(order, clerk):
    letter = write(order)
    jobs.drain()
    assert (letter.state, Job.objects.count(), MailboxMessage.objects.count()) == ("draft", 0, 0)
    drafts.send(letter=letter, by=clerk, text="Dear Mara,\r\nit is <later> now.\r\n\r\n-- \r\nAshwell\r\n")
    jobs.drain()
    letter.refresh_from_db()
    assert (letter.state, letter.text) == ("sent", "Dear Mara,\nit is <later> now.\n\n-- \nAshwell\n")
    message = email.message_from_bytes(bytes(MailboxMessage.objects.get().raw), policy=email.policy.default)
    assert message.get_body(("plain",)).get_content().splitlines() == letter.text.splitlines()
    html = message.get_body(("html",)).get_content()
    assert "it is &lt;later&gt; now." in html
    assert "-- " not in html  # the nursery's name stands at its foot already
    assert [part.get_filename() for part in message.iter_attachments()] == [f"confirmation-{order.code}.pdf"]
    assert HistoryEntry.objects.filter(text__startswith="Letter read and sent", by="Odd").exists()


def test_words_left_as_they_were_keep_their_own_html(order, clerk):
    letter = write(order)
    before = letter.html
    sent = drafts.send(letter=letter, by=clerk, subject=letter.subject, text=letter.text)
    assert sent.html == before
    assert not HistoryEntry.objects.filter(text__startswith="The words of the draft").exists()


@pytest.mark.parametrize(
    ("words", "field"),
    [({"subject": " \n "}, "subject"), ({"text": " \n"}, "text"), ({"subject": "x" * 201}, "subject")],
)
def test_a_letter_that_says_nothing_is_refused_and_stays_a_draft(order, clerk, words, field):
    letter = write(order)
    with pytest.raises(ManyRefused) as refused:
        drafts.send(letter=letter, by=clerk, **words)
    assert [each.field for each in refused.value.refusals] == [field]
    letter.refresh_from_db()
    assert (letter.state, Job.objects.count()) == ("draft", 0)


def test_one_draft_for_each_order_the_newer_takes_the_place_of_the_older(order, clerk):
    other = write(OrderFactory())
    first, second = write(order), write(order, 2)
    states = dict(Letter.objects.values_list("pk", "state"))
    assert states == {other.pk: "draft", first.pk: "put_aside", second.pk: "draft"}
    with pytest.raises(Refused, match="no draft any more"):
        drafts.send(letter=first, by=clerk)
    with pytest.raises(Refused, match="newer letter"):
        drafts.take_up(letter=first, by=clerk)


def test_put_aside_by_a_slip_of_the_thumb_it_is_taken_up_again(order, clerk):
    letter = write(order)
    drafts.put_aside(letter=letter, by=clerk)
    assert drafts.take_up(letter=letter, by=clerk).state == "draft"
    with pytest.raises(Refused, match="not put aside"):
        drafts.take_up(letter=letter, by=clerk)


def test_without_an_address_it_is_a_call_and_the_newer_call_takes_the_place_of_the_older(clerk):
    order = OrderFactory(customer=CustomerFactory(email=""))
    first, second = write(order), write(order, 2)
    first.refresh_from_db()
    assert (first.state, second.state) == ("put_aside", "to_call")


def test_a_draft_whose_customer_was_rung_up_or_lost_the_address(order, clerk):
    letter = write(order)
    order.customer.email = ""
    order.customer.save()
    with pytest.raises(Refused, match="no email address"):
        drafts.send(letter=letter, by=clerk)
    assert letters.tick(letter=letter, by=clerk).state == "called"


@pytest.mark.parametrize("state", ["draft", "put_aside"])
def test_what_never_left_is_not_sent_again(order, clerk, state):
    letter = write(order)
    Letter.objects.filter(pk=letter.pk).update(state=state)
    with pytest.raises(Refused, match="never left"):
        letters.send_again(letter=letter, by=clerk)


# --- its page -------------------------------------------------------------------------------------------------


def test_on_its_page_a_draft_is_read_kept_and_sent(client, order, clerk):
    letter = write(order)
    client.force_login(clerk)
    listed = client.get(reverse("letters")).content.decode()
    assert f"Long Field: {letter.subject}" in listed
    page = reverse("letter", args=[letter.pk])
    assert "Nobody has sent this yet" in client.get(page).content.decode()
    kept = client.post(page, {"subject": "Later", "text": "It is later."}, follow=True)
    assert "kept as you wrote it" in kept.content.decode()
    wrong = client.post(reverse("letter_send", args=[letter.pk]), {"subject": "Later", "text": ""})
    assert (wrong.status_code, Job.objects.count()) == (422, 0)
    client.post(reverse("letter_send", args=[letter.pk]), {"subject": "Later", "text": "It is later still."})
    jobs.drain()
    assert MailboxMessage.objects.get().subject == "Later"
    again = client.post(reverse("letter_send", args=[letter.pk]), {"subject": "Later", "text": "Twice"})
    assert again.status_code == 422
    assert "no draft any more: it is sent" in again.content.decode()
    jobs.drain()
    assert MailboxMessage.objects.count() == 1


def test_put_aside_and_taken_up_on_the_page(client, order, clerk):
    letter = write(order)
    client.force_login(clerk)
    said = client.post(reverse("letter_put_aside", args=[letter.pk]), follow=True).content.decode()
    assert "put aside by Odd" in said
    client.post(reverse("letter_take_up", args=[letter.pk]))
    letter.refresh_from_db()
    assert letter.state == "draft"


def test_by_api_it_is_changed_sent_put_aside_and_taken_up(order, clerk):
    letter = write(order)
    api = APIClient()
    api.force_authenticate(clerk)
    at = f"/api/letters/{letter.pk}/"
    assert [each["id"] for each in api.get("/api/letters/", {"state": "draft"}).json()] == [letter.pk]
    assert api.patch(at, {"text": "Later."}, format="json").json()["text"] == "Later.\n"
    assert api.post(f"{at}aside/").json()["state"] == "put_aside"
    assert api.post(f"{at}send/", {}, format="json").status_code == 409
    assert api.post(f"{at}draft/").json()["state"] == "draft"
    empty = api.post(f"{at}send/", {"text": "\n"}, format="json")
    assert (empty.status_code, empty.json()["faults"][0]["field"]) == (400, "text")
    assert api.post(f"{at}send/", {"subject": "Later"}, format="json").json()["state"] == "waiting"
    api.force_authenticate(UserFactory(role="crew"))
    assert api.post(f"{at}send/", {}, format="json").status_code == 403
