"""Pages of papers, letters, calls and the mailbox: who may see them, and what a click does."""

import pytest
from django.urls import reverse

from orders import jobs, letters
from orders.models import Document, Job, Letter, MailboxMessage
from tests.browser import assert_holds
from tests.factories import CustomerFactory, NurseryFactory, OrderFactory, UserFactory

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def nursery(settings):
    settings.EMAIL_BACKEND = "orders.mailbox.MailboxBackend"
    settings.JOBS_EMBEDDED = True
    return NurseryFactory()


@pytest.fixture
def office(client):
    user = UserFactory(role="office", username="office", first_name="Ines")
    client.force_login(user)
    return user


def paper(kind="confirmation", code="31", **more) -> Document:
    return Document.objects.create(
        kind=kind, code=code, title=f"Paper {code}", content=b"%PDF-1.7 as issued", sha256="-", **more
    )


def write(key="k1", *, email="mara@field.example") -> Letter:
    customer = CustomerFactory(name=f"Long Field {key}", contact="Mara", email=email, phone="+353 1 555 0199")
    order = OrderFactory(customer=customer)
    return letters.queue(
        kind="confirmation",
        key=key,
        customer=customer,
        order=order,
        document=paper(code=order.code, order=order, customer=customer),
        context={"revision": 1},
        calendar="BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n",
    )


def failed(letter: Letter) -> Letter:
    Letter.objects.filter(pk=letter.pk).update(state=Letter.State.FAILED, error="550 no such garden", attempts=1)
    letter.refresh_from_db()
    return letter


# --- who may --------------------------------------------------------------------------------------------------

PAGES = ["letters", "papers", "mailbox"]


@pytest.mark.parametrize("page", PAGES)
def test_a_stranger_is_sent_to_sign_in(client, page):
    assert client.get(reverse(page)).url.startswith(reverse("sign_in"))


@pytest.mark.parametrize("page", PAGES)
def test_crew_has_no_business_with_letters_and_papers(client, page):
    client.force_login(UserFactory(role="crew"))
    assert client.get(reverse(page)).status_code == 403


def test_whoever_may_see_the_work_may_see_its_sheet_and_no_confirmation(client):
    client.force_login(UserFactory(role="crew"))
    assert client.get(reverse("paper", args=[paper("day_sheet").token])).status_code == 200
    assert client.get(reverse("paper", args=[paper("confirmation").token])).status_code == 403
    assert client.get(reverse("paper", args=[paper("invoice").token])).status_code == 403


def test_a_stranger_with_a_paper_s_token_has_to_sign_in(client):
    assert client.get(reverse("paper", args=[paper().token])).status_code == 302


# --- what they show -------------------------------------------------------------------------------------------


def test_a_paper_is_shown_byte_for_byte(client, office):
    answer = client.get(reverse("paper", args=[paper().token]))
    assert (answer.content, answer["Content-Type"]) == (b"%PDF-1.7 as issued", "application/pdf")
    assert answer["Content-Disposition"] == 'inline; filename="confirmation-31.pdf"'
    assert client.get(reverse("paper", args=["no-such-token"])).status_code == 404


def test_papers_are_listed_by_kind(client, office):
    paper("confirmation", "31"), paper("invoice", "2027-1"), paper("day_sheet", "2027-01-11")
    everything = client.get(reverse("papers")).content.decode()
    assert all(f"Paper {code}" in everything for code in ("31", "2027-1", "2027-01-11"))
    invoices = client.get(reverse("papers"), {"kind": "invoice"}).content.decode()
    assert "Paper 2027-1<" in invoices
    assert "Paper 31" not in invoices


def test_a_call_is_ticked_off_by_whoever_rang(client, office):
    letter = write(email="")
    page = client.get(reverse("letters")).content.decode()
    assert "tel:+35315550199" in page
    assert letter.call_words.splitlines()[0] in page
    client.post(reverse("letter_tick", args=[letter.pk]))
    letter.refresh_from_db()
    assert (letter.state, letter.ended_by) == (Letter.State.CALLED, "Ines")
    assert "by telephone, Ines" in client.get(reverse("letters")).content.decode()


def several_calls() -> list[Letter]:
    first = write("k1", email="")
    words = {"kind": "confirmation", "customer": first.customer, "context": {"revision": 1}}
    second = letters.queue(key="k2", order=OrderFactory(customer=first.customer), **words)
    return [first, second, write("k3", email="")]


def test_all_that_is_to_be_told_one_customer_stands_on_one_card_and_is_told_in_one_call(client, office):
    first, second, other = several_calls()
    page = client.get(reverse("letters")).content.decode()
    assert page.count('<article class="answer wait"') == 2
    assert page.count("tel:+35315550199") == 2
    card = page.split("<article")[1].split("</article>")[0]
    assert all(f"about order {letter.order.code}:" in card for letter in (first, second))
    said = client.post(reverse("letters_told"), {"letter": [first.pk, second.pk]}, follow=True).content.decode()
    assert said.count(f"{first.customer} was told by telephone.") == 1
    states = dict(Letter.objects.values_list("pk", "state"))
    assert states == {first.pk: "called", second.pk: "called", other.pk: "to_call"}


