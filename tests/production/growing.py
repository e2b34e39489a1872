"""A small nursery to grow in: places, two people, starting values, one grafted line promised and confirmed."""

import datetime as dt
from dataclasses import dataclass, field

from orders.models import Container, Crop, Customer, OrderLine, User, Variety
from orders.services import take_order
from production.models import Part, Person, Place, SeedLot, Skill, Work
from production.services import growing
from production.services.promise import accept
from production.services.starting import install
from tests.factories import CustomerFactory, NurseryFactory, UserFactory

MONDAY = dt.date(2027, 2, 1)
PICKUP = dt.date(2027, 4, 14)


@dataclass
class Ground:
    """What a test of growing stands on; `today` moves as the test goes on."""

    grower: User
    clerk: User
    crew: User
    stranger: User
    scion: Variety
    rootstock: Variety
    pots: Container
    today: dt.date = MONDAY
    places: dict[str, Place] = field(default_factory=dict)

    def lot(self, variety: Variety, seeds: int = 1000, **more: object) -> SeedLot:
        more = {"received_on": MONDAY - dt.timedelta(days=30), **more}
        return SeedLot.objects.create(code=f"L{SeedLot.objects.count() + 1}", variety=variety, seeds=seeds, **more)

    def line(
        self, quantity: int = 60, customer: Customer | None = None, pickup: dt.date = PICKUP, **more: object
    ) -> OrderLine:
        """A line that was taken and confirmed."""
        line = self.asked(quantity, customer, pickup, **more)
        accept(order=line.order, by=self.grower, today=self.today)
        line.refresh_from_db()
        return line

    def asked(
        self, quantity: int = 60, customer: Customer | None = None, pickup: dt.date = PICKUP, **more: object
    ) -> OrderLine:
        fields = {
            "scion": self.scion,
            "rootstock": self.rootstock,
            "method": "splice",
            "container": self.pots,
            "quantity": quantity,
            "pickup_asked": pickup,
            **more,
        }
        own = more.get("own_crop", False)
        fields.pop("own_crop", None)
        order = take_order(
            customer=None if own else customer or CustomerFactory(),
            lines=[OrderLine(**fields)],
            by=self.grower,
            today=self.today,
            own_crop=bool(own),
        )
        return order.lines.get()

    def part(self, line: OrderLine) -> Part:
        return Part.objects.get(allocations__line=line)

    def work(self, part: Part, kind: str, subject: str | None = None) -> Work:
        works = Work.objects.filter(part=part, kind=kind)
        return (works.filter(subject=subject) if subject else works).get()

    def do(self, part: Part, kind: str, count: int | None = None, *, subject: str | None = None, **more) -> Work:
        """Record a piece of work on the day on which it is planned (or today, when that is past)."""
        work = self.work(part, kind, subject)
        self.today = max(self.today, work.day)
        return growing.do_work(work=work, by=self.grower, today=self.today, count=count, **more)


def ground() -> Ground:
    NurseryFactory(service_level=0.9)
    installed = install(by=None, choices=["tomato"])
    tomato = installed.crops["tomato"]
    places = {
        "germination": Place.objects.create(name="Warm shelf", kinds=["germination"], capacity=20, temperature=25),
        "bench": Place.objects.create(name="Long bench", kinds=["bench"], capacity=60, temperature=21),
        "healing": Place.objects.create(name="Healing chamber", kinds=["healing"], capacity=12, temperature=29),
        "hardening": Place.objects.create(name="Cold frame", kinds=["hardening"], capacity=40, temperature=15),
    }
    grower, clerk, crew, stranger = (
        UserFactory(username=name, role=role)
        for name, role in (("ines", "grower"), ("odd", "office"), ("bo", "crew"), ("nobody", None))
    )
    Person.objects.create(name="Ines", user=grower).skills.set(Skill.objects.all())
    return Ground(
        grower=grower,
        clerk=clerk,
        crew=crew,
        stranger=stranger,
        scion=_variety(tomato, "Tallis Red", "scion"),
        rootstock=_variety(tomato, "Kelder", "rootstock"),
        pots=installed.containers["pots_4"],
        places=places,
    )


def _variety(crop: Crop, name: str, role: str) -> Variety:
    variety = Variety.from_crop(crop, name, role)
    variety.save()
    return variety
