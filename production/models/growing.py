"""What grows: seed lots, batches and their parts, sowings, and the nights that each stands somewhere."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from orders.models import Container, Customer, Method, OrderLine, Variety

from .places import Place
from .protocols import Protocol


class SeedLot(models.Model):
    """Seed of one variety: ours or a customer's, in hand or expected by a day, with its germination test."""

    code = models.CharField(_("lot"), max_length=40, unique=True)
    variety = models.ForeignKey(Variety, on_delete=models.PROTECT, related_name="lots", verbose_name=_("variety"))
    customer = models.ForeignKey(
        Customer,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="seed_lots",
        verbose_name=_("belongs to"),
        help_text=_("Leave empty for our own seed."),
    )
    seeds = models.PositiveIntegerField(_("seeds"), validators=[MinValueValidator(1)])
    expected_on = models.DateField(_("expected by"), null=True, blank=True)
    received_on = models.DateField(_("in hand since"), null=True, blank=True)
    tested_seeds = models.PositiveIntegerField(_("seeds tested"), null=True, blank=True)
    germinated_seeds = models.PositiveIntegerField(_("of which germinated"), null=True, blank=True)
    tested_on = models.DateField(_("tested on"), null=True, blank=True)
    supplier = models.CharField(_("supplier and their lot"), max_length=120, blank=True)
    treatment = models.CharField(
        _("treatment"), max_length=120, blank=True, help_text=_("Follow the label of treated seed.")
    )
    used_up = models.BooleanField(_("used up"), default=False)
    notes = models.TextField(_("notes"), blank=True)

    class Meta:
        ordering = ["variety__name", "code"]
        verbose_name = _("seed lot")
        constraints = [
            models.CheckConstraint(
                condition=Q(tested_seeds__isnull=True, germinated_seeds__isnull=True)
                | Q(germinated_seeds__lte=F("tested_seeds")),
                name="germinated_within_tested",
            ),
        ]

    def __str__(self) -> str:
        return self.code

    def clean(self) -> None:
        super().clean()
        if (self.tested_seeds is None) != (self.germinated_seeds is None):
            raise ValidationError(
                {"germinated_seeds": _("Give both: how many were tested and how many germinated.")}
            )
        if self.tested_seeds is not None and (self.germinated_seeds or 0) > self.tested_seeds:
            raise ValidationError({"germinated_seeds": _("More germinated than were tested.")})
        if self.expected_on is None and self.received_on is None:
            raise ValidationError(
                {"received_on": _("Say since when it is in hand, or by which day it is expected.")}
            )


