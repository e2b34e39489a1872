"""Which price of the list a line gets."""

from decimal import Decimal as D

import pytest

from orders.models import OrderLine, Price
from orders.prices import price_for
from tests.factories import ContainerFactory, CropFactory, RootstockFactory, VarietyFactory

pytestmark = pytest.mark.django_db


def line(**changes) -> OrderLine:
    crop = CropFactory()
    values = {"scion": VarietyFactory(crop=crop), "rootstock": RootstockFactory(crop=crop), "quantity": 100}
    return OrderLine(container=ContainerFactory(), **(values | changes))


def test_the_most_particular_price_wins():
    Price.objects.create(kind="grafted", unit_price=D("2.50"))
    Price.objects.create(kind="grafted", unit_price=D("2.20"), from_quantity=200)
    Price.objects.create(kind="grafted", unit_price=D("2.75"), crop=CropFactory())
    Price.objects.create(kind="plain", unit_price=D("0.80"))
    assert price_for(line()) == D("2.75")
    assert price_for(line(scion=VarietyFactory(crop=CropFactory(name="Melon")))) == D("2.50")
    assert price_for(line(scion=VarietyFactory(crop=CropFactory(name="Melon")), quantity=200)) == D("2.20")
    assert price_for(line(kind="plain", rootstock=None)) == D("0.80")


def test_a_list_without_a_price_gives_none():
    assert price_for(line()) == 0


def test_room_costs_so_much_for_each_tray_and_week():
    # By hand: 3.10 a week for 12 nights = 3.10 × 12 ÷ 7 = 5.31428… → 5.3143 a tray.
    Price.objects.create(kind="room", unit_price=D("3.10"))
    room = {"kind": "room", "scion": None, "rootstock": None, "room_place_kind": "bench"}
    assert price_for(line(**room, room_nights=12)) == D("5.3143")
    assert price_for(line(**room, room_nights=14)) == D("6.20")
