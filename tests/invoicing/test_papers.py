"""Papers read back with pypdf, their amounts summed from the text; letters as they went over the wire."""

import io
import re
from datetime import date
from decimal import Decimal as D
from email import message_from_bytes, policy

import pytest
from pypdf import PdfReader

from invoicing import papers, queries, services
from orders import jobs, money
from orders.models import Document, Letter, MailboxMessage
from orders.refusals import Refused
from tests.factories import CustomerFactory, NurseryFactory

from .billing import TODAY, billed, deposit, pay, taken

pytestmark = [pytest.mark.papers, pytest.mark.django_db(transaction=True), pytest.mark.usefixtures("nursery")]

LATE = date(2027, 6, 1)


@pytest.fixture(autouse=True)
def mailbox(settings):
    """Django's test runner swaps the backend of an embedded nursery for one of its own."""
    settings.EMAIL_BACKEND = "orders.mailbox.MailboxBackend"


def text_of(paper) -> str:
    """All words of the paper, one blank between them."""
    document = queries.paper(paper.number).document
    pages = PdfReader(io.BytesIO(bytes(document.content))).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def amounts(text: str) -> list[D]:
    return [D(found.replace(",", "")) for found in re.findall(r"€([\d,]+\.\d\d)(?!\d)", text)]


def rows_of(text: str) -> list[tuple[D, D, D, D]]:
    """Quantity, price each, rate and amount of each line, as printed."""
    row = re.compile(r"(\d+) plants?\s+€([\d,.]+)\s+([\d.]+) %\s+€([\d,]+\.\d\d)")
    return [tuple(D(part.replace(",", "")) for part in found) for found in row.findall(text)]


def test_the_amounts_on_an_invoice_add_up():
    invoice = billed((100, "1.00"), (397, "0.21"), (60, "3.125", "13.5"), (400, "2.7505", "13.5"))
    jobs.drain()
    text = text_of(invoice)
    rows = rows_of(text)
    assert len(rows) == 4
    for quantity, price, _rate, amount in rows:
        assert amount == money.line_amount(quantity, price)
    taxes = {
        D(rate): (net, tax) for rate, net, tax in re.findall(r"VAT ([\d.]+) % on €([\d,.]+)\s+€([\d,.]+)", text)
    }
    taxes = {rate: tuple(D(part.replace(",", "")) for part in pair) for rate, pair in taxes.items()}
    # By hand: 183.37 at 7 % = 12.84 (EN 16931); 187.50 + 1,100.20 = 1,287.70 at 13.5 % = 173.8395 → 173.84.
    assert taxes == {D("7"): (D("183.37"), D("12.84")), D("13.5"): (D("1287.70"), D("173.84"))}
    for rate, (net, _tax) in taxes.items():
        assert net == sum(amount for _q, _p, line_rate, amount in rows if line_rate == rate)
    total = amounts(text[text.index("Total with VAT") :])[0]
    assert total == sum(net + tax for net, tax in taxes.values()) == invoice.total == D("1657.75")


def test_an_invoice_says_what_the_vat_directive_asks_for():
    # Council Directive 2006/112/EC, article 226: date, number, both names, addresses and tax numbers, quantity and
    # nature, date of supply, rate, amount per rate and price without tax, tax.
    order = taken((60, "2.75"), customer__name="Weir Farm", customer__tax_number="IE7654321W")
    NurseryFactory(payment_terms="By transfer to our account at the Netherby bank.")
    invoice = services.issue(order=order, by=None, today=TODAY, supplied_on=date(2027, 4, 20))
    jobs.drain()
    text = text_of(invoice)
    for said in (
        "Invoice 2027-0001", "22 April 2027", "20 April 2027",
        "Ashwell Grafting", "3 Mill Lane", "IE1234567T", "Weir Farm", "1 Long Field", "IE7654321W",
        "60 plants", invoice.lines.get().text.split(",")[0], "€2.75", "7 %", "€165.00", "€11.55", "€176.55",
        "Please pay €176.55 by 6 May 2027", "our account at the Netherby bank",
    ):  # fmt: skip
        assert said in text, said
    assert "adviser" not in text


def test_the_deposit_is_taken_off_what_is_to_pay():
    order = taken((100, "2"))
    deposit(order, "50")
    text = text_of_issued(order)
    assert re.search(r"Deposit received\s+−€50\.00\s+To pay\s+€164\.00", text)
    assert "Please pay €164.00" in text


def test_a_deposit_that_covers_all_leaves_nothing_to_pay():
    order = taken((100, "2"))
    deposit(order, "214")
    assert "nothing is left to pay" in text_of_issued(order)


def text_of_issued(order) -> str:
    invoice = services.issue(order=order, by=None, today=TODAY)
    jobs.drain()
    return text_of(invoice)


