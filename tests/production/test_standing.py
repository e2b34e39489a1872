"""Plants that stand already on the first day: entered once, then like all others."""

import dataclasses
import datetime as dt
import uuid

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from orders import services as orders
from orders.models import Order, OrderLine
from orders.refusals import ManyRefused
from production.forms.named import NAMED, NamedField
from production.models import Allocation, Batch, Part, Place, ProtocolStage, Stay, Work
from production.queries.batch import batches, part_view
from production.queries.place import place_view
from production.queries.tally import tally_of
from production.services import growing
from production.services.holding import hold
from production.services.standing import Seedlings, Standing, enter_standing
from tests.factories import CustomerFactory


@pytest.fixture
def bench(ground):
    return Place.objects.get(name="Long bench")


def stage(method, kind, track="union"):
    return ProtocolStage.objects.get(protocol__method=method, protocol__current=True, track=track, kind=kind)


@pytest.fixture
def grafted(ground, bench):
    """140 grafted plants that came to the bench three days ago to grow on."""
    return Standing(
        scion=ground.scion,
        rootstock=ground.rootstock,
        method="splice",
        plants=140,
        container=ground.nursery.pot,
        place=bench,
        entered_on=ground.today - dt.timedelta(days=3),
        pickup=ground.today + dt.timedelta(days=16),
        stage=stage("splice", "growing_on"),
    )


def enter(ground, what, **more):
    return enter_standing(what=what, by=ground.grower, today=ground.today, **more)


def test_grafted_plants_take_their_room_and_their_work_is_planned(ground, grafted, bench):
    part = enter(ground, grafted)
    stay = Stay.objects.get(part=part, entered=True)
    assert (stay.first, stay.place, stay.containers) == (grafted.entered_on, bench, 18)  # eight to a tray
    assert place_view(bench, today=ground.today).tonight.load == 18
    kinds = set(Work.objects.filter(part=part, state="planned").values_list("kind", flat=True))
    assert {"count_ready", "hand_over"} <= kinds
    assert not kinds & {"sow", "count_emerged", "graft", "count_taken", "take_out"}
    assert not Work.objects.filter(day__lt=ground.today).exists()
    assert tally_of(part).alive == 140
    assert 130 < part.expected <= 140
    # growing on usually takes 17 nights (starting protocol): three are over
    assert ground.today + dt.timedelta(days=11) <= part.ready_day <= grafted.pickup


def test_they_grow_on_like_all_others(ground, grafted):
    part = enter(ground, grafted)
    part = ground.grow_to_ready(part)
    ready = ground.do(part, "count_ready", 138)
    assert ready.state == "done"
    part.refresh_from_db()
    assert part.state == "ready"


def test_for_an_order_that_was_only_asked_the_line_is_confirmed_and_grows(ground, grafted):
    line = ground.asked(quantity=120, pickup_asked=grafted.pickup)
    part = enter(ground, grafted, line=line)
    line.refresh_from_db()
    assert line.state == "growing"
    assert line.pickup == grafted.pickup
    assert Allocation.objects.get(line=line).quantity == 120
    view = part_view(batches().get(pk=part.batch_id).parts.all()[0], today=ground.today)
    assert view.spare == 20


def test_for_a_confirmed_order_nothing_is_sown_any_more(ground, grafted):
    line = ground.line(quantity=120)
    planned = Batch.objects.get()
    part = enter(ground, grafted, line=line)
    assert not Batch.objects.filter(pk=planned.pk).exists()
    assert part.pickup == line.pickup
    assert not Work.objects.filter(kind="sow").exists()


def test_what_was_only_held_is_confirmed_and_gives_its_room_back(ground, grafted):
    line = ground.asked(quantity=120)
    hold(order=line.order, by=ground.grower, today=ground.today)
    planned = Batch.objects.get()
    line.refresh_from_db()
    part = enter(ground, grafted, line=line)
    assert not Batch.objects.filter(pk=planned.pk).exists()
    assert part.pickup == line.pickup
    line.refresh_from_db()
    assert (line.state, line.hold_until) == ("growing", None)


