"""The desk and the moving of a line as pages: what each button answers and keeps, and what bad input gets."""

from datetime import date

import pytest
from django.db.models import F
from django.urls import reverse

from orders import history
from orders import services as orders
from orders.models import Customer, Job, Order, OrderLine, Variety
from production.models import Batch, Part, Place, Protocol, ProtocolStage
from production.services import promise
from tests.factories import CustomerFactory, UserFactory
from tests.nursery import TODAY, working_nursery

from .desk import asked, begun, full_chamber, press, promised, signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def working(time_machine):
    time_machine.move_to("2027-01-11 09:00 +0000", tick=False)
    return working_nursery(healing=2)


@pytest.fixture
def grower(client, working):
    return signed_in(client, working.grower)


# --- the desk ---------------------------------------------------------------------------------------------------


def test_the_answer_follows_what_is_typed_and_stores_nothing(grower):
    part = grower.post(reverse("desk_answer"), asked(grower), headers={"HX-Request": "true"}).content.decode()
    assert "Line 1 fits. Ready" in part
    assert 'id="verdict"' in part
    assert "hx-swap-oob" in part
    assert "<html" not in part
    assert not Order.objects.exists()
    assert not Customer.objects.exists()


def test_half_a_line_gets_no_answer_and_no_fault(grower):
    half = begun(grower) | {"lines-0-scion": "Tallis"}
    part = grower.post(reverse("desk_answer"), half, headers={"HX-Request": "true"})
    assert (part.status_code, b"No answer yet" in part.content) == (200, True)


def test_a_name_not_quite_written_is_answered_with_the_one_that_is_near(grower):
    page = press(grower, "answer", asked(grower, scion="tallis")).content.decode()
    assert "“tallis” is not known yet. Did you mean Tallis Red?" in page


def test_each_reason_for_a_day_names_its_step(grower):
    [card] = press(grower, "answer", asked(grower)).context["desk"].cards
    steps = [reason.step for reason in card.reasons]
    assert {"Sow the rootstock", "Sow the scion", "Graft", "Healing", "Hardening", "Pickup"} <= set(steps)
    assert all(step[0].isupper() for step in steps), "none is told by its code"


def test_a_wrong_name_is_told_instead_of_what_to_fill_in(grower):
    wrong = asked(grower, scion="Talis Redd")
    part = grower.post(reverse("desk_answer"), wrong, headers={"HX-Request": "true"}).content.decode()
    assert "Line 1 needs mending first." in part
    assert "Fill in the first line" not in part


def test_what_does_not_fit_offers_ways_out_that_fit_when_taken(grower, working):
    full_chamber(working)
    page = press(grower, "answer", asked(grower, later="0"))
    [card] = page.context["desk"].cards
    assert not card.fits
    assert any("Healing chamber" in sentence for sentence in card.trouble)
    taken = [offer for offer in card.offers if not offer.over]
    assert {offer.action.split(":")[0] for offer in taken} >= {"take"}
    for offer in taken:
        page = press(grower, offer.action, asked(grower, later="0"))
        assert page.context["desk"].all_fit, offer
    assert not Order.objects.filter(own_crop=False).exclude(lines__kind="room").exists()


def test_the_nearest_day_keeps_everything_else_as_asked(grower, working):
    full_chamber(working)
    [card] = press(grower, "answer", asked(grower, later="0")).context["desk"].cards
    offer = next(offer for offer in card.offers if offer.action.startswith("take:"))
    [line] = press(grower, offer.action, asked(grower, later="0")).context["desk"].lines
    assert line["pickup"].value() == offer.action.partition("/")[2]
    assert line["quantity"].value() == "60"


def test_more_room_is_told_in_places_nights_and_money(grower, working):
    full_chamber(working)
    [card] = press(grower, "answer", asked(grower, later="0")).context["desk"].cards
    [offer] = [offer for offer in card.offers if offer.over]
    assert offer.title == "Make more room"
    assert "Healing chamber: " in offer.why
    assert "more tray place" in offer.why


THURSDAY = date(2027, 4, 22)  # the pickup that rigid stages, sown to potted on open days, can keep