def test_tax_within_the_prices_is_shown_as_such():
    NurseryFactory(prices_include_tax=True)
    text = text_of_issued(taken((40, "2.725", "9")))
    assert re.search(r"Total with VAT\s+€109\.00\s+in it VAT 9 % on €100\.00 net\s+€9\.00", text)


def test_a_credit_note_names_what_it_corrects_and_adds_up():
    invoice = billed((100, "2.75"), (60, "3.125", "13.5"))
    first, second = invoice.lines.all()
    note = services.credit(
        invoice=invoice,
        quantities={first: 10, second: 1},
        reason="Ten were broken",
        by=None,
        today=LATE,
        bill_again=False,
    )
    jobs.drain()
    text = text_of(note)
    assert "from invoice 2027-0001 of 22 April 2027" in text
    assert "Reason: Ten were broken" in text
    # By hand: 27.50 + 1.93 (1.925) at 7 %, 3.13 (3.125) + 0.42 (0.42255) at 13.5 %: 32.98.
    assert [row[3] for row in rows_of(text)] == [D("27.50"), D("3.13")]
    assert "€32.98 less is to pay on invoice 2027-0001" in text


def test_a_paper_is_made_once_however_often_the_job_runs():
    invoice = billed((100, "2"))
    for _again in range(2):
        papers.make_and_send({"paper": invoice.pk})
    jobs.drain()
    assert Document.objects.filter(code=invoice.number).count() == 1
    assert Letter.objects.filter(kind="invoice").count() == 1
    assert MailboxMessage.objects.count() == 1


def test_the_paper_stays_as_issued_whatever_changes_before_it_is_made():
    invoice = billed((100, "2"))
    NurseryFactory(name="Birchwell", tax_name="GST", currency="USD")
    jobs.drain()
    text = text_of(invoice)
    assert "Ashwell Grafting" in text
    assert "Birchwell" not in text
    assert "VAT 7 % on €200.00" in text


class TestLetters:
    def test_the_invoice_goes_by_mail_with_its_paper(self):
        invoice = billed((100, "2"), customer=CustomerFactory(name="Weir Farm", email="weir@example.org"))
        jobs.drain()
        message = message_from_bytes(bytes(MailboxMessage.objects.get().raw), policy=policy.default)
        assert "weir@example.org" in message["To"]
        assert message["Subject"] == f"Invoice 2027-0001 for order {invoice.order.code}"
        assert "To pay: €214.00 by 6 May 2027" in message.get_body(("plain",)).get_content()
        assert "€214.00" in message.get_body(("html",)).get_content()
        [attached] = message.iter_attachments()
        assert attached.get_filename() == "invoice-2027-0001.pdf"
        assert attached.get_content() == bytes(queries.paper("2027-0001").document.content)

    def test_without_an_address_it_is_a_call_to_make(self):
        billed((100, "2"), customer=CustomerFactory(name="Weir Farm", email=""))
        jobs.drain()
        letter = Letter.objects.get()
        assert letter.state == Letter.State.TO_CALL
        assert letter.call_words.startswith("Ring Weir Farm: invoice 2027-0001")
        assert "To pay: €214.00 by 6 May 2027." in letter.call_words

    def test_a_credit_note_goes_by_mail_too(self):
        invoice = billed((100, "2"))
        services.credit(invoice=invoice, reason="Wrong price", by=None, today=TODAY)
        jobs.drain()
        letter = Letter.objects.get(kind="credit_note")
        assert letter.state == Letter.State.SENT
        assert "€214.00 less is to pay on invoice 2027-0001" in letter.text
        assert "Reason: Wrong price" in letter.text

    def test_a_reminder_says_what_is_still_open(self, clerk):
        invoice = billed((100, "2"))
        pay(invoice, "100")
        jobs.drain()
        letter = services.remind(invoice=invoice, by=clerk, today=LATE)
        jobs.drain()
        letter.refresh_from_db()
        assert letter.state == Letter.State.SENT
        assert "was to be paid by 6 May 2027. €114.00 is still open" in letter.text
        assert letter.document == queries.paper(invoice.number).document
        assert [one.kind for one in papers.letters_of(invoice)] == ["reminder", "invoice"]

    def test_at_most_one_reminder_a_day(self):
        invoice = billed((100, "2"))
        services.remind(invoice=invoice, by=None, today=LATE)
        with pytest.raises(Refused, match="was written today"):
            services.remind(invoice=invoice, by=None, today=LATE)
        services.remind(invoice=invoice, by=None, today=LATE.replace(day=2))
        assert Letter.objects.filter(kind="reminder").count() == 2

    def test_only_of_what_is_overdue(self):
        invoice = billed((100, "2"))
        with pytest.raises(Refused, match="is due on Thu 6 May 2027"):
            services.remind(invoice=invoice, by=None, today=date(2027, 5, 6))
        pay(invoice, "214")
        with pytest.raises(Refused, match="Nothing is due"):
            services.remind(invoice=invoice, by=None, today=LATE)
