"""Typing at the desk: names that follow, what was ordered before, a first look and a closer one."""

from datetime import date, timedelta

import pytest
from django.urls import reverse

from orders import history
from orders import services as orders
from orders.models import Order, OrderLine, Variety
from production.planning.promise import load_for
from production.planning.tightest import tightest
from production.queries import past
from production.services import answering, promise
from tests.factories import CustomerFactory, UserFactory
from tests.nursery import TODAY, working_nursery

from .desk import asked, full_chamber, press, signed_in

pytestmark = pytest.mark.django_db
LIVE = {"HX-Request": "true"}


@pytest.fixture
def working(time_machine):
    time_machine.move_to("2027-01-11 09:00 +0000", tick=False)
    return working_nursery(healing=2)


@pytest.fixture
def grower(client, working):
    return signed_in(client, working.grower)


def ordered(working, customer, *lines, **changes):
    wanted = lines or [working.line(**changes)]
    return orders.take_order(customer=customer, lines=wanted, by=working.grower, today=TODAY)


def long_ago(order: Order, pickup: date) -> Order:
    order.lines.update(pickup_asked=pickup)
    return order


def names(client, kind: str, **values: str) -> str:
    return client.get(reverse("desk_suggest", args=[kind]), values).content.decode()


# --- names while one types --------------------------------------------------------------------------------------


def test_customers_and_varieties_follow_what_is_typed(grower):
    CustomerFactory(name="Briar End")
    CustomerFactory(name="Hollin Hill")
    assert "Briar End" in names(grower, "customer", customer="bri")
    assert "Hollin Hill" not in names(grower, "customer", customer="bri")
    assert "Kelder" in names(grower, "rootstock", **{"lines-0-rootstock": "kel", "customer": "Briar End"})
    assert "Kelder" not in names(grower, "scion", **{"lines-0-scion": "kel"})


def test_a_combination_ordered_before_is_offered_for_the_scion_this_customers_first(grower, working):
    briar = CustomerFactory(name="Briar End")
    other = Variety.from_crop(working.scion.crop, "Marrowby", "scion")
    other.save()
    ordered(working, briar)
    ordered(working, CustomerFactory(), working.line(scion=other))
    assert past.combinations("", "briar end") == ["Tallis Red on Kelder", "Marrowby on Kelder"]
    assert past.combinations("") == ["Marrowby on Kelder", "Tallis Red on Kelder"]
    assert past.combinations("kel tal") == ["Tallis Red on Kelder"]
    assert "Tallis Red on Kelder" in names(grower, "scion", **{"lines-0-scion": "tal"})


def test_no_other_list_is_given(grower):
    assert grower.get(reverse("desk_suggest", args=["user"])).status_code == 404


# --- a whole combination in the scion's field -------------------------------------------------------------------


def test_a_combination_fills_the_line_as_it_was_ordered_last(grower, working):
    ordered(working, CustomerFactory(), leaders="two_topped", container=working.pot)
    typed = asked(grower, scion="tallis red  on Kelder", rootstock="")
    part = grower.post(reverse("desk_answer"), typed, headers=LIVE).content.decode()
    assert 'hx-swap-oob="innerHTML:#line-0-fields"' in part
    [line] = press(grower, "answer", typed).context["desk"].lines
    assert (line["scion"].value(), line["rootstock"].value()) == ("Tallis Red", "Kelder")
    assert line["leaders"].value() == "two_topped"
    assert line.is_valid()


def test_a_name_that_is_no_combination_stays_what_it_is(grower):
    part = grower.post(reverse("desk_answer"), asked(grower), headers=LIVE).content.decode()
    assert "line-0-fields" not in part
    [line] = press(grower, "answer", asked(grower, scion="Nobody on Nothing")).context["desk"].lines
    assert line["scion"].value() == "Nobody on Nothing"
    assert "scion" in line.errors


def test_a_name_may_hold_the_word_between_the_two(working):
    working.scion.name = "Red on Rose"
    working.scion.save()
    ordered(working, CustomerFactory())
    assert past.line_named("red on rose on kelder").scion == working.scion
    assert past.line_named("rose on kelder") is None


# --- the same again ---------------------------------------------------------------------------------------------


def test_last_years_order_is_asked_again_on_the_same_weekday(grower, working):
    briar = CustomerFactory(name="Briar End")
    pots = working.line(quantity=30, leaders="two_topped")
    before = long_ago(ordered(working, briar, working.line(quantity=120), pots), date(2026, 4, 15))
    page = press(grower, f"again:{before.code}", asked(grower))
    first, second = page.context["desk"].lines
    assert (first["quantity"].value(), second["quantity"].value()) == ("120", "30")
    assert first["pickup"].value() == (date(2026, 4, 15) + timedelta(weeks=52)).isoformat()
    assert second["leaders"].value() == "two_topped"
    assert page.context["desk"].form["customer"].value() == "Briar End"
    assert Order.objects.count() == 1
    assert b'name="lines-0-quantity" value="120"' in page.content


def test_a_day_that_is_closed_now_becomes_the_next_open_one(working):
    nursery = working.nursery
    line = ordered(working, CustomerFactory()).lines.get()
    line.pickup_asked = date(2026, 4, 18)  # a Saturday
    assert 5 not in nursery.open_weekdays
    assert past.asked_again(line, TODAY, nursery)["pickup"] == "2027-04-19"