def crowding(working, later: int) -> OrderLine:
    """A promised line that fills the chamber on the nights that an equal one on the same day would want."""
    return promised(working.line(quantity=80, pickup_asked=THURSDAY, later=later))


@pytest.fixture
def rigid(working):
    """Stages that are never longer or shorter, so that only the pickup decides when the chamber is taken."""
    ProtocolStage.objects.filter(track="union").update(shortest=F("usual"), longest=F("usual"))
    Protocol.objects.update(keeping_nights=1)
    return working


def test_another_order_makes_room_in_one_transaction(grower, rigid):
    other = crowding(rigid, later=14)
    data = asked(grower, quantity="80", pickup=THURSDAY.isoformat(), later="0", earlier="0")
    [card] = press(grower, "answer", data).context["desk"].cards
    offer = next(offer for offer in card.offers if offer.action == "moving:")
    assert str(other) in offer.title
    was = Batch.objects.get().code
    press(grower, "moving:", data)
    mine = OrderLine.objects.latest("pk")
    other.refresh_from_db()
    assert (mine.state, mine.pickup) == ("confirmed", THURSDAY)
    assert (other.state, other.pickup > THURSDAY) == ("confirmed", True)
    assert not Batch.objects.filter(code=was).exists()
    assert any("Pickup of line 1 moved" in entry.text for entry in history.of(other.order))
    assert Job.objects.filter(kind="confirmation", payload__order=other.order.pk).count() == 2


def test_who_may_not_replan_moves_nobody(client, rigid):
    other = crowding(rigid, later=14)
    office = signed_in(client, UserFactory(username="office", role="office"))
    page = press(
        office, "moving:", asked(office, quantity="80", pickup=THURSDAY.isoformat(), later="0", earlier="0")
    )
    assert page.status_code == 302
    other.refresh_from_db()
    assert other.pickup == THURSDAY
    assert OrderLine.objects.latest("pk").state == "asked"


@pytest.fixture
def three_trays(rigid):
    """65 plants are promised and want two of the chamber's three trays; 130 want three."""
    Place.objects.filter(name="Healing chamber").update(capacity=3)
    Protocol.objects.update(keeping_nights=3)
    return promised(rigid.line(quantity=65, pickup_asked=THURSDAY, later=0))


def test_a_batch_not_sown_yet_is_joined_by_its_button(grower, three_trays):
    data = asked(grower, quantity="65", pickup=THURSDAY.isoformat(), later="0")
    [card] = press(grower, "answer", data).context["desk"].cards
    offer = next(offer for offer in card.offers if offer.action.startswith("joining:"))
    part = Part.objects.get()
    assert offer.title.startswith(f"Join batch {part}, grafted ")
    assert "Plants: 65, then 130" in offer.why
    assert "less in work, room and seed" in offer.why
    assert card.offers[0] == offer  # the cheapest
    press(grower, offer.action, data)
    assert [line.state for line in OrderLine.objects.all()] == ["confirmed", "confirmed"]
    assert Part.objects.get().plants == 130


def test_lines_that_could_each_join_a_batch_are_promised_by_one_press(grower, three_trays, rigid):
    promised(rigid.line(quantity=10, pickup_asked=THURSDAY, later=0))
    data = asked(grower, quantity="20", pickup=THURSDAY.isoformat(), later="0")
    second = {name.replace("lines-0-", "lines-1-"): value for name, value in data.items()}
    data = second | data | {"lines-1-quantity": "45", "lines-TOTAL_FORMS": "2"}
    cards = press(grower, "answer", data).context["desk"].cards
    offers = [next(offer for offer in card.offers if offer.action.startswith("joining:")) for card in cards]
    assert "Line 2 joins batch" in offers[0].why
    assert "Line 1 joins batch" in offers[1].why
    assert set(offers[0].action.partition(":")[2].split(",")) == set(offers[1].action.partition(":")[2].split(","))
    press(grower, offers[0].action, data)
    order = Order.objects.latest("pk")
    assert [line.state for line in order.lines.all()] == ["confirmed", "confirmed"]
    assert Part.objects.count() == 2


