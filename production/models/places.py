"""Where plants stand, who works, and when the nursery is closed."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from orders.models import PlaceKind

if TYPE_CHECKING:
    from django.utils.functional import _StrPromise

HOURS = [MinValueValidator(Decimal("0")), MaxValueValidator(Decimal("24"))]
DEGREES = [MinValueValidator(-20.0), MaxValueValidator(50.0)]


def check_kinds(kinds: object) -> None:
    if not isinstance(kinds, list) or not kinds or not set(kinds) <= set(PlaceKind.values):
        raise ValidationError(_("Name at least one kind of place that this is."))


class Place(models.Model):
    class Measure(models.TextChoices):
        POSITIONS = "positions", _("tray places")
        AREA = "area", _("m²")

    name = models.CharField(_("name"), max_length=60, unique=True)
    kinds = models.JSONField(_("serves as"), default=list, validators=[check_kinds])  # of PlaceKind
    measure = models.CharField(_("measured in"), max_length=10, choices=Measure, default=Measure.POSITIONS)
    capacity = models.FloatField(_("capacity"), validators=[MinValueValidator(0.01), MaxValueValidator(1_000_000)])
    temperature = models.FloatField(_("24-hour mean temperature, °C"), default=21.0, validators=DEGREES)
    humidity = models.FloatField(
        _("relative humidity, %"), null=True, blank=True, validators=[MinValueValidator(0), MaxValueValidator(100)]
    )
    active = models.BooleanField(_("in use"), default=True)
    notes = models.TextField(_("notes"), blank=True)

    class Meta:
        ordering = ["id"]
        verbose_name = _("place")

    def __str__(self) -> str:
        return self.name


class DaySpan(models.Model):
    """A run of days, first and last included."""

    first = models.DateField(_("from"))
    last = models.DateField(_("to"))

    class Meta:
        abstract = True

    def clean(self) -> None:
        super().clean()
        if self.first and self.last and self.last < self.first:
            raise ValidationError({"last": _("This day lies before the first one.")})


class PlaceOpening(DaySpan):
    """Nights on which a place can be used; a place without any is open all year."""

    place = models.ForeignKey(Place, on_delete=models.CASCADE, related_name="openings")

    class Meta:
        ordering = ["first"]
        constraints = [models.CheckConstraint(condition=Q(last__gte=F("first")), name="opening_in_order")]

    def __str__(self) -> str:
        return f"{self.place}: {self.first} – {self.last}"


class PlaceTemperature(DaySpan):
    """A spell in which a place is warmer or colder than usual."""

    place = models.ForeignKey(Place, on_delete=models.CASCADE, related_name="temperatures")
    degrees = models.FloatField(_("24-hour mean temperature, °C"), validators=DEGREES)

    class Meta:
        ordering = ["first"]
        constraints = [models.CheckConstraint(condition=Q(last__gte=F("first")), name="spell_in_order")]

    def __str__(self) -> str:
        return f"{self.place}: {self.degrees} °C"


class Skill(models.Model):
    name = models.CharField(_("name"), max_length=40, unique=True)

    class Meta:
        ordering = ["id"]
        verbose_name = _("skill")

    def __str__(self) -> str:
        return self.name


class Person(models.Model):
    name = models.CharField(_("name"), max_length=80, unique=True)
    user = models.OneToOneField(
        settings.AUTH_USER_MODEL,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="person",
        verbose_name=_("signs in as"),
    )
    skills = models.ManyToManyField(Skill, verbose_name=_("skills"), related_name="people")
    monday = models.DecimalField(
        _("Monday"), max_digits=4, decimal_places=2, default=Decimal("8"), validators=HOURS
    )
    tuesday = models.DecimalField(
        _("Tuesday"), max_digits=4, decimal_places=2, default=Decimal("8"), validators=HOURS
    )
    wednesday = models.DecimalField(
        _("Wednesday"), max_digits=4, decimal_places=2, default=Decimal("8"), validators=HOURS
    )
    thursday = models.DecimalField(
        _("Thursday"), max_digits=4, decimal_places=2, default=Decimal("8"), validators=HOURS
    )
    friday = models.DecimalField(
        _("Friday"), max_digits=4, decimal_places=2, default=Decimal("8"), validators=HOURS
    )
    saturday = models.DecimalField(
        _("Saturday"), max_digits=4, decimal_places=2, default=Decimal("0"), validators=HOURS
    )
    sunday = models.DecimalField(
        _("Sunday"), max_digits=4, decimal_places=2, default=Decimal("0"), validators=HOURS
    )
    care_hours = models.DecimalField(
        _("care hours on a closed day"), max_digits=4, decimal_places=2, default=Decimal("1"), validators=HOURS
    )
    active = models.BooleanField(_("works here"), default=True)

    class Meta:
        ordering = ["id"]
        verbose_name = _("person")
        verbose_name_plural = _("people")

    WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")

    def __str__(self) -> str:
        return self.name

    @property
    def hours(self) -> tuple[Decimal, ...]:
        """Hours by weekday, Monday first."""
        return tuple(getattr(self, weekday) for weekday in self.WEEKDAYS)


def _said_hours(weekday: _StrPromise) -> models.DecimalField:
    return models.DecimalField(weekday, max_digits=4, decimal_places=2, null=True, blank=True, validators=HOURS)


class PersonPart(models.Model):
    """How many of a person's hours on an open day lie in the morning or in the evening; empty: not said."""

    class Part(models.TextChoices):
        MORNING = "morning", _("Morning")
        EVENING = "evening", _("Evening")

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="hours_by_part")
    part = models.CharField(_("part of day"), max_length=10, choices=Part)
    monday = _said_hours(_("Monday"))
    tuesday = _said_hours(_("Tuesday"))
    wednesday = _said_hours(_("Wednesday"))
    thursday = _said_hours(_("Thursday"))
    friday = _said_hours(_("Friday"))
    saturday = _said_hours(_("Saturday"))
    sunday = _said_hours(_("Sunday"))

    class Meta:
        ordering = ["-part"]  # mornings first
        constraints = [models.UniqueConstraint(fields=["person", "part"], name="part_of_day_once_a_person")]

    def __str__(self) -> str:
        return f"{self.person}: {self.get_part_display()}"

    @property
    def hours(self) -> tuple[Decimal | None, ...]:
        """Hours by weekday, Monday first; None: nothing is said."""
        return tuple(getattr(self, weekday) for weekday in Person.WEEKDAYS)


class PersonAbsence(DaySpan):
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="absences")

    class Meta:
        ordering = ["first"]
        constraints = [models.CheckConstraint(condition=Q(last__gte=F("first")), name="absence_in_order")]

    def __str__(self) -> str:
        return f"{self.person}: {self.first} – {self.last}"


class ClosedDay(models.Model):
    """A day on which the nursery is closed although its weekday is open. Care goes on."""

    day = models.DateField(_("day"), unique=True)
    name = models.CharField(_("why"), max_length=80, blank=True)

    class Meta:
        ordering = ["day"]
        verbose_name = _("closed day")

    def __str__(self) -> str:
        return f"{self.day} {self.name}"