def test_what_was_given_up_is_not_asked_again(grower, working):
    briar = CustomerFactory(name="Briar End")
    order = ordered(working, briar)
    orders.let_go(line=order.lines.get(), by=None, why="no")
    assert past.earlier_orders(briar, TODAY) == []
    [line] = press(grower, f"again:{order.code}", asked(grower, quantity="7")).context["desk"].lines
    assert line["quantity"].value() == "7"


def test_last_years_orders_come_first_in_the_order_of_their_turn(working):
    briar = CustomerFactory(name="Briar End")
    august, march, soon = (
        long_ago(ordered(working, briar), day) for day in (date(2026, 8, 12), date(2026, 3, 11), date(2027, 4, 21))
    )
    found = past.earlier_orders(briar, TODAY)
    assert [each.order for each in found] == [march, august, soon]
    assert [each.last_year for each in found] == [True, True, False]


def test_the_answer_shows_what_the_customer_had_before(grower, working):
    order = ordered(working, CustomerFactory(name="Briar End"))
    part = grower.post(reverse("desk_answer"), asked(grower), headers=LIVE).content.decode()
    assert f'value="again:{order.code}"' in part
    assert 'hx-swap-oob="innerHTML:#earlier"' in part


# --- a first look and a closer one -------------------------------------------------------------------------------


def test_a_no_at_first_sight_asks_for_a_closer_look(grower, working):
    full_chamber(working)
    typed = asked(grower, later="0")
    first = grower.post(reverse("desk_answer"), typed, headers=LIVE)
    [card] = first.context["desk"].cards
    assert (card.fits, card.looking, card.offers) == (False, True, ())
    assert "finds no room at first sight" in card.title
    assert not any("No day within" in sentence for sentence in card.trouble)  # nobody has looked yet
    assert b'hx-trigger="load' in first.content
    closer = grower.post(reverse("desk_answer"), typed | {"closely": "yes"}, headers=LIVE)
    [card] = closer.context["desk"].cards
    assert not card.looking
    assert card.offers
    assert b'hx-trigger="load' not in closer.content


def test_a_yes_at_first_sight_is_the_same_yes(working):
    [quick] = answering.what_if([working.line()], today=TODAY, closely=False)
    [close] = answering.what_if([working.line()], today=TODAY)
    assert quick.fits
    assert quick.plan == close.plan


def test_without_script_the_button_looks_closely_at_once(grower, working):
    full_chamber(working)
    [card] = press(grower, "answer", asked(grower, later="0")).context["desk"].cards
    assert not card.looking
    assert card.offers


def test_the_tightest_night_counts_what_is_promised_with_it(working):
    lines = [working.line(quantity=60), working.line(quantity=60)]
    one, two = answering.what_if(lines, today=TODAY)
    assert one.plan
    assert two.plan
    season = promise.at_hand.season_of(TODAY)
    load = load_for(season, [one.plan.wish])
    alone, together = tightest(load, one.plan), tightest(load, one.plan, [two.plan])
    assert alone
    assert together
    assert alone.place.name == "Healing chamber"
    assert 0 < alone.taken <= together.taken <= together.there == 2


def test_more_room_is_taken_by_saying_that_it_will_be_arranged(grower, working):
    full_chamber(working)
    typed = asked(grower, later="0")
    [card] = press(grower, "answer", typed).context["desk"].cards
    [more] = [offer for offer in card.offers if offer.over]
    page = press(grower, more.action, typed)
    assert page.context["desk"].reason == more.why.split(". ")[0]
    assert f'value="{page.context["desk"].reason}"' in page.content.decode()
    assert not Order.objects.filter(lines__kind="grafted").exists()
    press(grower, "promise", typed, over_conflict=page.context["desk"].reason)
    order = Order.objects.get(lines__kind="grafted")
    assert order.lines.get().state == "confirmed"
    assert any("Healing chamber" in entry.text for entry in history.of(order))


def test_only_who_may_promise_over_a_conflict_is_offered_to(client, working):
    full_chamber(working)
    clerk = signed_in(client, UserFactory(role="office"))
    page = press(clerk, "answer", asked(clerk, later="0"))
    assert [offer for offer in page.context["desk"].cards[0].offers if offer.over]
    assert 'value="more:' not in page.content.decode()


def test_the_live_answer_lets_the_grower_give_a_reason(grower, working):
    full_chamber(working)
    typed = asked(grower, later="0") | {"closely": "yes", "over_conflict": "a neighbour lends trays"}
    part = grower.post(reverse("desk_answer"), typed, headers=LIVE).content.decode()
    assert 'value="a neighbour lends trays"' in part


@pytest.mark.parametrize("count", [1, 6])
def test_an_answer_asks_the_database_no_more_when_the_season_is_fuller(
    grower, working, django_assert_max_num_queries, count
):
    for _order in range(count):
        order = ordered(working, CustomerFactory(), quantity=20)
        promise.accept(order=order, by=working.grower, today=TODAY)
    typed = asked(grower, quantity="20")
    grower.post(reverse("desk_answer"), typed, headers=LIVE)  # reads the season once
    with django_assert_max_num_queries(45):
        part = grower.post(reverse("desk_answer"), typed, headers=LIVE)
    assert part.context["desk"].all_fit


def test_enter_never_promises(grower):
    """The form's first button is the one that Enter presses."""
    page = grower.get(reverse("desk")).content.decode()
    form = page[page.index('<form method="post" class="columns"') :]
    assert form.index('value="answer"') < form.index('value="promise"')
    assert OrderLine.objects.count() == 0