def test_a_batch_changed_since_the_answer_is_not_joined_and_the_order_is_kept(grower, three_trays):
    data = asked(grower, quantity="65", pickup=THURSDAY.isoformat(), later="0")
    [card] = press(grower, "answer", data).context["desk"].cards
    offer = next(offer for offer in card.offers if offer.action.startswith("joining:"))
    Part.objects.update(revision=F("revision") + 1)
    page = grower.post(reverse("desk"), data | {"action": offer.action}, follow=True).content.decode()
    assert "was changed meanwhile" in page
    assert OrderLine.objects.latest("pk").state == "asked"


def test_promising_confirms_and_keeping_only_writes_down(grower):
    kept = press(grower, "keep", asked(grower))
    order = Order.objects.get()
    assert kept.headers["Location"] == reverse("order", args=[order.code])
    assert (order.lines.get().state, Batch.objects.count()) == ("asked", 0)
    press(grower, "promise", asked(grower))
    assert OrderLine.objects.latest("pk").state == "confirmed"


def test_promising_twice_by_one_form_is_one_order(grower):
    data = asked(grower)
    for _twice in range(2):
        press(grower, "promise", data)
    assert Order.objects.count() == 1


def test_a_line_more_begins_as_the_last_and_a_line_less_keeps_the_others(grower):
    page = press(grower, "add", asked(grower, quantity="33"))
    assert [form["quantity"].value() for form in page.context["desk"].lines] == ["33", "33"]
    two = asked(grower) | {"lines-TOTAL_FORMS": "2"}
    two |= {name.replace("-0-", "-1-"): value for name, value in two.items() if "-0-" in name} | {
        "lines-1-quantity": "44"
    }
    assert press(grower, "answer", two).context["desk"].verdict == "All 2 lines fit."
    left = press(grower, "remove:0", two)
    assert [form["quantity"].value() for form in left.context["desk"].lines] == ["44"]


def test_only_the_grower_promises_over_a_conflict_and_says_why(client, grower, working):
    full_chamber(working)
    data = asked(grower, later="0")
    told = press(grower, "promise", data).content.decode()
    assert Order.objects.count() == 1, "without a reason nothing is promised"
    assert "Nothing is promised. Line 1 does not fit on " in told
    assert "say below why it can be done all the same, or keep it as asked." in told
    press(grower, "promise", data, over_conflict="They share a shelf")
    assert OrderLine.objects.latest("pk").state == "confirmed"
    office = signed_in(client, UserFactory(role="office"))
    press(office, "promise", asked(office, later="0"), over_conflict="Me too")
    assert OrderLine.objects.latest("pk").state == "asked", "what was typed is kept, and takes no room"


@pytest.mark.parametrize(
    ("line", "field"),
    [
        ({"quantity": "0"}, "quantity"),
        ({"quantity": "-5"}, "quantity"),
        ({"quantity": "99999999999999999999"}, "quantity"),
        ({"quantity": "many"}, "quantity"),
        ({"pickup": "2027-02-30"}, "pickup"),
        ({"pickup": "9999-12-31"}, "pickup"),
        ({"pickup": "0001-01-01"}, "pickup"),
        ({"scion": "Nobody <b>knows</b> it"}, "scion"),
        ({"scion": "Kelder"}, "scion"),
        ({"container": "999999"}, "container"),
        ({"later": "4000"}, "later"),
        ({"kind": "cuttings"}, "kind"),
        ({"unit_price": "-1"}, "unit_price"),
    ],
)
@pytest.mark.parametrize("action", ["answer", "promise", "keep"])
def test_a_bad_value_is_named_beside_its_field_and_nothing_is_kept(grower, line, field, action):
    page = press(grower, action, asked(grower, **line))
    assert page.status_code in (200, 422)
    said = page.context["desk"].lines[0].errors
    trouble = [
        *said.get(field, ()),
        *(str(fault.reason) for card in page.context["desk"].cards for fault in card.faults),
    ]
    trouble += [sentence for card in page.context["desk"].cards for sentence in card.trouble]
    assert trouble, said
    assert b"<b>knows" not in page.content
    assert not Order.objects.exists()
    assert Variety.objects.count() == 2


