"""The nursery itself: address, place and language, tax, units, and how far its promises go."""

from __future__ import annotations

import secrets
from datetime import date
from decimal import Decimal
from zoneinfo import ZoneInfo, available_timezones

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _


def check_time_zone(name: str) -> None:
    if name not in available_timezones():
        raise ValidationError(
            _("“%(name)s” is not a known time zone. Write it as Europe/Dublin."), params={"name": name}
        )


def monday_to_friday() -> list[int]:
    return [0, 1, 2, 3, 4]


def new_token() -> str:
    return secrets.token_urlsafe(24)


PERCENT = [MinValueValidator(0), MaxValueValidator(100)]


class Nursery(models.Model):
    """The one nursery of this installation (its only row has pk 1)."""

    class Temperature(models.TextChoices):
        CELSIUS = "C", "°C"
        FAHRENHEIT = "F", "°F"

    class Length(models.TextChoices):
        CENTIMETRES = "cm", _("cm")
        INCHES = "in", _("inches")

    name = models.CharField(_("name"), max_length=120)
    address = models.TextField(_("address"), blank=True)
    country = models.CharField(_("country"), max_length=2, blank=True, help_text=_("Two letters, such as IE."))
    email = models.EmailField(_("email"), blank=True)
    phone = models.CharField(_("telephone"), max_length=40, blank=True)
    tax_number = models.CharField(_("tax number"), max_length=40, blank=True)
    time_zone = models.CharField(
        _("time zone"), max_length=60, default="Europe/Dublin", validators=[check_time_zone]
    )
    language = models.CharField(_("language"), max_length=10, default="en-gb")
    first_weekday = models.PositiveSmallIntegerField(_("first day of the week"), default=0)  # Monday 0
    temperature_unit = models.CharField(
        _("temperatures in"), max_length=1, choices=Temperature, default=Temperature.CELSIUS
    )
    length_unit = models.CharField(_("lengths in"), max_length=2, choices=Length, default=Length.CENTIMETRES)

    currency = models.CharField(_("currency"), max_length=3, default="EUR")
    tax_name = models.CharField(_("tax is called"), max_length=30, default="VAT")
    tax_rate = models.DecimalField(
        _("tax rate, %"),
        max_digits=5,
        decimal_places=2,
        default=Decimal("0"),
        validators=PERCENT,
        help_text=_("Ask your tax adviser which rate applies to plants where you sell."),
    )
    prices_include_tax = models.BooleanField(_("prices include tax"), default=False)
    deposit_percent = models.DecimalField(
        _("deposit, %"), max_digits=5, decimal_places=2, default=Decimal("0"), validators=PERCENT
    )
    payment_days = models.PositiveSmallIntegerField(_("days to pay"), default=14)
    payment_terms = models.TextField(_("terms printed on invoices"), blank=True)

    open_weekdays = models.JSONField(_("open days of the week"), default=monday_to_friday)  # Monday 0
    service_level = models.FloatField(
        _("service level"),
        default=0.95,
        validators=[MinValueValidator(0.5), MaxValueValidator(0.999)],
        help_text=_("How often the plants sown must be enough: 0.95 is 95 times in 100."),
    )
    hour_price = models.DecimalField(
        _("price of an hour of work"), max_digits=8, decimal_places=2, default=Decimal("20")
    )
    metre_week_price = models.DecimalField(
        _("price of a square metre of bench for a week"), max_digits=8, decimal_places=2, default=Decimal("2")
    )
    hold_days = models.PositiveSmallIntegerField(
        _("days a promise is held"),
        default=3,
        validators=[MinValueValidator(1), MaxValueValidator(60)],
        help_text=_("While a caller thinks. Then it lets go by itself."),
    )
    latitude_earlier = models.PositiveSmallIntegerField(_("usual days earlier than asked"), default=0)
    latitude_later = models.PositiveSmallIntegerField(_("usual days later than asked"), default=2)
    collection_days = models.PositiveSmallIntegerField(_("days on which to collect"), default=2)
    pickup_place = models.CharField(_("where plants are collected"), max_length=200, blank=True)
    pickup_hours = models.CharField(_("collection hours"), max_length=120, default="9:00 to 17:00")
    set_up = models.BooleanField(default=False, editable=False)  # the first evening is behind us

    class Meta:
        verbose_name = _("nursery")
        permissions = [
            ("edit_nursery", "May edit the nursery's own data"),
            ("see_costs", "May see costs and margins"),
        ]
        constraints = [models.CheckConstraint(condition=models.Q(pk=1), name="one_nursery")]

    def __str__(self) -> str:
        return self.name

    @classmethod
    def current(cls) -> Nursery:
        """The nursery; before the first evening, one with starting values (not yet saved)."""
        return cls.objects.filter(pk=1).first() or cls(pk=1, name="")

    def today(self) -> date:
        """The nursery's local date."""
        return timezone.localdate(timezone=ZoneInfo(self.time_zone))
