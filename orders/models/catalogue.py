"""Crops, varieties, containers and prices: what lines and papers need to name."""

from __future__ import annotations

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

SHARE = [MinValueValidator(0.01), MaxValueValidator(1.0)]


class Method(models.TextChoices):
    SPLICE = "splice", _("Splice graft")
    SIDE = "side", _("Side graft")
    ONE_COTYLEDON = "one_cotyledon", _("One-cotyledon graft")
    HOLE_INSERTION = "hole_insertion", _("Hole insertion graft")
    PLAIN = "plain", _("Not grafted")


class PlaceKind(models.TextChoices):
    """What a place can serve as; the values are those of production's planning terms."""

    GERMINATION = "germination", _("Germination chamber")
    BENCH = "bench", _("Bench")
    HEALING = "healing", _("Healing chamber")
    HARDENING = "hardening", _("Hardening space")
    STAGING = "staging", _("Pickup staging")
    COLD = "cold", _("Cold store")


class ThermalClock(models.Model):
    """The thermal clock and the rates of a crop (as starting values) or of a variety (its own).

    Emergence takes emergence_sum / (T − emergence_base) days; from emergence on the stem is graftable between
    graftable_first and graftable_last °C·d above growth_base. All of it is the grower's to edit.
    """

    emergence_sum = models.FloatField(_("emergence, °C·d"), default=100.0, validators=[MinValueValidator(1)])
    emergence_base = models.FloatField(_("base temperature of emergence, °C"), default=8.0)
    emergence_ceiling = models.FloatField(_("emergence model holds up to, °C"), default=30.0)
    growth_base = models.FloatField(_("base temperature of growth, °C"), default=8.0)
    growth_ceiling = models.FloatField(_("growth gains nothing above, °C"), default=30.0)
    graftable_first = models.FloatField(
        _("graftable from, °C·d"), default=180.0, validators=[MinValueValidator(1)]
    )
    graftable_aim = models.FloatField(_("best grafted at, °C·d"), default=220.0, validators=[MinValueValidator(1)])
    graftable_last = models.FloatField(
        _("graftable until, °C·d"), default=280.0, validators=[MinValueValidator(1)]
    )
    emerged_share = models.FloatField(_("share that emerges"), default=0.9, validators=SHARE)
    usable_share = models.FloatField(_("share of seedlings fit to use"), default=0.9, validators=SHARE)
    evidence_weight = models.FloatField(
        _("how well these shares are known"),
        default=100.0,
        validators=[MinValueValidator(2)],
        help_text=_("As if so many plants had been counted: 20 is a guess, 400 is well known."),
    )
    basis = models.TextField(_("where these values come from"), blank=True)

    class Meta:
        abstract = True

    CLOCK_FIELDS = (
        "emergence_sum", "emergence_base", "emergence_ceiling", "growth_base", "growth_ceiling",
        "graftable_first", "graftable_aim", "graftable_last",
        "emerged_share", "usable_share", "evidence_weight", "basis",
    )  # fmt: skip

    def clean(self) -> None:
        super().clean()
        if not self.graftable_first <= self.graftable_aim <= self.graftable_last:
            raise ValidationError(
                {"graftable_aim": _("The best sum must lie between the first and the last graftable sum.")}
            )
        if self.emergence_ceiling <= self.emergence_base:
            raise ValidationError({"emergence_ceiling": _("This must be above the base temperature.")})


class Crop(ThermalClock):
    name = models.CharField(_("name"), max_length=60, unique=True)
    botanical_name = models.CharField(_("botanical name"), max_length=80, blank=True)
    rootstock_crops = models.ManyToManyField(
        "self", symmetrical=False, blank=True, verbose_name=_("grows on rootstocks of"), related_name="scion_crops"
    )

    class Meta:
        ordering = ["name"]
        verbose_name = _("crop")

    def __str__(self) -> str:
        return self.name


