"""Ground to grow on: the working nursery with people who sign in, lots, and a day that moves."""

import datetime as dt
from dataclasses import dataclass, field

from orders.models import Customer, OrderLine, User, Variety
from orders.services import take_order
from production.models import Part, Person, SeedLot, Work
from production.services import growing
from production.services.promise import accept
from tests.factories import CustomerFactory, UserFactory
from tests.nursery import TODAY, Working, working_nursery


@dataclass
class Ground:
    """What a test of growing stands on; `today` moves as the test goes on."""

    nursery: Working
    clerk: User
    crew: User
    stranger: User
    today: dt.date = field(default=TODAY)

    @property
    def grower(self) -> User:
        return self.nursery.grower

    @property
    def scion(self) -> Variety:
        return self.nursery.scion

    @property
    def rootstock(self) -> Variety:
        return self.nursery.rootstock

    def lot(self, variety: Variety, seeds: int = 1000, **more: object) -> SeedLot:
        more = {"received_on": TODAY - dt.timedelta(days=30), **more}
        return SeedLot.objects.create(code=f"L{SeedLot.objects.count() + 1}", variety=variety, seeds=seeds, **more)

    def lots(self) -> None:
        self.lot(self.scion)
        self.lot(self.rootstock)

    def asked(self, customer: Customer | None = None, *, own_crop: bool = False, **changes: object) -> OrderLine:
        """A line of 60 plants that was taken and not confirmed."""
        order = take_order(
            customer=None if own_crop else customer or CustomerFactory(),
            lines=[self.nursery.line(**({"quantity": 60} | changes))],
            by=self.grower,
            today=self.today,
            own_crop=own_crop,
        )
        return order.lines.get()

    def line(self, customer: Customer | None = None, **changes: object) -> OrderLine:
        """A line that was taken and confirmed."""
        line = self.asked(customer, **changes)
        accept(order=line.order, by=self.grower, today=self.today)
        line.refresh_from_db()
        return line

    def part(self, line: OrderLine) -> Part:
        return Part.objects.get(allocations__line=line)

    def work(self, part: Part, kind: str, subject: str | None = None) -> Work:
        works = Work.objects.filter(part=part, kind=kind)
        return (works.filter(subject=subject) if subject else works).get()

    def do(
        self, part: Part, kind: str, count: int | None = None, *, subject: str | None = None, **more: object
    ) -> Work:
        """Record a piece of work on the day on which it is planned (or today, when that is past)."""
        work = self.work(part, kind, subject)
        self.today = max(self.today, work.day)
        return growing.do_work(work=work, by=self.grower, today=self.today, count=count, **more)

    def sow(self, part: Part, seeds: int | None = None) -> None:
        for subject in part.sowings.order_by("day").values_list("subject", flat=True):
            self.do(part, "sow", seeds, subject=subject)

    def grow_to_ready(self, part: Part) -> Part:
        """Everything as planned up to the count of what is ready, day by day."""
        return self.grow_until(part, ("count_ready", "hand_over"))

    def grow_until(self, part: Part, kinds: tuple[str, ...]) -> Part:
        """Everything as planned, day by day, until nothing but work of these kinds (and after) is left."""
        while works := self._of_the_next_day(part, kinds):
            self.today = max(self.today, works[0].day)
            growing.do_all_as_planned(works=works, by=self.grower, today=self.today)
        part.refresh_from_db()
        return part

    def _of_the_next_day(self, part: Part, kinds: tuple[str, ...]) -> list[Work]:
        works = Work.objects.filter(part=part, state="planned").order_by("day")
        last = min((work.day for work in works if work.kind == kinds[0]), default=dt.date.max)
        left = [work for work in works if work.kind not in kinds and work.day <= last]
        return [work for work in left if work.day == left[0].day]


def ground() -> Ground:
    nursery = working_nursery()
    clerk, crew, stranger = (
        UserFactory(username=name, role=role) for name, role in (("odd", "office"), ("bo", "crew"), ("nil", None))
    )
    Person.objects.filter(name="Ada").update(user=nursery.grower)
    Person.objects.filter(name="Bram").update(user=crew)
    return Ground(nursery, clerk, crew, stranger)
