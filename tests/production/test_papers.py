"""The papers that promising and growing bring forth, read back from their PDF, and the letters that carry them."""

import io
import re
from datetime import date
from decimal import Decimal

import pytest
from icalendar import Calendar
from pypdf import PdfReader

from orders import jobs, states
from orders import services as orders
from orders.models import Document, Job, Letter, Nursery, Order, OrderLine
from production.models import ClosedDay
from production.papers import confirmation_data
from production.papers.lines import window_of
from production.services import promise
from tests.factories import CustomerFactory
from tests.nursery import TODAY, Working, working_nursery

pytestmark = [pytest.mark.django_db, pytest.mark.papers]

SIDE = {"method": "side", "quantity": 60, "leaders": "two_side_shoot", "unit_price": Decimal("3.1005")}


@pytest.fixture(autouse=True)
def clock(time_machine):
    time_machine.move_to(f"{TODAY}T10:00:00Z", tick=False)


@pytest.fixture
def working() -> Working:
    return working_nursery(tax_rate=Decimal("13.5"), deposit_percent=Decimal(30), pickup_place="Shed 4, back gate")


def confirmed(working: Working, *changes: dict, customer=None, notes: str = "") -> Order:
    order = orders.take_order(
        customer=customer or CustomerFactory(name="Long Field & Sons", contact="Mara Quill"),
        lines=[working.line(**change) for change in changes or ({"unit_price": Decimal("2.75")},)],
        by=working.grower,
        today=TODAY,
        notes=notes,
    )
    promise.accept(order=order, by=working.grower, today=TODAY)
    return order


def text_of(document: Document) -> str:
    """The text as it is read from top to bottom, without its line breaks."""
    pages = PdfReader(io.BytesIO(bytes(document.content))).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def euros(text: str) -> list[Decimal]:
    return [Decimal(found.replace(",", "")) for found in re.findall(r"€([\d,]+\.\d\d)(?!\d)", text)]


def notice(line: OrderLine, quantity: int, short: int, number: int = 1) -> None:
    OrderLine.objects.filter(pk=line.pk).update(state=states.READY, ready_quantity=quantity)
    jobs.enqueue(
        "pickup_notice",
        f"pickup-notice:{line.pk}:{number}",
        {"line": line.pk, "quantity": quantity, "short": short, "notice": number, "by": "Ada"},
    )


# --- the confirmation -----------------------------------------------------------------------------------------


def test_confirming_an_order_issues_its_paper_and_mails_it(working):
    order = confirmed(working)
    jobs.drain()
    paper = Document.objects.get()
    assert (paper.kind, paper.code, paper.revision) == ("confirmation", order.code, 1)
    assert (paper.order, paper.customer) == (order, order.customer)
    letter = Letter.objects.get()
    assert (letter.key, letter.state) == (f"confirmation:{order.code}:1", Letter.State.SENT)
    assert letter.document == paper


def test_the_amounts_on_the_paper_add_up_to_its_totals(working):
    # By hand: 150 × 2.75 = 412.50; 60 × 3.1005 = 186.03; 72 × 0.85 = 61.20; net 659.73;
    # 13.5 % of it = 89.06355 → 89.06; total 748.79; 30 % of it = 224.637 → 224.64.
    plain = {"kind": "plain", "method": "plain", "rootstock": None, "quantity": 72, "container": working.tray}
    confirmed(
        working,
        {"quantity": 150, "unit_price": Decimal("2.75")},
        SIDE | {"pickup_asked": date(2027, 4, 23)},
        plain | {"unit_price": Decimal("0.85")},
    )
    jobs.drain()
    lines, sums = text_of(Document.objects.get()).split(" Net ")
    amounts = [Decimal("412.50"), Decimal("186.03"), Decimal("61.20")]
    assert [sum_ for sum_ in euros(lines) if sum_ > 5] == amounts
    assert euros(sums) == [sum(amounts), sum(amounts), Decimal("89.06"), Decimal("748.79"), Decimal("224.64")]
    assert sum(amounts) + Decimal("89.06") == Decimal("748.79")


