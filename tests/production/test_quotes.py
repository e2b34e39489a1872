"""The quote of what is held: its paper, its letter with the private link, its revisions."""

import io
import re
from datetime import timedelta
from decimal import Decimal

import pytest
from pypdf import PdfReader
from rest_framework.test import APIClient

from orders import history, jobs
from orders import services as orders
from orders.holding import new_link
from orders.links import private_link
from orders.models import Document, Letter, MailboxMessage, Order
from orders.refusals import Refused
from production.services import holding, promise
from production.services.quoting import send_quote
from tests.factories import CustomerFactory
from tests.mail import Listener, Server
from tests.nursery import TODAY, Working, working_nursery

pytestmark = [pytest.mark.django_db, pytest.mark.papers]


@pytest.fixture(autouse=True)
def clock(time_machine, settings):
    settings.EMAIL_BACKEND = "orders.mailbox.MailboxBackend"
    settings.SITE_URL = "https://orders.ashwell.example"
    time_machine.move_to(f"{TODAY}T10:00:00Z", tick=False)


@pytest.fixture
def working() -> Working:
    return working_nursery(tax_rate=Decimal("13.5"), deposit_percent=Decimal(30), phone="+353 1 555 0100")


def held(working: Working, **customer: str) -> Order:
    who = {"name": "Long Field & Sons", "contact": "Mara Quill", "email": "mara@field.example"} | customer
    order = orders.take_order(
        customer=CustomerFactory(**who),
        lines=[working.line(unit_price=Decimal("2.75")), working.line(quantity=60, unit_price=Decimal("3.1005"))],
        by=working.grower,
        today=TODAY,
    )
    holding.hold(order=order, by=working.grower, today=TODAY)
    return order


def quoted(order: Order, working: Working) -> bool:
    made = send_quote(order=order, by=working.grower)
    jobs.drain()
    return made


def text_of(document: Document) -> str:
    pages = PdfReader(io.BytesIO(bytes(document.content))).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def test_a_quote_says_lines_days_prices_tax_and_how_long_it_holds(working):
    order = held(working)
    assert quoted(order, working)
    paper = Document.objects.get()
    assert (paper.kind, paper.code, paper.revision) == ("quote", order.code, 1)
    said = text_of(paper)
    # By hand: 100 × 2.75 = 275.00; 60 × 3.1005 = 186.03; net 461.03; 13.5 % of it 62.23905 → 62.24; 523.27;
    # 30 % of it 156.981 → 156.98.
    for words in (
        f"Quote for order {order.code}", "Tallis Red on Kelder", "Pickup Wed 21 to Thu 22 April", "Expected:",
        "€275.00", "€186.03", "€461.03", "€62.24", "€523.27", "€156.98",
        "until the end of Thursday 14 January 2027",
        "Held until 14 January 2027", "Long Field & Sons",
    ):  # fmt: skip
        assert words in said, words
    assert "confirm" not in said.lower(), "it is no confirmation"


def test_the_letter_is_really_sent_with_the_paper_and_the_private_link(working, settings):
    server = Server()
    listener = Listener(server, hostname="127.0.0.1", port=0)
    listener.start()
    try:
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", listener.port
        order = held(working)
        quoted(order, working)
    finally:
        listener.stop()
    mail = server.message()
    assert mail["Subject"] == f"Order {order.code}: quote"
    assert "mara@field.example" in mail["To"]
    [paper] = list(mail.iter_attachments())
    assert (paper.get_content_type(), paper.get_filename()) == ("application/pdf", f"quote-{order.code}.pdf")
    assert paper.get_content() == bytes(Document.objects.get().content)
    link = f"https://orders.ashwell.example/o/{order.token}/"
    text, html = (mail.get_body((kind,)).get_content() for kind in ("plain", "html"))
    assert link in text.splitlines()
    assert re.search(rf'href="{re.escape(link)}"', html)
    assert "Thursday 14 January 2027" in text
    assert "€523.27" in text


def test_the_same_quote_is_made_once_and_another_is_a_new_revision(working):
    order = held(working)
    assert [quoted(order, working), quoted(order, working)] == [True, False]
    first = Document.objects.get()
    holding.extend(order=order, until=TODAY + timedelta(days=6), by=working.grower, today=TODAY)
    assert quoted(order, working)
    second = Document.objects.latest("pk")
    assert (second.revision, Document.objects.count(), MailboxMessage.objects.count()) == (2, 2, 2)
    assert "17 January 2027" in text_of(second)
    assert bytes(Document.objects.get(pk=first.pk).content) == bytes(first.content)
    assert "takes the place of the earlier one" in Letter.objects.latest("pk").text


def test_without_an_address_the_quote_is_a_call_to_make(working):
    order = held(working, email="")
    quoted(order, working)
    letter = Letter.objects.get()
    assert letter.state == Letter.State.TO_CALL
    for words in ("Ring Mara Quill", "€523.27", "held until the end of Thursday 14 January"):
        assert words in letter.call_words


def test_nothing_held_gets_no_quote(working):
    order = held(working)
    promise.accept(order=order, by=working.grower, today=TODAY)
    with pytest.raises(Refused, match="Nothing of this order is held"):
        send_quote(order=order, by=working.grower)


def test_what_was_let_go_before_its_quote_was_made_gets_none(working):
    order = held(working)
    send_quote(order=order, by=working.grower)
    holding.let_go(order=order, by=working.grower)
    jobs.drain()
    assert not Document.objects.exists()


def test_a_new_link_is_told_by_a_new_quote(working):
    order = held(working)
    quoted(order, working)
    before = private_link(order)
    new_link(order=order, by=working.grower)
    assert quoted(order, working)
    assert before not in Letter.objects.latest("pk").text
    assert private_link(order) in Letter.objects.latest("pk").text
    assert history.of(order).filter(what="link renewed").exists()


def test_quote_and_link_by_api(working):
    order = held(working)
    api = APIClient()
    api.force_authenticate(working.grower)
    assert api.post(f"/api/orders/{order.code}/quote/").json() == {"made": True}
    assert api.post(f"/api/orders/{order.code}/quote/").json() == {"made": False}
    link = api.post(f"/api/orders/{order.code}/link/").json()["link"]
    assert link == private_link(Order.objects.get())
    assert link != private_link(order)
    assert api.post("/api/orders/999/quote/").status_code == 404
    order.lines.update(state="asked", hold_until=None)
    assert api.post(f"/api/orders/{order.code}/quote/").status_code == 409


def test_the_order_s_page_says_when_what_was_quoted_has_changed(working, client):
    order = held(working)
    client.force_login(working.grower, backend="django.contrib.auth.backends.ModelBackend")

    def outdated() -> bool:
        return "What was quoted has changed" in client.get(f"/orders/{order.code}/").content.decode()

    assert not outdated()
    quoted(order, working)
    assert not outdated()
    holding.extend(order=order, until=TODAY + timedelta(days=6), by=working.grower, today=TODAY)
    assert outdated()
    quoted(order, working)
    assert not outdated()


def test_the_letter_of_the_confirmation_leads_to_the_order_s_page_too(working):
    order = held(working)
    promise.accept(order=order, by=working.grower, today=TODAY)
    jobs.drain()
    letter = Letter.objects.get(kind="confirmation")
    assert private_link(order) in letter.text
    assert f'href="{private_link(order)}"' in letter.html
