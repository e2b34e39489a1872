"""Letters: a row first, then one message on the wire, to a real SMTP server and to the mailbox alike."""

import email
import email.policy
from datetime import UTC, date, datetime

import pytest
from icalendar import Calendar

from orders import jobs, letters
from orders.calendar_entry import calendar_entry
from orders.models import Document, HistoryEntry, Job, Letter, MailboxMessage
from orders.refusals import Refused
from tests.factories import CustomerFactory, NurseryFactory, OrderFactory, UserFactory
from tests.mail import Listener, Server

ENTRY = calendar_entry(
    uid="line-7@ashwell.example",
    first=date(2027, 4, 20),
    days=3,
    summary="Fetch 148 plants; order 31",
    description="Tallis Red on Kelder,\n148 plants",
    location="Gate 2, Mill Lane",
    stamp=datetime(2027, 4, 12, 9, 30, tzinfo=UTC),
    sequence=1,
)


@pytest.fixture
def smtp(settings):
    server = Server()
    controller = Listener(server, hostname="127.0.0.1", port=0)
    controller.start()
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", controller.port
    yield server
    controller.stop()


@pytest.fixture
def mailbox(settings):
    settings.EMAIL_BACKEND = "orders.mailbox.MailboxBackend"


@pytest.fixture
def nobody_listens(settings):
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 1


def write(key="confirmation:31:1", *, customer=None, **more) -> Letter:
    NurseryFactory(name="Ashwell & Daughters")
    order = OrderFactory(customer=customer or CustomerFactory())
    paper = Document.objects.create(
        kind="confirmation", code=order.code, title="Confirmation", content=b"%PDF-1.7 paper", sha256="-"
    )
    return letters.queue(
        kind="confirmation",
        key=key,
        customer=order.customer,
        order=order,
        document=paper,
        context={"revision": 1},
        calendar=ENTRY,
        **more,
    )


def run_jobs(letter: Letter) -> Letter:
    """Do everything that is due, and what waits for another try as if its time had come."""
    while Job.objects.filter(state=Job.State.WAITING).update(run_after=letter.created_at):
        jobs.drain()
    letter.refresh_from_db()
    return letter


@pytest.mark.django_db
def test_a_letter_leaves_once_with_text_html_paper_and_calendar_entry(smtp):
    letter = run_jobs(write())
    assert letter.state == Letter.State.SENT
    message = smtp.message()
    assert message["Subject"] == letter.subject
    assert message["Message-ID"] == letter.message_id
    assert letter.customer.email in message["To"]
    assert message["From"].addresses[0].display_name == "Ashwell & Daughters"
    assert message["Reply-To"] == "desk@ashwell.example"
    assert message.get_body(("plain",)).get_content().splitlines() == letter.text.splitlines()
    assert message.get_body(("html",)).get_content().splitlines() == letter.html.splitlines()
    paper, entry = message.iter_attachments()
    assert (paper.get_filename(), paper.get_content_type()) == (
        f"confirmation-{letter.order.code}.pdf",
        "application/pdf",
    )
    assert paper.get_content() == b"%PDF-1.7 paper"
    assert (entry.get_filename(), entry.get_content_type()) == ("pickup.ics", "text/calendar")
    assert entry["Content-Type"].params["method"] == "PUBLISH"
    assert entry.get_content().replace("\r\n", "\n") == ENTRY.replace("\r\n", "\n")


@pytest.mark.django_db
def test_the_mailbox_keeps_the_same_message(mailbox):
    letter = run_jobs(write())
    kept = MailboxMessage.objects.get()
    message = email.message_from_bytes(bytes(kept.raw), policy=email.policy.default)
    assert letter.state == Letter.State.SENT
    assert (kept.subject, message["Subject"]) == (letter.subject, letter.subject)
    assert letter.customer.email in kept.to
    assert [part.get_filename() for part in message.iter_attachments()] == [
        f"confirmation-{letter.order.code}.pdf",
        "pickup.ics",
    ]


def test_a_calendar_entry_is_all_day_and_ends_the_day_after_its_last():
    # RFC 5545, 3.6.1: DTEND of a VALUE=DATE event is the non-inclusive end. Read back by icalendar.
    [event] = Calendar.from_ical(ENTRY).walk("VEVENT")
    assert (event.decoded("dtstart"), event.decoded("dtend")) == (date(2027, 4, 20), date(2027, 4, 23))
    assert event["dtstart"].params["VALUE"] == "DATE"
    assert event.decoded("dtstamp") == datetime(2027, 4, 12, 9, 30, tzinfo=UTC)
    assert (str(event["summary"]), str(event["location"])) == ("Fetch 148 plants; order 31", "Gate 2, Mill Lane")
    assert str(event["description"]) == "Tallis Red on Kelder,\n148 plants"
    assert (str(event["uid"]), int(event["sequence"])) == ("line-7@ashwell.example", 1)
    calendar = Calendar.from_ical(ENTRY)
    assert (calendar["version"], calendar["method"]) == ("2.0", "PUBLISH")
    assert all(len(line.encode()) <= 75 for line in ENTRY.split("\r\n"))  # RFC 5545, 3.1


@pytest.mark.django_db
def test_the_same_key_is_the_same_letter_and_leaves_once(smtp):
    letter = write()
    assert write(key=letter.key) == letter
    run_jobs(letter)
    assert len(smtp.taken) == 1
    letters.send({"letter": letter.pk, "since": 0})  # the job again, as after a lost lease
    assert len(smtp.taken) == 1