def test_prices_with_tax_in_them_are_not_taxed_again(working):
    # By hand: 100 × 2.75 = 275.00 with 13.5 % in it: 275 × 13.5 ÷ 113.5 = 32.709… → 32.71.
    Nursery.objects.update(prices_include_tax=True)
    confirmed(working)
    jobs.drain()
    total = text_of(Document.objects.get()).split(" Total ")[1]
    assert euros(total)[:2] == [Decimal("275.00"), Decimal("32.71")]
    assert "of which VAT 13.5 %" in total


def test_the_paper_says_what_is_promised_and_when(working):
    seed = {"scion_seed": "customers", "scion_seed_expected": date(2027, 2, 15)}
    confirmed(
        working, SIDE | seed | {"pickup_asked": date(2027, 4, 23), "collection_days": 4}, notes="Own crates."
    )
    jobs.drain()
    text = text_of(Document.objects.get())
    for words in (
        "Long Field & Sons Mara Quill",
        "Tallis Red on Kelder",
        "Side graft",
        "60 plants",
        "Pickup Fri 23 to Mon 26 April (closed on Sat 24 April and Sun 25 April), 9:00 to 17:00",
        "Tallis Red: your seed, needed here by Mon 15 February",
        "Kelder: our seed",
        "The second is your work",
        "ready Fri 23 April",
        "Own crates.",
        "union well above the soil",
        "read the label",
        "Ask your authority",
    ):
        assert words in text
    line = OrderLine.objects.get()
    part = line.allocations.get().part
    sown = {sowing.subject: sowing.day for sowing in part.sowings.all()}
    for day in (part.graft_day, *sown.values()):
        assert f"{day:%a} {day.day} {day:%B}" in text


def test_the_strand_on_the_paper_is_said_in_words_too(working):
    confirmed(working)
    jobs.drain()
    content = bytes(Document.objects.get().content)
    tree = PdfReader(io.BytesIO(content)).trailer["/Root"]["/StructTreeRoot"]
    figures = [node for node in walk(tree) if node.get("/S") == "/Figure"]
    assert figures
    assert any("rafted" in str(node.get("/Alt", "")) for node in figures)


def walk(node):
    node = node.get_object() if hasattr(node, "get_object") else node
    if isinstance(node, list):
        for child in node:
            yield from walk(child)
    elif isinstance(node, dict):
        yield node
        if "/K" in node:
            yield from walk(node["/K"])


def test_a_changed_order_gets_a_revision_that_takes_the_place_of_the_first(working):
    order = confirmed(working, {"unit_price": Decimal("2.75")}, {"quantity": 40, "unit_price": Decimal(3)})
    jobs.drain()
    orders.cancel(line=order.lines.get(number=2), by=working.grower, why="The customer's greenhouse burst.")
    promise.paper(order, by=working.grower)
    jobs.drain()
    second = Document.objects.get(revision=2)
    text = text_of(second)
    assert "revision 2" in text
    assert "Cancelled. The customer's greenhouse burst." in text
    assert euros(text.split(" Net ")[1])[0] == Decimal("275.00")
    letter = Letter.objects.get(document=second)
    assert "takes the place of the earlier one" in letter.text
    assert euros(text_of(Document.objects.get(revision=1)).split(" Net ")[1])[0] == Decimal("395.00")


def test_a_job_that_is_done_twice_makes_one_paper_and_one_letter(working):
    confirmed(working)
    job = Job.objects.get(kind="confirmation")
    for _time in range(2):
        jobs.HANDLERS["confirmation"](job.payload | {"cause": job.key})
    assert Document.objects.count() == 1
    assert Letter.objects.count() == 1


def test_a_customer_without_an_address_is_a_call_to_make(working):
    order = confirmed(working, customer=CustomerFactory(name="Hedge End", email="", phone="0123 456"))
    jobs.drain()
    letter = Letter.objects.get()
    assert letter.state == Letter.State.TO_CALL
    assert f"order {order.code}" in letter.call_words
    assert "Pickup Wed 21 to Thu 22 April, 9:00 to 17:00" in letter.call_words
    assert "€312.13" in letter.call_words  # by hand: 275.00 + 37.125 → 37.13