def test_a_form_that_lost_its_head_is_refused_and_not_broken(grower):
    page = grower.post(reverse("desk"), {"action": "promise", "customer": "Briar End"})
    assert page.status_code in (200, 422)
    assert not Order.objects.exists()


# --- moving and splitting ---------------------------------------------------------------------------------------


def pieces(*wanted: tuple[object, str]) -> dict[str, object]:
    sent: dict[str, object] = {"pieces-TOTAL_FORMS": len(wanted), "pieces-INITIAL_FORMS": 0}
    for number, (quantity, day) in enumerate(wanted):
        sent |= {f"pieces-{number}-quantity": quantity, f"pieces-{number}-pickup": day}
    return sent


@pytest.fixture
def line(working):
    return promised(working.line())


def test_a_conflict_leads_to_moving_which_only_saving_does(grower, working, line):
    move = reverse("line_move", args=[line.pk])
    page = grower.get(move)
    assert page.context["pieces"][0]["quantity"].value() == 100
    assert reverse("order", args=[line.order.code]) in page.content.decode(), "and back to the order"
    looked = grower.post(move, pieces((100, "2027-05-03")) | {"action": "look"})
    assert looked.context["cards"][0].fits
    line.refresh_from_db()
    assert line.pickup == date(2027, 4, 21)
    assert move in grower.get(reverse("line_plan", args=[line.pk])).content.decode(), (
        "the order's page leads there"
    )
    saved = grower.post(move, pieces((100, "2027-05-03")) | {"action": "save"})
    assert saved.headers["Location"] == reverse("season")
    line.refresh_from_db()
    assert line.pickup == date(2027, 5, 3)


def test_what_is_looked_at_stands_beside_the_others_and_not_beside_itself(grower, line):
    """The chamber has two places, and the line takes both: its own present plan is not in its way."""
    looked = grower.post(
        reverse("line_move", args=[line.pk]), pieces((50, "2027-04-21"), (50, "2027-04-21")) | {"action": "look"}
    )
    for card in looked.context["cards"]:
        assert card.fits
        [tightest] = [fact.says[0] for fact in card.facts if fact.word == "Tightest"]
        assert "Healing chamber: 2 of 2 tray places" in tightest


def test_what_is_sown_is_not_offered_another_day(grower, line):
    OrderLine.objects.filter(pk=line.pk).update(state="growing")
    ways = grower.get(reverse("line_ways", args=[line.pk])).content.decode()
    assert "Only a line that is promised and not yet sown can be moved here." in ways
    for page in (ways, grower.get(reverse("line_plan", args=[line.pk])).content.decode()):
        assert reverse("line_move", args=[line.pk]) not in page


def test_splitting_halves_the_piece_and_the_sum_must_stay(grower, line):
    move = reverse("line_move", args=[line.pk])
    page = grower.post(move, pieces((100, "2027-04-21")) | {"action": "split"})
    assert [form["quantity"].value() for form in page.context["pieces"]] == ["50", "50"]
    wrong = grower.post(move, pieces((50, "2027-04-21"), (40, "2027-05-03")) | {"action": "save"})
    assert wrong.status_code == 422
    assert OrderLine.objects.filter(order=line.order).count() == 1
    grower.post(move, pieces((50, "2027-04-21"), (50, "2027-05-03")) | {"action": "save"})
    assert sorted(OrderLine.objects.filter(order=line.order).values_list("quantity", flat=True)) == [50, 50]


@pytest.mark.parametrize("piece", [(0, "2027-05-03"), (100, "soon"), (100, "2020-01-06"), (100, "9999-12-31")])
@pytest.mark.parametrize("action", ["look", "save"])
def test_a_bad_piece_is_refused_and_the_line_stays(grower, line, piece, action):
    page = grower.post(reverse("line_move", args=[line.pk]), pieces(piece) | {"action": action})
    assert page.status_code in (200, 422)
    refused = page.context["refusal"] or any(form.errors for form in page.context["pieces"])
    shown = [card for card in page.context.get("cards", []) if not card.fits]
    assert refused or shown
    line.refresh_from_db()
    assert line.pickup == date(2027, 4, 21)