def test_of_several_calls_one_alone_is_told(client, office):
    first, second, _other = several_calls()
    client.post(reverse("letter_tick", args=[second.pk]))
    assert set(Letter.objects.filter(state="to_call")).isdisjoint([second])
    assert f"about order {first.order.code}:" in client.get(reverse("letters")).content.decode()


def test_if_one_of_them_left_by_mail_meanwhile_none_is_ticked_off(client, office):
    first, second, _other = several_calls()
    Letter.objects.filter(pk=second.pk).update(state="sent")
    said = client.post(reverse("letters_told"), {"letter": [first.pk, second.pk]}, follow=True).content.decode()
    assert "gone by mail" in said
    first.refresh_from_db()
    assert first.state == "to_call"


def test_the_page_of_a_letter_shows_nothing_that_only_mail_servers_read(client, office):
    letter = write()
    jobs.drain()
    letter.refresh_from_db()
    page = client.get(reverse("letter", args=[letter.pk])).content.decode()
    assert "sent" in page
    assert letter.message_id.strip("<>") not in page


def test_a_failed_letter_says_why_and_is_sent_again_on_demand(client, office):
    letter = failed(write())
    assert "550 no such garden" in client.get(reverse("letters")).content.decode()
    client.post(reverse("letter_retry", args=[letter.pk]))
    jobs.drain()
    letter.refresh_from_db()
    assert letter.state == Letter.State.SENT
    assert MailboxMessage.objects.count() == 1


def test_the_list_of_orders_says_how_much_waits_for_a_person(client, office):
    assert "Letters and calls<" in client.get(reverse("orders")).content.decode()
    failed(write("a")), write("b", email=""), write("c")
    assert "Letters and calls (2)" in client.get(reverse("orders")).content.decode()


def test_a_letter_on_its_way_is_not_sent_twice(client, office):
    letter = write()
    answer = client.post(reverse("letter_retry", args=[letter.pk]), follow=True)
    assert "on its way already" in answer.content.decode()
    jobs.drain()
    assert MailboxMessage.objects.count() == 1


def test_nothing_is_sent_or_ticked_by_looking(client, office):
    letter = failed(write())
    for name in ("letter_retry", "letter_tick"):
        assert client.get(reverse(name, args=[letter.pk])).status_code == 405


def test_work_of_the_service_that_failed_says_why_and_is_tried_again(client, office):
    job = Job.objects.create(kind="confirmation", key="c", state="failed", error="Papers are off: no libpango")
    page = client.get(reverse("letters")).content.decode()
    assert "A confirmation was not made" in page
    assert "Papers are off" in page
    client.post(reverse("job_retry", args=[job.pk]))
    job.refresh_from_db()
    assert job.state == Job.State.WAITING


def test_the_mailbox_shows_a_message_as_its_reader_sees_it(client, office):
    letter = write()
    jobs.drain()
    kept = MailboxMessage.objects.get()
    assert letter.subject in client.get(reverse("mailbox")).content.decode()
    page = client.get(reverse("mailbox_message", args=[kept.pk])).content.decode()
    for words in ("Dear Mara,", "mara@field.example", f"confirmation-{letter.order.code}.pdf", "pickup.ics"):
        assert words in page
    attached = client.get(reverse("mailbox_attachment", args=[kept.pk, 0]))
    assert (attached.content, attached["Content-Type"]) == (b"%PDF-1.7 as issued", "application/pdf")
    assert attached["Content-Disposition"].startswith("attachment;")
    assert client.get(reverse("mailbox_attachment", args=[kept.pk, 1])).content.startswith(b"BEGIN:VCALENDAR")
    assert client.get(reverse("mailbox_attachment", args=[kept.pk, 2])).status_code == 404


def test_a_letter_s_html_can_do_nothing_in_our_pages(client, office):
    write()
    jobs.drain()
    answer = client.get(reverse("mailbox_html", args=[MailboxMessage.objects.get().pk]))
    assert "Dear Mara" in answer.content.decode()
    policy = answer["Content-Security-Policy"]
    assert "sandbox" in policy
    assert "script" not in policy


def test_with_a_mail_server_there_is_no_mailbox(client, office, settings):
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    assert client.get(reverse("mailbox")).status_code == 404


def test_pages_stay_at_few_queries_however_many_letters(client, office, django_assert_max_num_queries):
    for number in range(12):
        write(f"sent{number}"), failed(write(f"failed{number}")), write(f"call{number}", email="")
    Letter.objects.filter(key__startswith="sent").update(state=Letter.State.SENT)
    with django_assert_max_num_queries(14):
        client.get(reverse("letters"))


# --- in the browser -------------------------------------------------------------------------------------------


@pytest.mark.browser
def test_axe_finds_nothing_and_the_pages_fit(transactional_db, nursery, open_page):
    office = UserFactory(role="office", username="browser")
    NurseryFactory()
    failed(write("a")), write("b", email="")
    Job.objects.create(
        kind="confirmation", key="c", state="failed", error="Papers are off.", done_at=office.date_joined
    )
    sent = write("d")
    jobs.drain()
    page = open_page("phone", office)
    addresses = [
        reverse("letters"),
        reverse("letter", args=[sent.pk]),
        reverse("papers"),
        reverse("mailbox"),
        reverse("mailbox_message", args=[MailboxMessage.objects.get().pk]),
    ]
    for address in addresses:
        page.goto(address)
        assert_holds(page)