@pytest.mark.django_db
def test_names_keep_their_signs_in_plain_text_and_are_escaped_in_html(smtp):
    customer = CustomerFactory(name="Hedge & <Sons>")
    letter = run_jobs(write(customer=customer))
    assert "Hedge & <Sons>" in letter.text
    assert "Hedge &amp; &lt;Sons&gt;" in letter.html


@pytest.mark.django_db
def test_a_customer_without_an_address_is_a_call_with_the_words_to_say(smtp):
    letter = run_jobs(write(customer=CustomerFactory(email="", phone="0123 456")))
    assert letter.state == Letter.State.TO_CALL
    assert letter.order.code in letter.call_words
    assert smtp.taken == []

    grower = UserFactory(first_name="Ada", last_name="Low")
    letters.tick(letter=letter, by=grower)
    letter.refresh_from_db()
    assert (letter.state, letter.ended_by) == (Letter.State.CALLED, "Ada Low")
    assert letter.ended_at is not None


@pytest.mark.django_db
def test_a_server_that_cannot_be_reached_is_tried_again_then_shown(nobody_listens):
    letter = write()
    jobs.drain()
    letter.refresh_from_db()
    assert (letter.state, letter.attempts) == (Letter.State.WAITING, 1)
    assert "cannot be reached" in letter.error
    run_jobs(letter)
    assert (letter.state, letter.attempts) == (Letter.State.FAILED, letters.TRIES)


@pytest.mark.django_db
def test_an_address_that_the_server_does_not_know_fails_at_once_with_the_server_s_words(smtp):
    smtp.answer = "550 no such garden"
    letter = run_jobs(write())
    assert (letter.state, letter.attempts) == (Letter.State.FAILED, 1)
    assert "550 no such garden" in letter.error


@pytest.mark.django_db
def test_a_server_that_is_busy_gets_the_letter_later(smtp):
    smtp.answer = "451 come back later"
    letter = write()
    jobs.drain()
    letter.refresh_from_db()
    assert letter.state == Letter.State.WAITING
    smtp.answer = ""
    assert run_jobs(letter).state == Letter.State.SENT
    assert len(smtp.taken) == 1


@pytest.mark.django_db
def test_a_server_that_hangs_up_leaves_it_open_and_nothing_is_sent_twice(smtp):
    smtp.hang_up = True
    letter = run_jobs(write())
    assert letter.state == Letter.State.FAILED
    assert "Not known whether it left" in letter.error
    assert len(smtp.taken) == 1


@pytest.mark.django_db
def test_a_service_that_stops_while_sending_leaves_it_open_and_nothing_is_sent_twice(smtp):
    letter = write()
    assert letters._take(letter.pk).state == Letter.State.SENDING  # and then the machine goes dark
    run_jobs(letter)
    assert letter.state == Letter.State.FAILED
    assert "Not known whether it left" in letter.error
    assert smtp.taken == []


@pytest.mark.django_db
def test_a_person_sends_a_failed_letter_again_to_the_address_of_today(smtp):
    smtp.answer = "550 no such garden"
    letter = run_jobs(write())
    letter.customer.email = "new@garden.example"
    letter.customer.save()
    smtp.answer = ""
    letters.send_again(letter=letter, by=UserFactory())
    assert run_jobs(letter).state == Letter.State.SENT
    assert smtp.taken[0].rcpt_tos == ["new@garden.example"]


@pytest.mark.django_db
def test_what_may_not_be_sent_again_or_ticked_off_is_refused(smtp):
    grower = UserFactory()
    waiting = write()
    with pytest.raises(Refused, match="on its way"):
        letters.send_again(letter=waiting, by=grower)
    with pytest.raises(Refused, match="gone by mail"):
        letters.tick(letter=run_jobs(waiting), by=grower)
    to_call = write("b", customer=CustomerFactory(email=""))
    with pytest.raises(Refused, match="no email address"):
        letters.send_again(letter=to_call, by=grower)


@pytest.mark.django_db
def test_the_order_s_history_tells_what_became_of_its_letter(smtp):
    letter = run_jobs(write(by="Ada"))
    told = HistoryEntry.objects.filter(subject="order", subject_id=letter.order.pk).order_by("id")
    assert [(entry.what, entry.by) for entry in told] == [("letter waiting", "Ada"), ("letter sent", "")]
    assert letter.to in told.last().text


@pytest.mark.django_db
def test_a_line_break_in_a_name_adds_no_header_and_no_reader(smtp):
    customer = CustomerFactory(name="Hedge\r\nBcc: everybody@example.org")
    assert run_jobs(write(customer=customer)).state == Letter.State.SENT
    assert smtp.taken[0].rcpt_tos == [customer.email]
    assert smtp.message()["Bcc"] is None


@pytest.mark.django_db
def test_a_letter_that_cannot_be_put_together_fails_at_once_and_says_why(smtp):
    letter = write()
    Letter.objects.filter(pk=letter.pk).update(to="a@b.example\r\nBcc: c@d.example")
    run_jobs(letter)
    assert (letter.state, letter.attempts) == (Letter.State.FAILED, 1)
    assert "cannot be put together" in letter.error
    assert smtp.taken == []