def test_our_own_crop_gets_neither_paper_nor_letter(working):
    order = orders.take_order(customer=None, own_crop=True, lines=[working.line()], by=working.grower, today=TODAY)
    promise.accept(order=order, by=working.grower, today=TODAY)
    jobs.enqueue("confirmation", "by hand", {"order": order.pk, "by": ""})
    jobs.drain()
    assert not Document.objects.exists()
    assert not Letter.objects.exists()
    assert not Job.objects.exclude(state=Job.State.DONE).exists()


def test_a_room_only_line_says_its_nights_and_trays(working):
    room = {"kind": "room", "scion": None, "rootstock": None, "method": "plain", "room_place_kind": "bench"}
    confirmed(
        working, room | {"quantity": 10, "room_nights": 21, "container": working.tray, "unit_price": Decimal(3)}
    )
    jobs.drain()
    text = text_of(Document.objects.get())
    assert "10 trays" in text
    assert "21 nights, until Wed 21 April" in text
    assert "union" not in text


def test_all_that_a_paper_says_is_kept_as_json(working):
    confirmed(working)
    jobs.drain()
    data = Document.objects.get().data
    assert data["lines"][0]["amount"] == "275.00"
    assert data["strands"][0][2]["pickup"] == "2027-04-21"
    order = Order.objects.get()
    assert confirmation_data(order, nursery=Nursery.current(), today=TODAY)["issued"] == TODAY


# --- the pickup notice ----------------------------------------------------------------------------------------


def test_the_pickup_notice_tells_how_many_where_when_and_how_many_are_missing(working, time_machine):
    line = confirmed(working, {"quantity": 150, "unit_price": Decimal("2.75")}).lines.get()
    time_machine.move_to("2027-04-20T08:00:00Z", tick=False)
    notice(line, 138, 12)
    jobs.drain()
    paper = Document.objects.get(kind="pickup_note")
    letter = Letter.objects.get(kind="pickup_ready")
    assert letter.state == Letter.State.SENT
    assert letter.document == paper
    assert letter.subject == f"Order {line.order.code}: 138 plants are ready"
    for text in (text_of(paper), " ".join(letter.text.split())):
        for words in (
            "138 plants",
            "12 fewer than the 150",
            "Wed 21 to Thu 22 April",
            "9:00 to 17:00",
            "Shed 4, back gate",
            "Tallis Red on Kelder",
        ):
            assert words in text
    [event] = Calendar.from_ical(letter.calendar).walk("VEVENT")
    assert (event.decoded("dtstart"), event.decoded("dtend")) == (date(2027, 4, 21), date(2027, 4, 23))
    assert str(event["summary"]) == "Fetch 138 plants of Tallis Red on Kelder"
    assert str(event["location"]) == "Shed 4, back gate"


def test_a_full_count_names_no_shortfall(working):
    line = confirmed(working).lines.get()
    notice(line, 100, 0)
    jobs.drain()
    assert "fewer" not in text_of(Document.objects.get(kind="pickup_note"))
    assert "fewer" not in Letter.objects.get(kind="pickup_ready").text


def test_a_second_notice_takes_the_place_of_the_first_in_the_calendar(working):
    line = confirmed(working).lines.get()
    notice(line, 60, 40, number=1)
    jobs.drain()
    notice(line, 100, 0, number=2)
    jobs.drain()
    [first, second] = Letter.objects.filter(kind="pickup_ready").order_by("id")
    events = [Calendar.from_ical(letter.calendar).walk("VEVENT")[0] for letter in (first, second)]
    assert events[0]["uid"] == events[1]["uid"]
    assert [int(event["sequence"]) for event in events] == [1, 2]
    assert second.document.revision == 2


def test_late_plants_are_fetched_from_today_on_not_in_the_past(working):
    line = confirmed(working).lines.get()
    ClosedDay.objects.create(day=date(2027, 4, 26), name="Spring holiday")
    nursery = Nursery.current()
    window = window_of(line, nursery, since=date(2027, 4, 24))  # a Saturday
    assert (window.first, window.last, window.closed) == (date(2027, 4, 27), date(2027, 4, 28), ())
    assert window_of(line, nursery, since=date(2027, 4, 1)).first == date(2027, 4, 21)
