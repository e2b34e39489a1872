"""The demo nursery: its invented data, and its season lived through day by day up to today.

Nothing is written into tables behind the services: every order is taken, promised, sown, counted, handed over
and billed as a person would have done it, with the clock at that day, so that the demo holds nothing that the
service forbids and its history, papers and letters bear the days on which they would have been made.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import time_machine
from django.conf import settings
from django.contrib.auth.models import Group

from invoicing import queries as accounts
from invoicing import services as money
from orders import jobs, states
from orders import services as orders
from orders.models import Container, Customer, Nursery, Order, OrderLine, Price, User, Variety
from orders.refusals import Refused
from production import bridge
from production.models import Part, Person, PersonAbsence, PersonPart, Place, Protocol, SeedLot, Work
from production.planning import terms
from production.services import (
    growing,
    handing_over,
    holding,
    promise,
    protocols,
    quoting,
    readiness,
    replan,
    starting,
)

FILE = Path(settings.BASE_DIR) / "fixtures_demo" / "nursery.json"
PASSWORD = "a demo nursery"
DEPOSITS_WAIT = 25  # days back from which on the deposits of orders have come in
LEFT_UNDONE = 2  # pieces of yesterday's work that nobody recorded: what is late must have something to show


@dataclass
class Demo:
    """What was made, by its names in the file."""

    today: date
    data: dict[str, Any]
    grower: User
    installed: starting.Installed
    varieties: dict[str, Variety] = field(default_factory=dict)
    orders: list[tuple[dict[str, Any], Order]] = field(default_factory=list)
    chance: random.Random = field(default_factory=lambda: random.Random(11))

    def open_day(self, offset: int) -> date:
        """The day so far from today, or the next one on which the nursery is open."""
        day = self.today + timedelta(days=offset)
        while day.weekday() not in self.data["nursery"]["open_weekdays"]:
            day += timedelta(days=1)
        return day


def load(today: date | None = None, say: Callable[[date], object] = lambda day: None) -> Demo:
    """Make the whole demo nursery in an empty database; `say` hears of each day before it is lived."""
    data = json.loads(FILE.read_text(encoding="utf-8"))
    nursery = Nursery.objects.create(pk=1, set_up=True, **data["nursery"])
    nursery.refresh_from_db()
    users = {row["username"]: _user(**row) for row in data["users"]}
    demo = Demo(today or nursery.today(), data, users["grower"], starting.install(by=None))
    _places_and_people(demo, users)
    _protocols(demo)
    _varieties(demo)
    _prices_and_customers(demo)
    first = min(row["taken"] for row in data["orders"])
    for offset in range(first, 1):
        day = demo.today + timedelta(days=offset)
        say(day)
        with time_machine.travel(_morning(day, nursery)):
            _live(demo, day)
            jobs.drain(limit=1000)
    _away(demo)
    return demo


def _morning(day: date, nursery: Nursery) -> datetime:
    return datetime.combine(day, time(7, 30), ZoneInfo(nursery.time_zone))


def sign_ins() -> str:
    names = json.loads(FILE.read_text(encoding="utf-8"))["users"]
    rows = [f"  {row['username']:<8} {PASSWORD}   ({row['role']})" for row in names]
    return "\n".join(["Sign in as:", *rows, ""])


# --- what stands there -----------------------------------------------------------------------------------------


def _user(*, role: str, **values: str) -> User:
    user = User.objects.create_user(password=PASSWORD, **values)
    user.groups.add(Group.objects.get(name=role))
    return user


def _places_and_people(demo: Demo, users: dict[str, User]) -> None:
    for row in demo.data["places"]:
        Place.objects.create(**row)
    for row in demo.data["people"]:
        hours = dict.fromkeys(Person.WEEKDAYS[:5], Decimal(row["weekday"]))
        person = Person.objects.create(
            name=row["name"], user=users[row["user"]], saturday=Decimal(row["saturday"]), **hours
        )
        person.skills.set([demo.installed.skills[key] for key in row["skills"]])
        for part, hours in row.get("by_part", {}).items():
            said = dict.fromkeys(Person.WEEKDAYS[:5], Decimal(hours))
            PersonPart.objects.create(person=person, part=part, **said)


def _protocols(demo: Demo) -> None:
    """What this nursery does otherwise than the starting protocols say."""
    for row in demo.data["protocols"]:
        protocol = Protocol.objects.get(crop=demo.installed.crops[row["crop"]], method=row["method"], current=True)
        draft = protocols.draft_of(protocol)
        otherwise = replace(draft, values={**draft.values, **row["otherwise"]})
        protocols.revise(protocol=protocol, draft=otherwise, by=demo.grower)


def _varieties(demo: Demo) -> None:
    for number, row in enumerate(demo.data["varieties"], start=1):
        variety = Variety.from_crop(demo.installed.crops[row["crop"]], row["name"], row["role"])
        variety.thousand_seeds_price = Decimal("320" if row["role"] == "rootstock" else "180")
        variety.pack_seeds = 500
        variety.save()
        demo.varieties[row["name"]] = variety
        SeedLot.objects.create(
            code=f"L{number:02}",
            variety=variety,
            seeds=row["seeds"] * 2,
            received_on=demo.today - timedelta(days=130),
            tested_seeds=100,
            germinated_seeds=94,
            tested_on=demo.today - timedelta(days=120),
        )


def _prices_and_customers(demo: Demo) -> None:
    for row in demo.data["prices"]:
        Price.objects.create(**row)
    for row in demo.data["customers"]:
        Customer.objects.create(country="IE", address="Ashwell", **row)


# --- one day ---------------------------------------------------------------------------------------------------


def _live(demo: Demo, day: date) -> None:
    for row in demo.data["orders"]:
        if demo.today + timedelta(days=row["taken"]) == day:
            demo.orders.append((row, _take(demo, row, day)))
    replan.roll_over(day)
    if day < demo.today:
        _work(demo, day)
    ready = set(OrderLine.objects.filter(state=states.READY).values_list("order_id", flat=True))
    for row, order in demo.orders:
        if order.pk in ready:
            _finish(demo, row, order, day)


def _take(demo: Demo, row: dict[str, Any], day: date) -> Order:
    customer = None if row.get("own") else Customer.objects.get(name=row["customer"])
    order = orders.take_order(
        customer=customer, own_crop=bool(row.get("own")), lines=[_line(demo, row)], by=demo.grower, today=day
    )
    ends = row.get("ends")
    if ends == "let go":
        orders.let_go(line=order.lines.get(), by=demo.grower, why="Found plants nearer by")
    elif ends == "held":
        with suppress(Refused):
            holding.hold(order=order, by=demo.grower, today=day)
            quoting.send_quote(order=order, by=demo.grower)
    elif ends != "asked":
        with suppress(Refused):  # what does not fit stays asked, as it would at the desk
            promise.accept(order=order, by=demo.grower, today=day, over_conflict=row.get("over", ""))
    if ends == "cancelled":
        orders.cancel(line=order.lines.get(), by=demo.grower, why="The customer gave up the glasshouse")
    elif day < demo.today - timedelta(days=DEPOSITS_WAIT):
        _deposit(demo, order, day)
    return order


def _deposit(demo: Demo, order: Order, day: date) -> None:
    asked = accounts.order_money(order).deposit_asked
    if asked and not order.own_crop:
        money.record_payment(order=order, amount=asked, on=day, by=demo.grower, today=day)


def _line(demo: Demo, row: dict[str, Any]) -> OrderLine:
    kind = row.get("kind", "grafted")
    key = row.get("container", "pots_4")
    expected = row.get("scion_seed_expected")
    return OrderLine(
        kind=kind,
        scion=demo.varieties.get(row.get("scion", "")),
        rootstock=demo.varieties.get(row.get("rootstock", "")),
        method=row.get("method", "splice") if kind == "grafted" else "plain",
        leaders=row.get("leaders", "one"),
        container=Container.objects.get(pk=demo.installed.containers[key].pk),
        quantity=row["plants"],
        pickup_asked=_pickup(demo, row),
        later=row.get("later", 2),
        collection_days=2,
        scion_seed=row.get("scion_seed", "ours"),
        scion_seed_expected=demo.today + timedelta(days=expected) if expected else None,
        room_place_kind=row.get("place", ""),
        room_nights=row.get("nights"),
    )


def _pickup(demo: Demo, row: dict[str, Any]) -> date:
    if "ends_after_graft_of" not in row:
        return demo.open_day(row["pickup"])
    graft = _graft_day(demo, row["ends_after_graft_of"])
    return demo.open_day((graft - demo.today).days + row["days_after"])


def _graft_day(demo: Demo, number: int) -> date:
    """The day on which the file's order of that number (from 1) begins to be grafted."""
    _row, order = demo.orders[number - 1]
    works = Work.objects.filter(kind=terms.GRAFT, part__allocations__line__order=order)
    return works.earliest("day").day


