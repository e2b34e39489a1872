"""The papers that promising and growing bring forth, read back from their PDF, and the letters that carry them."""

import io
import re
from datetime import date
from decimal import Decimal

import pytest
from django.contrib.messages import get_messages
from django.urls import reverse
from icalendar import Calendar
from pypdf import PdfReader
from rest_framework.test import APIClient

from orders import documents, jobs, states
from orders import services as orders
from orders.models import Document, Job, Letter, Nursery, Order, OrderLine
from production import bridge
from production.models import ClosedDay, Part, Work
from production.papers import confirmation_data, day_sheet_data, labels_of_batch, labels_of_day
from production.papers.lines import window_of
from production.services import promise
from production.services.readiness import send_notice
from tests.factories import CustomerFactory, UserFactory
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
    return text_of_pdf(bytes(document.content))


def text_of_pdf(content: bytes) -> str:
    """The text as it is read from top to bottom, without its line breaks."""
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages).split())


def euros(text: str) -> list[Decimal]:
    return [Decimal(found.replace(",", "")) for found in re.findall(r"€([\d,]+\.\d\d)(?!\d)", text)]


def notice(line: OrderLine, quantity: int) -> None:
    """So many plants are counted ready, and the customer is told."""
    OrderLine.objects.filter(pk=line.pk).update(state=states.READY, ready_quantity=quantity)
    send_notice(line=line, by=None, today=Nursery.current().today())


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
        "Pickup Fri 23 April and Mon 26 April, 9:00 to 17:00",
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
    notice(line, 138)
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
    notice(line, 100)
    jobs.drain()
    assert "fewer" not in text_of(Document.objects.get(kind="pickup_note"))
    assert "fewer" not in Letter.objects.get(kind="pickup_ready").text


def test_a_second_notice_takes_the_place_of_the_first_in_the_calendar(working):
    line = confirmed(working).lines.get()
    notice(line, 60)
    jobs.drain()
    notice(line, 100)
    jobs.drain()
    [first, second] = Letter.objects.filter(kind="pickup_ready").order_by("id")
    events = [Calendar.from_ical(letter.calendar).walk("VEVENT")[0] for letter in (first, second)]
    assert events[0]["uid"] == events[1]["uid"]
    assert [int(event["sequence"]) for event in events] == [1, 2]
    assert second.document.revision == 2


def test_only_days_on_which_we_are_open_are_named(working):
    line = confirmed(working, {"pickup_asked": date(2027, 4, 23), "collection_days": 3}).lines.get()
    window = window_of(line, bridge.calendar_of(Nursery.current()))  # trays wait until Sunday, closed as Saturday
    assert (window.words(TODAY), window.days) == ("Fri 23 April", 1)


def test_late_plants_are_fetched_from_today_on_not_in_the_past(working):
    line = confirmed(working).lines.get()
    ClosedDay.objects.create(day=date(2027, 4, 26), name="Spring holiday")
    nursery = Nursery.current()
    window = window_of(line, bridge.calendar_of(nursery), since=date(2027, 4, 24))  # a Saturday
    assert window.open == (date(2027, 4, 27), date(2027, 4, 28))
    assert window_of(line, bridge.calendar_of(nursery), since=date(2027, 4, 1)).first == date(2027, 4, 21)


# --- the day sheet and the tray labels ------------------------------------------------------------------------


def test_the_day_sheet_has_each_piece_of_work_with_its_place_and_number(working, client, time_machine):
    confirmed(working)
    part = Part.objects.get()
    first = part.sowings.order_by("day").first()
    time_machine.move_to(f"{first.day}T07:00:00Z", tick=False)
    client.force_login(working.grower)
    answer = client.get(reverse("day_sheet_paper", args=[first.day]))
    assert answer["Content-Type"] == "application/pdf"
    text = text_of_pdf(answer.content)
    assert f"{first.day:%A} {first.day.day} {first.day:%B} 2027" in text
    for sowing in part.sowings.filter(day=first.day):
        assert f"Sow {sowing.variety}" in text
        assert f"{sowing.seeds} seeds" in text
        assert sowing.code in text
    assert "Germination chamber" in text
    assert "seeds sown" in text  # beside the room to write the count
    assert "keep to their labels" in text