class Variety(ThermalClock):
    class Role(models.TextChoices):
        SCION = "scion", _("Scion")
        ROOTSTOCK = "rootstock", _("Rootstock")
        BOTH = "both", _("Scion and rootstock")

    crop = models.ForeignKey(Crop, on_delete=models.PROTECT, related_name="varieties", verbose_name=_("crop"))
    name = models.CharField(_("name"), max_length=80)
    role = models.CharField(_("used as"), max_length=10, choices=Role, default=Role.SCION)
    thousand_seeds_price = models.DecimalField(
        _("price of 1,000 seeds"),
        max_digits=9,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
        help_text=_("With it both sides are sown at least cost. Empty: not known."),
    )
    pack_seeds = models.PositiveIntegerField(
        _("seeds in a pack"),
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(1_000_000)],
        help_text=_("Then what to buy is told in packs."),
    )
    active = models.BooleanField(_("in use"), default=True)
    notes = models.TextField(_("notes"), blank=True)

    class Meta:
        ordering = ["crop__name", "name"]
        verbose_name = _("variety")
        verbose_name_plural = _("varieties")
        constraints = [models.UniqueConstraint(fields=["crop", "name"], name="variety_once_per_crop")]

    def __str__(self) -> str:
        return self.name

    @property
    def seed_price(self) -> Decimal | None:
        """Of one seed; None: not known."""
        return None if self.thousand_seeds_price is None else self.thousand_seeds_price / 1000

    @property
    def may_be_scion(self) -> bool:
        return self.role in (self.Role.SCION, self.Role.BOTH)

    @property
    def may_be_rootstock(self) -> bool:
        return self.role in (self.Role.ROOTSTOCK, self.Role.BOTH)

    @classmethod
    def from_crop(cls, crop: Crop, name: str, role: str) -> Variety:
        """A new variety with the starting values of its crop (not yet saved)."""
        return cls(crop=crop, name=name, role=role, **{field: getattr(crop, field) for field in cls.CLOCK_FIELDS})


class Container(models.Model):
    """A plug tray, or a carrying tray of pots. Sizes are kept in cm; pages show the nursery's own unit."""

    class Kind(models.TextChoices):
        PLUG_TRAY = "plug_tray", _("Plug tray")
        POT_TRAY = "pot_tray", _("Carrying tray of pots")

    name = models.CharField(_("name"), max_length=60, unique=True)
    kind = models.CharField(_("kind"), max_length=10, choices=Kind, default=Kind.PLUG_TRAY)
    plants = models.PositiveIntegerField(
        _("cells or pots"), validators=[MinValueValidator(1), MaxValueValidator(2000)]
    )
    length_cm = models.FloatField(_("length, cm"), validators=[MinValueValidator(1), MaxValueValidator(500)])
    width_cm = models.FloatField(_("width, cm"), validators=[MinValueValidator(1), MaxValueValidator(500)])
    positions = models.FloatField(
        _("positions it takes"), default=1.0, validators=[MinValueValidator(0.1), MaxValueValidator(20)]
    )
    cell_volume_ml = models.FloatField(_("volume of a cell or pot, ml"), null=True, blank=True)
    for_delivery = models.BooleanField(_("plants are handed over in it"), default=True)
    active = models.BooleanField(_("in use"), default=True)

    class Meta:
        ordering = ["kind", "name"]
        verbose_name = _("tray or pot")
        verbose_name_plural = _("trays and pots")

    def __str__(self) -> str:
        return self.name

    @property
    def area(self) -> float:
        """Footprint, m²."""
        return self.length_cm * self.width_cm / 10_000


class Price(models.Model):
    """A price per plant (or, for room, per tray and week); the most particular row that matches wins."""

    class For(models.TextChoices):
        GRAFTED = "grafted", _("Grafted plants")
        PLAIN = "plain", _("Plants not grafted")
        ROOM = "room", _("Room only")

    kind = models.CharField(_("for"), max_length=10, choices=For, default=For.GRAFTED)
    crop = models.ForeignKey(Crop, null=True, blank=True, on_delete=models.CASCADE, verbose_name=_("crop"))
    method = models.CharField(_("method"), max_length=20, blank=True, choices=Method)
    container = models.ForeignKey(
        Container, null=True, blank=True, on_delete=models.CASCADE, verbose_name=_("tray or pot")
    )
    two_leaders = models.BooleanField(_("topped for two leaders"), default=False)
    from_quantity = models.PositiveIntegerField(_("from so many plants"), default=1)
    unit_price = models.DecimalField(
        _("price each"), max_digits=10, decimal_places=4, validators=[MinValueValidator(0)]
    )

    class Meta:
        ordering = ["kind", "crop__name", "method", "from_quantity"]
        verbose_name = _("price")

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.crop or ''} {self.unit_price}"