def test_our_own_crop_becomes_an_order_of_ours(ground, grafted):
    enter(ground, grafted, own_crop=True)
    order = Order.objects.get()
    assert order.own_crop
    assert order.lines.get().state == "growing"


def test_the_same_submit_twice_enters_them_once(ground, grafted):
    key = uuid.uuid4()
    first = enter(ground, grafted, key=key)
    assert enter(ground, grafted, key=key) == first
    assert Part.objects.count() == 1


def test_seedlings_of_both_sides_wait_for_their_graft(ground, grafted, bench):
    sown = ground.today - dt.timedelta(days=12)
    what = dataclasses.replace(
        grafted,
        plants=90,
        stage=None,
        container=ground.nursery.tray,
        entered_on=ground.today - dt.timedelta(days=6),
        pickup=ground.today + dt.timedelta(days=50),
        scion_side=Seedlings(90, sown),
        rootstock_side=Seedlings(80, sown, ground.lot(ground.rootstock)),
    )
    part = enter(ground, what)
    assert tally_of(part).graftable == 80
    graft = Work.objects.get(part=part, kind="graft")
    assert graft.day > ground.today
    assert set(Stay.objects.filter(part=part, entered=True).values_list("stage_kind", flat=True)) == {"raising"}
    ground.today = graft.day
    growing.do_work(work=graft, by=ground.grower, today=ground.today, count=75)
    assert Stay.objects.get(part=part, stage_kind="healing").entered


def test_plain_plants_on_the_bench(ground, grafted):
    what = dataclasses.replace(
        grafted, rootstock=None, method="plain", stage=stage("plain", "growing_on"), plants=100
    )
    part = enter(ground, what)
    assert tally_of(part).alive == 100
    assert Stay.objects.get(part=part, entered=True).subject == "plain"
    kinds = set(Work.objects.filter(part=part, state="planned").values_list("kind", flat=True))
    assert "count_ready" in kinds
    assert "sow" not in kinds
    assert "graft" not in kinds


def test_what_cannot_be_is_refused_all_at_once_with_its_fields(ground, grafted):
    what = dataclasses.replace(
        grafted,
        plants=0,
        place=Place.objects.get(name="Germination chamber"),
        entered_on=ground.today + dt.timedelta(days=1),
        pickup=ground.today - dt.timedelta(days=1),
        scion=ground.rootstock,
    )
    with pytest.raises(ManyRefused) as refused:
        enter(ground, what)
    fields = {each.field for each in refused.value.refusals}
    assert fields == {"scion", "plants", "place", "entered_on", "pickup"}
    assert not Batch.objects.exists()


def test_a_line_of_other_varieties_or_one_that_grows_is_refused(ground, grafted):
    grows = ground.line()
    orders.mark_growing(line=grows, by=None)
    grows.refresh_from_db()
    with pytest.raises(ManyRefused, match="is growing already"):
        enter(ground, grafted, line=grows)
    plain = ground.asked(kind="plain", rootstock=None, method="plain")
    with pytest.raises(ManyRefused, match="asks for Tallis Red"):
        enter(ground, grafted, line=plain)


def test_the_one_form(ground, grafted, client):
    client.force_login(ground.grower)
    data = {
        "scion": ground.scion.pk,
        "rootstock": ground.rootstock.pk,
        "method": "splice",
        "stage": grafted.stage.pk,
        "plants": 140,
        "container": grafted.container.pk,
        "place": grafted.place.pk,
        "entered_on": "2020-01-01",
        "pickup": "2020-02-01",
        "key": str(uuid.uuid4()),
    }
    page = client.post(reverse("standing"), data)
    assert page.status_code == 422
    assert "is more than a year ago" in page.content.decode()
    data |= {"stage": ""}
    page = client.post(reverse("standing"), data)
    assert "Seedlings need this" in page.content.decode()
    assert not Batch.objects.exists()


