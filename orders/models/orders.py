"""Orders and their lines. State belongs to the line; what an order 'is' is derived from its lines."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from .. import states
from .catalogue import Container, Method, PlaceKind, Variety
from .customers import Customer
from .nursery import new_token

MOST_PLANTS = 2_000_000  # more than any season could hold


class Order(models.Model):
    code = models.CharField(_("order"), max_length=12, unique=True)  # '31', read aloud as Order 31
    customer = models.ForeignKey(
        Customer,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="orders",
        verbose_name=_("customer"),
    )
    own_crop = models.BooleanField(_("our own crop"), default=False)
    notes = models.TextField(_("notes"), blank=True)
    taken_on = models.DateField()
    taken_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")
    deposit_percent = models.DecimalField(_("deposit, %"), max_digits=5, decimal_places=2, default=0)
    # Made by the page or the API client before it submits: the same key twice is the same order.
    submit_key = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    token = models.CharField(max_length=40, unique=True, default=new_token, editable=False)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-id"]
        permissions = [
            ("see_orders", "May see orders"),
            ("take_orders", "May take and change orders"),
            ("confirm_orders", "May confirm orders"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(customer__isnull=True, own_crop=True) | Q(customer__isnull=False, own_crop=False),
                name="customer_or_own_crop",
            )
        ]

    def __str__(self) -> str:
        return _("Order %(code)s") % {"code": self.code}

    @property
    def state(self) -> str:
        return states.common_state(line.state for line in self.lines.all())

    @property
    def who(self) -> str:
        return self.customer.name if self.customer else str(_("our own crop"))


class OrderLine(models.Model):
    class Kind(models.TextChoices):
        GRAFTED = "grafted", _("Grafted")
        PLAIN = "plain", _("Not grafted")
        ROOM = "room", _("Room only")

    class Leaders(models.TextChoices):
        ONE = "one", _("One leader")
        TWO_TOPPED = "two_topped", _("Two leaders, topped above the cotyledons")
        TWO_SIDE_SHOOT = "two_side_shoot", _("Two leaders from a side shoot (the customer's work)")

    class Seed(models.TextChoices):
        OURS = "ours", _("Our seed")
        CUSTOMERS = "customers", _("The customer's seed")

    class State(models.TextChoices):
        ASKED = states.ASKED, _("asked")
        HELD = states.HELD, _("held")
        CONFIRMED = states.CONFIRMED, _("confirmed")
        GROWING = states.GROWING, _("growing")
        READY = states.READY, _("ready")
        COLLECTED = states.COLLECTED, _("collected")
        LET_GO = states.LET_GO, _("let go")
        CANCELLED = states.CANCELLED, _("cancelled")

    order = models.ForeignKey(Order, on_delete=models.CASCADE, related_name="lines")
    number = models.PositiveSmallIntegerField()
    kind = models.CharField(_("kind"), max_length=10, choices=Kind, default=Kind.GRAFTED)
    # A plain line has its variety here and no rootstock.
    scion = models.ForeignKey(
        Variety, null=True, blank=True, on_delete=models.PROTECT, related_name="+", verbose_name=_("scion")
    )
    rootstock = models.ForeignKey(
        Variety, null=True, blank=True, on_delete=models.PROTECT, related_name="+", verbose_name=_("rootstock")
    )
    method = models.CharField(_("method"), max_length=20, choices=Method, default=Method.SPLICE)
    leaders = models.CharField(_("leaders"), max_length=20, choices=Leaders, default=Leaders.ONE)
    container = models.ForeignKey(
        Container, on_delete=models.PROTECT, related_name="+", verbose_name=_("pot or tray")
    )
    quantity = models.PositiveIntegerField(
        _("plants"), validators=[MinValueValidator(1), MaxValueValidator(MOST_PLANTS)]
    )  # of a room-only line: trays
    room_place_kind = models.CharField(_("kind of place"), max_length=20, blank=True, choices=PlaceKind)
    room_nights = models.PositiveSmallIntegerField(_("nights"), null=True, blank=True)

    pickup_asked = models.DateField(_("pickup"))  # of a room-only line: the day the room is free again
    earlier = models.PositiveSmallIntegerField(_("may be so many days earlier"), default=0)
    later = models.PositiveSmallIntegerField(_("may be so many days later"), default=0)
    collection_days = models.PositiveSmallIntegerField(_("days on which to collect"), default=2)
    pickup = models.DateField(_("pickup promised"), null=True, blank=True)
    hold_until = models.DateField(_("held until"), null=True, blank=True)

    scion_seed = models.CharField(_("scion seed"), max_length=10, choices=Seed, default=Seed.OURS)
    scion_seed_expected = models.DateField(_("scion seed expected by"), null=True, blank=True)
    rootstock_seed = models.CharField(_("rootstock seed"), max_length=10, choices=Seed, default=Seed.OURS)
    rootstock_seed_expected = models.DateField(_("rootstock seed expected by"), null=True, blank=True)

    state = models.CharField(max_length=10, choices=State, default=State.ASKED, db_index=True)
    unit_price = models.DecimalField(_("price each"), max_digits=10, decimal_places=4, default=0)
    tax_rate = models.DecimalField(_("tax rate, %"), max_digits=5, decimal_places=2, default=0)
    ready_quantity = models.PositiveIntegerField(default=0)
    collected_quantity = models.PositiveIntegerField(default=0)
    confirmed_at = models.DateTimeField(null=True, blank=True)
    ended_reason = models.CharField(max_length=300, blank=True)  # why let go, cancelled or closed short
    notes = models.TextField(_("notes"), blank=True)

    class Meta:
        ordering = ["order_id", "number"]
        constraints = [
            models.UniqueConstraint(fields=["order", "number"], name="line_number_once"),
            models.CheckConstraint(condition=Q(quantity__gte=1), name="line_quantity_positive"),
            models.CheckConstraint(
                condition=Q(collected_quantity__lte=F("ready_quantity")), name="collected_was_ready"
            ),
            models.CheckConstraint(condition=Q(state__in=states.STATES), name="line_state_known"),
            models.CheckConstraint(
                condition=~Q(kind="grafted") | Q(scion__isnull=False, rootstock__isnull=False),
                name="grafted_has_both_sides",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=sorted(states.TAKES_ROOM)) | Q(pickup__isnull=False),
                name="promised_line_has_pickup",
            ),
            models.CheckConstraint(
                condition=Q(state="held", hold_until__isnull=False)
                | (~Q(state="held") & Q(hold_until__isnull=True)),
                name="held_line_has_its_end",
            ),
        ]

    def __str__(self) -> str:
        return _("Order %(code)s, line %(number)s") % {"code": self.order.code, "number": self.number}

    @property
    def topped(self) -> bool:
        return self.leaders == self.Leaders.TWO_TOPPED

    @property
    def what(self) -> str:
        """'Tallis Red on Kelder', 'Tallis Red', or the room asked for."""
        if self.kind == self.Kind.GRAFTED:
            return _("%(scion)s on %(rootstock)s") % {"scion": self.scion, "rootstock": self.rootstock}
        if self.kind == self.Kind.PLAIN:
            return str(self.scion)
        return _("Room (%(place)s)") % {"place": self.get_room_place_kind_display().lower()}

    @property
    def outstanding(self) -> int:
        """Ready plants that have not been collected."""
        return self.ready_quantity - self.collected_quantity