def _work(demo: Demo, day: date) -> None:
    """Do what is due, as planned; what came up is not always what was hoped for."""
    due = Work.objects.filter(state=Work.State.PLANNED, day__lte=day, part__state__in=bridge.LIVING)
    works = list(due.exclude(kind=terms.HAND_OVER).select_related("part__batch", "sowing").order_by("day", "id"))
    if day == demo.today - timedelta(days=1):
        works = works[:-LEFT_UNDONE]
    numbers = {work.pk: _came_up(demo, work) for work in works if work.kind == terms.COUNT_EMERGED and work.sowing}
    try:
        growing.do_all_as_planned(works=works, by=demo.grower, today=day, numbers=numbers)
    except Refused:
        _one_by_one(demo, works, numbers, day)


def _one_by_one(demo: Demo, works: Iterable[Work], numbers: dict[int, int], day: date) -> None:
    """What cannot be done as planned (too few came up, say) waits for the grower, as it would in life."""
    for work in works:
        chosen = {work.pk: numbers[work.pk]} if work.pk in numbers else None
        try:
            growing.do_all_as_planned(works=[work], by=demo.grower, today=day, numbers=chosen)
        except Refused:
            continue


def _came_up(demo: Demo, work: Work) -> int:
    share = demo.chance.uniform(0.9, 0.97)
    for row, order in demo.orders:
        if "emerged" in row and work.part.allocations.filter(line__order=order).exists():
            share = row["emerged"]
    assert work.sowing is not None
    return round(work.sowing.seeds * share)


