"""A small nursery that can work: starting values, a few places, two people; for tests that need it whole."""

from dataclasses import dataclass
from datetime import date

from orders.models import Container, Crop, Nursery, OrderLine, User, Variety
from production.models import Person, Place, Skill
from production.services import starting
from tests.factories import NurseryFactory, UserFactory

TODAY = date(2027, 1, 11)  # a Monday


@dataclass(frozen=True)
class Working:
    nursery: Nursery
    grower: User
    scion: Variety
    rootstock: Variety
    pot: Container
    tray: Container

    def line(self, **changes: object) -> OrderLine:
        """An unsaved line of 100 tomato plants, splice grafted, one leader, for 21 April 2027."""
        values: dict[str, object] = {
            "kind": "grafted",
            "scion": self.scion,
            "rootstock": self.rootstock,
            "method": "splice",
            "container": self.pot,
            "quantity": 100,
            "pickup_asked": date(2027, 4, 21),
            "later": 2,
            "collection_days": 2,
        }
        return OrderLine(**(values | changes))


def working_nursery(*, healing: float = 12, bench: float = 120, **nursery: object) -> Working:
    """Room for `healing` trays in the chamber and `bench` on the benches; a grower and a helper."""
    made = starting.install(by=None, choices=["tomato"])
    kept = NurseryFactory(**nursery)
    for name, kinds, capacity, degrees in (
        ("Germination chamber", ["germination"], 20, 25.0),
        ("Long bench", ["bench"], bench, 20.0),
        ("Healing chamber", ["healing"], healing, 27.0),
        ("Hardening frame", ["hardening"], 60, 16.0),
        ("Pickup corner", ["staging"], 60, 16.0),
    ):
        Place.objects.create(name=name, kinds=kinds, capacity=capacity, temperature=degrees)
    for name in ("Ada", "Bram"):
        person = Person.objects.create(name=name)
        person.skills.set(Skill.objects.all())
    tomato = Crop.objects.get(pk=made.crops["tomato"].pk)
    return Working(
        nursery=kept,
        grower=UserFactory(role="grower", username="grower"),
        scion=_variety(tomato, "Tallis Red", "scion"),
        rootstock=_variety(tomato, "Kelder", "rootstock"),
        pot=Container.objects.filter(kind="pot_tray").order_by("plants")[0],
        tray=Container.objects.get(kind="plug_tray", plants=72),
    )


def _variety(crop: Crop, name: str, role: str) -> Variety:
    variety = Variety.from_crop(crop, name, role)
    variety.save()
    return variety