class TestNamesThatAreTyped:
    """On the form, an order's line and a seed lot are named by typing: a list of thousands would be no help."""

    @pytest.fixture
    def lines(self, ground):
        """Two lines of one customer and one of another, with their orders' codes."""
        pickup = ground.today + dt.timedelta(days=16)
        farm = CustomerFactory(name="Longacre")
        asked = [ground.asked(customer, quantity=120, pickup_asked=pickup) for customer in (farm, farm, None)]
        return {line.order.code: line for line in asked}

    @pytest.fixture
    def field(self, ground):
        return NamedField(kind="line", names="lines", required=False)

    def test_a_line_is_found_by_its_number_and_by_the_name_that_the_list_offers(self, field, lines):
        for code, line in lines.items():
            name = f"Order {code}, line 1: 120 × Tallis Red on Kelder, {line.order.who}"
            for text in (f"{code}/1", f" {code} / 1 ", f"order {code}", code, name):
                assert field.clean(text) == line, text
        assert set(NAMED["line"].names()) >= {name}
        assert field.prepare_value(line) == name

    def test_by_words_that_only_it_has(self, field, lines):
        other = list(lines.values())[-1]
        assert field.clean(f"{other.order.who} tallis") == other

    def test_words_that_several_have_are_answered_with_their_names(self, field, lines):
        with pytest.raises(ValidationError) as said:
            field.clean("longacre")
        words = said.value.messages[0]
        assert "may be one of several" in words
        assert all(f"Order {code}, line 1" in words for code in list(lines)[:2])

    def test_nobody_yet_and_nothing_of_that_name(self, field, lines, ground):
        assert field.clean("") is None
        ground.line(quantity=20)
        growing = ground.part(ground.line(quantity=20)).allocations.get().line
        OrderLine.objects.filter(pk=growing.pk).update(state="growing")
        for text in ("Nobody", "999/1", f"{growing.order.code}/1"):
            with pytest.raises(ValidationError, match="as 27/1, or its customer"):
                field.clean(text)

    def test_a_lot_is_found_by_its_code_even_where_it_begins_another(self, ground):
        first, second = ground.lot(ground.scion), ground.lot(ground.scion)
        for lot, code in ((first, "T1"), (second, "T12")):
            lot.code = code
            lot.save()
        field = NamedField(kind="lot", names="lots", required=False)
        assert field.clean("t1") == first
        assert field.clean("T12: Tallis Red") == second
        with pytest.raises(ValidationError, match="T1: Tallis Red; T12: Tallis Red"):
            field.clean("tallis")

    def test_the_page_offers_what_may_be_meant_and_the_list_follows(self, ground, lines, client):
        client.force_login(ground.grower)
        page = client.post(reverse("standing"), {"line": "longacre"}).content.decode()
        assert "may be one of several" in page
        assert page.count('<option value="Order') == 2
        found = client.get(reverse("standing_suggest", args=["line"]), {"line": "longacre"}).content.decode()
        assert found.count("<option") == 2
        assert client.get(reverse("standing_suggest", args=["place"])).status_code == 404

    def test_they_are_entered_for_the_line_that_was_typed(self, ground, grafted, lines, client, time_machine):
        time_machine.move_to(f"{ground.today}T09:00:00Z")
        client.force_login(ground.grower)
        code, line = next(iter(lines.items()))
        data = {
            "scion": ground.scion.pk, "rootstock": ground.rootstock.pk, "method": "splice",
            "stage": grafted.stage.pk, "plants": 140, "container": grafted.container.pk, "place": grafted.place.pk,
            "entered_on": grafted.entered_on, "pickup": grafted.pickup, "line": f"{code}/1",
        }  # fmt: skip
        page = client.post(reverse("standing"), data)
        assert page.status_code == 302, page.context["form"].errors
        assert Allocation.objects.get(line=line).part.batch.scion == ground.scion
