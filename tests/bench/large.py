"""A nursery with so many orders in its database: `GRAFTWRIGHT_DATA=folder uv run python -m tests.bench.large N`.

The demo's invented nursery with places and hands that grow with the number of orders. The orders are planned one
beside the other on one load, as each of them would be at the desk, and stored as a promise stores them; only the
papers and letters are left out.
"""

from __future__ import annotations

import json
import os
import sys
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from random import Random
from typing import Any

AT_ONCE = 20  # orders that the demo's places and hands carry over the days below without getting tight
MOST_PEOPLE = 80  # beyond them the days of each grow, up to 99 hours: a row then stands for a gang
DAYS = range(70, 250)  # of pickup, from today
QUANTITIES = (20, 30, 40, 60, 80)
CUSTOMER_OF = 3  # orders to a customer
STORED_AT_ONCE = 200
# Nights from today on which our own crop fills the healing chamber over a conflict, and a pickup that wants them.
FULL_CHAMBER = range(85, 130)
NO_ROOM = 148


def fill(count: int) -> None:
    """Make the nursery in an empty database."""
    from django.core.management import call_command
    from django.db import transaction

    call_command("migrate", verbosity=0, interactive=False)
    orders = Orders(nursery(count))
    for start in range(0, count, STORED_AT_ONCE):
        with transaction.atomic():
            for _number in range(start, min(count, start + STORED_AT_ONCE)):
                orders.take_one()
    orders.fill_the_chamber()


def nursery(count: int) -> dict[str, Any]:
    """Everything but orders; the data of the demo, with its containers."""
    from config.demo import FILE
    from orders.models import Customer, Nursery, Price, Variety
    from production.models import Place
    from production.services import starting

    data: dict[str, Any] = json.loads(FILE.read_text(encoding="utf-8"))
    Nursery.objects.create(pk=1, set_up=True, **data["nursery"])
    installed = starting.install(by=None)
    _users(data)
    times = max(1, round(count / AT_ONCE))
    for row in data["places"]:
        Place.objects.create(**{**row, "capacity": row["capacity"] * times})
    _people(data, times, installed.skills)
    for row in data["varieties"]:
        Variety.from_crop(installed.crops[row["crop"]], row["name"], row["role"]).save()
    for row in data["prices"]:
        Price.objects.create(**row)
    names = [row["name"] for row in data["customers"]]
    for number in range(max(len(names), count // CUSTOMER_OF)):
        name = names[number] if number < len(names) else f"{names[number % len(names)]} {number}"
        Customer.objects.create(country="IE", name=name, email=f"grower{number}@customer.example")
    return data


def _users(data: dict[str, Any]) -> None:
    from django.contrib.auth.models import Group

    from config.demo import PASSWORD
    from orders.models import User

    for row in data["users"]:
        user = User.objects.create_user(password=PASSWORD, username=row["username"])
        user.groups.add(Group.objects.get(name=row["role"]))


def _people(data: dict[str, Any], times: int, skills: dict[str, Any]) -> None:
    from production.models import Person

    gangs = min(times, MOST_PEOPLE // len(data["people"]))
    for number in range(gangs):
        for row in data["people"]:
            hours = {day: Decimal(row["weekday"]) * times / gangs for day in Person.WEEKDAYS[:5]}
            saturday = Decimal(row["saturday"]) * times / gangs
            person = Person.objects.create(name=f"{row['name']} {number + 1}", saturday=saturday, **hours)
            person.skills.set([skills[key] for key in row["skills"]])


@dataclass
class Orders:
    """Takes one random order after the other; those that fit are promised."""

    data: dict[str, Any]
    chance: Random = field(default_factory=lambda: Random(7))

    def __post_init__(self) -> None:
        from orders.models import Container, Customer, Nursery, User, Variety

        self.nursery = Nursery.current()
        self.today = self.nursery.today()
        self.grower = User.objects.get(username="grower")
        self.customers = list(Customer.objects.all())
        self.pots = Container.objects.filter(kind=Container.Kind.POT_TRAY).first()
        varieties = {variety.name: variety for variety in Variety.objects.select_related("crop")}
        spliced = [row for row in self.data["orders"] if "rootstock" in row and "method" not in row]
        pairs = sorted({(row["scion"], row["rootstock"]) for row in spliced})
        self.pairs = [(varieties[scion], varieties[rootstock]) for scion, rootstock in pairs]
        self.load: Any = None

    def take_one(self) -> None:
        from orders import queries, services
        from orders.models import OrderLine
        from production import bridge
        from production.planning.claims import place_claims
        from production.planning.promise import judge, load_for

        scion, rootstock = self.chance.choice(self.pairs)
        asked = OrderLine(
            scion=scion,
            rootstock=rootstock,
            container=self.pots,
            quantity=self.chance.choice(QUANTITIES),
            pickup_asked=self._open(self.today + timedelta(days=self.chance.choice(DAYS))),
            earlier=2,
            later=3,
        )
        customer = self.chance.choice(self.customers)
        order = services.take_order(customer=customer, lines=[asked], by=self.grower, today=self.today)
        line = queries.lines().get(order=order)
        protocol = bridge.current_protocol(line)
        wish = bridge.wish_of(line, nursery=self.nursery, protocol=protocol)
        self.load = self.load or load_for(bridge.season_of(self.today, nursery=self.nursery), [wish])
        answer = judge(self.load, wish)
        if answer.fits and answer.plan:
            self.load.take(*place_claims(answer.plan, wish.key))
            bridge.store_line(line, answer.plan, protocol)
            services.mark_confirmed(line=line, pickup=answer.plan.pickup, by=self.grower)

    def fill_the_chamber(self) -> None:
        from orders import queries, services
        from orders.models import Container, OrderLine
        from production.models import Place
        from production.services import promise

        room = OrderLine(
            kind=OrderLine.Kind.ROOM,
            method="plain",
            container=Container.objects.filter(kind=Container.Kind.PLUG_TRAY).first(),
            quantity=int(Place.objects.get(name="Healing chamber").capacity),
            room_place_kind="healing",
            room_nights=len(FULL_CHAMBER),
            pickup_asked=self._open(self.today + timedelta(days=FULL_CHAMBER.stop)),
        )
        order = services.take_order(customer=None, own_crop=True, lines=[room], by=self.grower, today=self.today)
        promise.accept(order=order, by=self.grower, today=self.today, over_conflict="measured")
        assert queries.lines().get(order=order).state == "confirmed"

    def _open(self, day: date) -> date:
        while day.weekday() not in self.nursery.open_weekdays:
            day += timedelta(days=1)
        return day


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    import django

    django.setup()
    fill(int(sys.argv[1]))


if __name__ == "__main__":
    main()