def _away(demo: Demo) -> None:
    """Who will be away from a day on which there is much to graft: nobody had said so when it was promised.

    For so long that the plants cannot wait, or the graft would be put off to the day after, and nothing to see.
    """
    for row in demo.data["people"]:
        if "away_at_graft_of" in row:
            day = _graft_day(demo, row["away_at_graft_of"])
            last = day + timedelta(days=row["away_days"] - 1)
            PersonAbsence.objects.create(person=Person.objects.get(name=row["name"]), first=day, last=last)


# --- the end of an order ---------------------------------------------------------------------------------------


def _finish(demo: Demo, row: dict[str, Any], order: Order, day: date) -> None:
    """Announce what is ready; hand over, bill and take the money of what the file says has ended."""
    line = order.lines.get()
    if not order.own_crop and not readiness.notice_of(line).sent:
        readiness.send_notice(line=line, by=demo.grower, today=day)
        jobs.drain(limit=1000)  # the note is made before anybody comes, and says nothing of plants fetched
    ends = row.get("ends", "")
    if not ends or day < (line.pickup or day) or day >= demo.today:
        return
    taken = min(line.quantity, line.outstanding)
    if ends == "collected in part":
        if line.collected_quantity:
            return
        taken //= 2
    handing_over.hand_over(
        line=line,
        quantity=taken,
        by=demo.grower,
        today=day,
        close_short=ends != "collected in part",
        reason="Taken",
    )
    if ends in ("billed", "paid", "paid in part"):
        _bill(demo, order, ends, day)
    if ends != "collected in part":
        for part in Part.objects.filter(allocations__line=line, state=Part.State.READY):
            handing_over.clear_out(part=part, by=demo.grower, today=day, reason="Given to the allotments")


def _bill(demo: Demo, order: Order, ends: str, day: date) -> None:
    invoice = money.issue(order=order, by=demo.grower, today=day)
    share = {"paid": Decimal(1), "paid in part": Decimal("0.5")}.get(ends)
    if share is not None:
        amount = (accounts.paper(invoice.number).balance * share).quantize(Decimal("0.01"))
        money.record_payment(invoice=invoice, amount=amount, on=day, by=demo.grower, today=day)