class Batch(models.Model):
    """Plants of one combination (or one variety, or only room) planned together under one protocol version."""

    code = models.CharField(max_length=12, unique=True)
    kind = models.CharField(max_length=10, choices=OrderLine.Kind)
    scion = models.ForeignKey(Variety, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    rootstock = models.ForeignKey(Variety, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    method = models.CharField(max_length=20, choices=Method)
    protocol = models.ForeignKey(Protocol, null=True, blank=True, on_delete=models.PROTECT, related_name="batches")
    stale = models.BooleanField(default=False)  # something changed since it was planned; a job will look
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-id"]
        verbose_name = _("batch")
        verbose_name_plural = _("batches")
        permissions = [
            ("see_work", "May see today's work and the season"),
            ("record_work", "May record work and counts"),
            ("hand_over", "May hand plants over"),
            ("promise_over_conflict", "May promise over a conflict"),
            ("replan", "May move and replan batches"),
        ]

    def __str__(self) -> str:
        return _("Batch %(code)s") % {"code": self.code}

    @property
    def what(self) -> str:
        if self.rootstock:
            return _("%(scion)s on %(rootstock)s") % {"scion": self.scion, "rootstock": self.rootstock}
        return str(self.scion or _("Room only"))


class Part(models.Model):
    """Plants of a batch that are grafted on one day, stand in one container and go through the nights together."""

    class State(models.TextChoices):
        PLANNED = "planned", _("planned")
        ALIVE = "alive", _("growing")  # as its lines say
        READY = "ready", _("ready")
        GONE = "gone", _("gone")
        DROPPED = "dropped", _("dropped")

    batch = models.ForeignKey(Batch, on_delete=models.CASCADE, related_name="parts")
    number = models.PositiveSmallIntegerField(default=1)
    state = models.CharField(max_length=10, choices=State, default=State.PLANNED, db_index=True)
    plants = models.PositiveIntegerField()  # wanted
    grafts = models.PositiveIntegerField(default=0)  # to make
    container = models.ForeignKey(Container, on_delete=models.PROTECT, related_name="+")
    topped = models.BooleanField(default=False)
    graft_day = models.DateField(null=True, blank=True)
    ready_day = models.DateField()
    pickup = models.DateField()
    expected = models.FloatField(default=0)  # plants, after the counts so far
    expected_low = models.PositiveIntegerField(default=0)  # tenth percentile
    expected_high = models.PositiveIntegerField(default=0)  # ninetieth
    chance = models.FloatField(default=0)  # that the plants wanted can be handed over
    late_by = models.PositiveSmallIntegerField(default=0)  # days after the last day promised
    troubles = models.JSONField(default=list, blank=True)  # sentences
    reasons = models.JSONField(default=list, blank=True)  # [what, day, why]
    # Grows with everything that is recorded: a plan computed from an older revision is not stored.
    revision = models.PositiveIntegerField(default=0)
    rolled_on = models.DateField(null=True, blank=True)  # the day the plan was last moved on with what happened

    class Meta:
        ordering = ["batch_id", "number"]
        constraints = [models.UniqueConstraint(fields=["batch", "number"], name="part_number_once")]

    def __str__(self) -> str:
        return f"{self.batch.code}-{self.number}" if self.number > 1 else self.batch.code


class Allocation(models.Model):
    """How many plants of a part are meant for an order line. Never more than the part holds."""

    part = models.ForeignKey(Part, on_delete=models.CASCADE, related_name="allocations")
    line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, related_name="allocations")
    quantity = models.PositiveIntegerField(validators=[MinValueValidator(1)])

    class Meta:
        constraints = [models.UniqueConstraint(fields=["part", "line"], name="allocated_once")]

    def __str__(self) -> str:
        return f"{self.quantity} of {self.part} for {self.line}"


class Sowing(models.Model):
    """Trays of one lot sown on one day for one side of a part."""

    class Subject(models.TextChoices):
        ROOTSTOCK = "rootstock", _("rootstock")
        SCION = "scion", _("scion")
        PLAIN = "plain", _("plants")

    code = models.CharField(max_length=12, unique=True)
    part = models.ForeignKey(Part, on_delete=models.CASCADE, related_name="sowings")
    subject = models.CharField(max_length=10, choices=Subject)
    number = models.PositiveSmallIntegerField(default=1)  # among the sowings of this side
    variety = models.ForeignKey(Variety, on_delete=models.PROTECT, related_name="sowings")
    lot = models.ForeignKey(SeedLot, null=True, blank=True, on_delete=models.PROTECT, related_name="sowings")
    container = models.ForeignKey(Container, on_delete=models.PROTECT, related_name="+")
    day = models.DateField()  # planned
    seeds = models.PositiveIntegerField()
    trays = models.PositiveIntegerField()
    emerges = models.DateField()
    graftable_from = models.DateField(null=True, blank=True)
    graftable_to = models.DateField(null=True, blank=True)
    sown_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["day", "id"]
        constraints = [
            models.UniqueConstraint(fields=["part", "subject", "number"], name="sowing_number_once"),
        ]

    def __str__(self) -> str:
        return self.code


class Leaves(models.Func):
    """The day on which a stay is left, reckoned by the database from its first day and its nights."""

    output_field = models.DateField()
    template = "(%(expressions)s)"
    arg_joiner = " + "

    def as_sqlite(self, compiler: Any, connection: Any, **_more: Any) -> Any:
        return self.as_sql(
            compiler, connection, template="date(%(expressions)s || ' days')", arg_joiner=", '+' || "
        )


class StayQuerySet(models.QuerySet["Stay"]):
    def within(self, first: date, last: date) -> StayQuerySet:
        """Those that hold one of the nights `first` to `last`, both included."""
        return self.filter(first__lte=last).alias(leaves_on=Leaves("first", "nights")).filter(leaves_on__gt=first)


class Stay(models.Model):
    """A stand in one place for some nights: first … first+nights−1; it moves on during `leaves`."""

    part = models.ForeignKey(Part, on_delete=models.CASCADE, related_name="stays")
    sowing = models.ForeignKey(Sowing, null=True, blank=True, on_delete=models.CASCADE, related_name="stays")
    subject = models.CharField(max_length=10)  # rootstock, scion, plain, union, room
    stage = models.CharField(max_length=40)  # a stage's key
    stage_kind = models.CharField(max_length=12)
    place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="stays")
    container = models.ForeignKey(Container, on_delete=models.PROTECT, related_name="+")
    containers = models.PositiveIntegerField()
    first = models.DateField(db_index=True)
    nights = models.PositiveSmallIntegerField()
    load = models.FloatField()  # in the place's measure
    entered = models.BooleanField(default=False)  # recorded: the plants really came here on `first`
    left = models.BooleanField(default=False)  # recorded: they really moved on after `nights`

    objects = StayQuerySet.as_manager()

    class Meta:
        ordering = ["first", "id"]
        constraints = [models.CheckConstraint(condition=Q(load__gte=0), name="load_not_negative")]

    def __str__(self) -> str:
        return f"{self.part} {self.stage_kind} in {self.place}"

    @property
    def leaves(self) -> date:
        return self.first + timedelta(days=self.nights)