def test_the_sheet_of_a_day_holds_all_parts_of_the_day_in_their_order(working):
    confirmed(working, SIDE | {"unit_price": Decimal(3)})
    cut = Work.objects.filter(kind="notch").get()
    data = day_sheet_data(cut.day, today=TODAY, nursery=Nursery.current())
    assert [section["key"] for section in data["sections"]][-1] == "evening"
    evening = data["sections"][-1]["tasks"]
    assert any(task["title"] == "Notch the scion's stem" for task in evening)
    assert data["minutes"] == pytest.approx(
        sum(work.total_hours for work in Work.objects.filter(day=cut.day)) * 60
    )


def test_an_empty_day_says_when_the_next_work_is(working, client):
    confirmed(working)
    client.force_login(working.grower)
    text = text_of_pdf(client.get(reverse("day_sheet_paper", args=[TODAY])).content)
    assert "Nothing is planned for this day." in text
    first = Work.objects.order_by("day").first().day
    assert f"The next work is on {first:%a} {first.day} {first:%B}" in text


def test_every_tray_of_a_batch_gets_one_label(working, client):
    confirmed(working)
    part = Part.objects.get()
    labels = labels_of_batch(part.batch)
    for sowing in part.sowings.all():
        assert [label.tray for label in labels if label.code == sowing.code] == [
            f"{tray} of {sowing.trays}" for tray in range(1, sowing.trays + 1)
        ]
    unions = part.stays.filter(subject="union")
    first = unions.order_by("first").first()
    assert sum(label.code == part.batch.code for label in labels) == sum(
        stay.containers for stay in unions.filter(first=first.first)
    )
    client.force_login(working.grower)
    text = text_of_pdf(client.get(reverse("batch_labels", args=[part.batch.code])).content)
    for words in (f"Sown {sowing_day(part, 'scion')}", "Splice graft", "rootstock for Tallis Red", "Order "):
        assert words in text


def sowing_day(part: Part, subject: str) -> str:
    day = part.sowings.get(subject=subject).day
    return f"{day:%a} {day.day} {day:%B}"


def test_labels_of_a_day_are_those_of_its_sowings_and_grafts(working, client):
    confirmed(working)
    part = Part.objects.get()
    assert {label.code for label in labels_of_day(part.graft_day)} == {part.batch.code}
    sown = part.sowings.filter(day=part.sowings.first().day)
    assert {label.code for label in labels_of_day(sown.first().day)} == {sowing.code for sowing in sown}
    client.force_login(working.grower)
    answer = client.get(reverse("day_labels", args=[TODAY]))
    assert answer.status_code == 302
    assert "no label to print" in str(next(iter(get_messages(answer.wsgi_request))))


def test_many_labels_take_few_queries(working, django_assert_max_num_queries):
    confirmed(working, {"quantity": 300}, {"quantity": 200, "unit_price": Decimal(2)}, SIDE)
    day = Part.objects.first().sowings.first().day
    with django_assert_max_num_queries(8):
        assert len(labels_of_day(day)) > 10


def test_papers_of_the_greenhouse_are_for_those_who_may_see_the_work(working, client):
    confirmed(working)
    code = Part.objects.get().batch.code
    client.force_login(UserFactory())
    for name, argument in (("day_sheet_paper", TODAY), ("day_labels", TODAY), ("batch_labels", code)):
        assert client.get(reverse(name, args=[argument])).status_code == 403


def test_the_greenhouse_s_papers_come_by_api_too(working):
    confirmed(working)
    part = Part.objects.get()
    api = APIClient()
    api.force_authenticate(working.grower)
    sheet = api.get(f"/api/day/{part.graft_day}/sheet/", HTTP_ACCEPT="application/pdf")
    assert f"Graft Order {Order.objects.get().code}" in text_of_pdf(sheet.content)
    assert "Splice graft" in text_of_pdf(api.get(f"/api/day/{part.graft_day}/labels/").content)
    assert "Kelder" in text_of_pdf(api.get(f"/api/batches/{part.batch.code}/labels/").content)
    assert api.get(f"/api/day/{TODAY}/labels/").status_code == 404


def test_without_its_libraries_the_paper_waits_for_a_person_and_is_made_later(working, monkeypatch):
    order = confirmed(working)

    def no_pango(template, data):
        raise documents.PapersOff("libpango-1.0-0")

    with monkeypatch.context() as machine:
        machine.setattr(documents, "render", no_pango)
        jobs.drain()
    job = Job.objects.get(kind="confirmation")
    assert job.state == Job.State.FAILED
    assert "libpango-1.0-0" in job.error
    assert not Letter.objects.exists()
    assert order.lines.get().state == states.CONFIRMED  # the promise does not hang on the paper
    jobs.retry(job)
    jobs.drain()
    assert Letter.objects.get().state == Letter.State.SENT