def test_the_season_names_the_conflict_its_days_and_who_asks_most(grower, working):
    room = full_chamber(working)
    over = working.line(quantity=60, later=0)
    order = orders.take_order(customer=CustomerFactory(), lines=[over], by=working.grower, today=TODAY)
    promise.accept(order=order, by=working.grower, today=TODAY, over_conflict="They share a shelf")
    page = grower.get(reverse("season")).content.decode()
    assert "Healing chamber, nights of" in page
    for one in (room, order.lines.get()):
        assert reverse("line_ways", args=[one.pk]) in page


# --- holding ----------------------------------------------------------------------------------------------------


def test_the_desk_holds_an_order_for_the_nursery_s_usual_days(grower):
    page = press(grower, "hold", asked(grower))
    line = OrderLine.objects.get()
    assert (line.state, line.hold_until) == ("held", date(2027, 1, 14))
    shown = grower.get(page.headers["Location"]).content.decode()
    assert "Held until Thu 14 January" in shown
    assert "until Thu 14 January" in grower.get(reverse("orders")).content.decode()


def test_the_desk_holds_nothing_that_does_not_fit(grower, working):
    full_chamber(working)
    told = press(grower, "hold", asked(grower, later="0")).content.decode()
    assert "Nothing is held. Line 1 does not fit on " in told
    assert not Order.objects.filter(lines__kind="grafted").exists()


def test_the_order_s_page_holds_extends_confirms_and_lets_go(grower):
    press(grower, "keep", asked(grower))
    order = Order.objects.get()
    for name, data, state, until in (
        ("order_hold", {}, "held", date(2027, 1, 14)),
        ("order_extend", {"until": "2027-01-20"}, "held", date(2027, 1, 20)),
        ("order_extend", {"until": "2026-12-01"}, "held", date(2027, 1, 20)),
        ("order_extend", {"until": "soon"}, "held", date(2027, 1, 20)),
        ("order_extend", {}, "held", date(2027, 1, 20)),
        ("order_let_go", {"why": "Too dear"}, "let_go", None),
    ):
        answer = grower.post(reverse(name, args=[order.code]), data)
        assert answer.headers["Location"] == reverse("order", args=[order.code])
        line = order.lines.get()
        assert (line.state, line.hold_until) == (state, until), (name, data)
    grower.post(reverse("line_ask_again", args=[line.pk]))
    assert order.lines.get().state == "asked"
    grower.post(reverse("order_hold", args=[order.code]), {"until": "2027-01-18"})
    grower.post(reverse("order_confirm", args=[order.code]))
    assert order.lines.get().state == "confirmed"


@pytest.mark.parametrize("lines", ["1000000", "9" * 30, pytest.param("9" * 5000, id="5000 digits")])
@pytest.mark.parametrize("action", ["answer", "add", "remove:1", "again:1"])
def test_a_form_that_says_it_has_a_million_lines_makes_no_more_than_may_be_sent(grower, action, lines):
    answer = press(grower, action, asked(grower) | {"lines-TOTAL_FORMS": lines})
    assert answer.status_code == 422
    assert answer.content.decode().count('name="lines-29-quantity"') <= 1
    assert 'name="lines-30-quantity"' not in answer.content.decode()
    assert not Order.objects.exists()


def test_what_no_database_keeps_is_refused_beside_its_field(grower):
    """A NUL in a name or a code that is looked up: PostgreSQL refuses to be asked for it."""
    for typed in ({"customer": "Briar\0End"}, {"lines-0-scion": "Tallis\0Red"}):
        assert press(grower, "answer", asked(grower) | typed).status_code in (200, 422)
    assert press(grower, "again:1\0", asked(grower)).status_code in (200, 422)


@pytest.mark.parametrize(
    "sent",
    [{"pieces-TOTAL_FORMS": "9" * 5000}, {"pieces-0-quantity": "9" * 5000}, {"pieces-0-quantity": "²"}],
    ids=["total", "quantity", "square"],
)
def test_splitting_what_is_no_number_is_refused_and_not_broken(grower, line, sent):
    posted = pieces((100, "2027-04-21")) | sent | {"action": "split"}
    assert grower.post(reverse("line_move", args=[line.pk]), posted).status_code in (200, 422)
