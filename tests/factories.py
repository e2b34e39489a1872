"""One factory per model: each makes the plainest row that is valid, and says only what a test then relies on."""

from datetime import date
from decimal import Decimal
from functools import cache

import factory
from django.contrib.auth.hashers import make_password
from django.contrib.auth.models import Group
from factory.django import DjangoModelFactory

from orders import models


class NurseryFactory(DjangoModelFactory):
    """The one nursery: the same row again when it is asked for twice, changed to what is asked."""

    class Meta:
        model = models.Nursery

    pk = 1
    name = "Ashwell Grafting"
    address = "3 Mill Lane\nAshwell"
    country = "IE"
    email = "desk@ashwell.example"
    phone = "+353 1 555 0100"
    tax_number = "IE1234567T"
    set_up = True

    @classmethod
    def _create(cls, model_class, *args, **kwargs):
        return model_class.objects.update_or_create(pk=kwargs.pop("pk"), defaults=kwargs)[0]


PASSWORD = "a long password"
# Hashing is slow on purpose; every user of a test run has the same password, hashed once.
hashed = cache(make_password)


class UserFactory(DjangoModelFactory):
    """`UserFactory(role="grower")` may do what config/roles.py gives a grower; without a role, nothing."""

    class Meta:
        model = models.User
        skip_postgeneration_save = True

    username = factory.Sequence(lambda n: f"person{n}")
    password = factory.LazyFunction(lambda: hashed(PASSWORD))

    @factory.post_generation
    def role(self, create, extracted, **kwargs):
        if extracted:
            self.groups.add(Group.objects.get(name=extracted))


class CustomerFactory(DjangoModelFactory):
    class Meta:
        model = models.Customer

    name = factory.Sequence(lambda n: f"Customer {n}")
    email = factory.Sequence(lambda n: f"customer{n}@example.org")
    address = "1 Long Field\nNetherby"
    country = "IE"


class CropFactory(DjangoModelFactory):
    class Meta:
        model = models.Crop
        django_get_or_create = ("name",)

    name = "Tomato"


class VarietyFactory(DjangoModelFactory):
    class Meta:
        model = models.Variety

    crop = factory.SubFactory(CropFactory)
    name = factory.Sequence(lambda n: f"Scion {n}")
    role = models.Variety.Role.SCION


class RootstockFactory(VarietyFactory):
    name = factory.Sequence(lambda n: f"Rootstock {n}")
    role = models.Variety.Role.ROOTSTOCK


class ContainerFactory(DjangoModelFactory):
    class Meta:
        model = models.Container
        django_get_or_create = ("name",)

    name = "72-cell tray"
    plants = 72
    length_cm = 54
    width_cm = 28


class OrderFactory(DjangoModelFactory):
    """An order without lines; LineFactory(order=...) adds them."""

    class Meta:
        model = models.Order

    code = factory.Sequence(lambda n: str(n + 1))
    customer = factory.SubFactory(CustomerFactory)
    taken_on = date(2027, 1, 11)


class LineFactory(DjangoModelFactory):
    """A grafted line as asked. `collected=60` makes it a line of which so many plants were handed over."""

    class Meta:
        model = models.OrderLine

    class Params:
        collected = None

    order = factory.SubFactory(OrderFactory)
    number = factory.LazyAttribute(lambda line: line.order.lines.count() + 1)
    scion = factory.SubFactory(VarietyFactory)
    rootstock = factory.SubFactory(RootstockFactory)
    container = factory.SubFactory(ContainerFactory)
    quantity = 100
    pickup_asked = date(2027, 4, 21)
    unit_price = Decimal("2.75")
    ready_quantity = factory.LazyAttribute(lambda line: line.collected or 0)
    collected_quantity = factory.LazyAttribute(lambda line: line.collected or 0)
    pickup = factory.LazyAttribute(lambda line: line.pickup_asked if line.collected is not None else None)
    state = factory.LazyAttribute(
        lambda line: "asked" if line.collected is None else "collected" if line.collected else "ready"
    )
