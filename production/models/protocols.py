"""Protocols: how a crop is grown and grafted by one method, as versioned data the grower edits."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from orders.models import Container, Crop, Method, PlaceKind

from ..planning import terms
from .places import Skill, check_kinds

SOWINGS = [MinValueValidator(1), MaxValueValidator(5)]
SOWN_AGAIN = _(
    "One is usual. Several, some days apart, share the seeds and give stems of several ages, so that enough find a"
    " partner even when a side grows quicker or slower than it should."
)
SHARE = [MinValueValidator(0.01), MaxValueValidator(1.0)]


class Protocol(models.Model):
    """One version of a protocol. A version that a batch was planned with is never edited: a new one is made."""

    crop = models.ForeignKey(Crop, on_delete=models.PROTECT, related_name="protocols", verbose_name=_("crop"))
    method = models.CharField(_("method"), max_length=20, choices=Method)
    version = models.PositiveIntegerField(_("version"), default=1)
    current = models.BooleanField(default=True)
    topping_shortest = models.PositiveSmallIntegerField(_("topping adds, shortest nights"), default=7)
    topping_usual = models.PositiveSmallIntegerField(_("topping adds, usual nights"), default=8)
    topping_longest = models.PositiveSmallIntegerField(_("topping adds, longest nights"), default=9)
    topped_room = models.FloatField(
        _("room of a topped plant, against a single one"),
        default=1.0,
        validators=[MinValueValidator(1.0), MaxValueValidator(4.0)],
    )
    take_share = models.FloatField(_("take"), default=0.9, validators=SHARE)
    take_weight = models.FloatField(_("how well take is known"), default=100.0, validators=[MinValueValidator(2)])
    kept_share = models.FloatField(_("kept from take to ready"), default=0.97, validators=SHARE)
    kept_weight = models.FloatField(_("how well that is known"), default=100.0, validators=[MinValueValidator(2)])
    keeping_nights = models.PositiveSmallIntegerField(_("longest nights that ready plants may stand"), default=14)
    rootstock_sowings = models.PositiveSmallIntegerField(
        _("sowings of the rootstock"), default=1, validators=SOWINGS, help_text=SOWN_AGAIN
    )
    scion_sowings = models.PositiveSmallIntegerField(
        _("sowings of the scion"), default=1, validators=SOWINGS, help_text=SOWN_AGAIN
    )
    sown_apart = models.PositiveSmallIntegerField(
        _("days between two sowings of a side"),
        default=2,
        validators=[MinValueValidator(1), MaxValueValidator(14)],
        help_text=_("So few that the stems of all of them are fit to graft on one day."),
    )
    basis = models.TextField(_("where these values come from"), blank=True)
    published = models.TextField(_("what is published"), blank=True)
    created_at = models.DateTimeField(auto_now_add=True)
    created_by = models.CharField(max_length=150, blank=True)

    class Meta:
        ordering = ["crop__name", "method", "-version"]
        verbose_name = _("protocol")
        constraints = [
            models.UniqueConstraint(fields=["crop", "method", "version"], name="protocol_version_once"),
            models.UniqueConstraint(
                fields=["crop", "method"], condition=Q(current=True), name="one_current_protocol"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.crop}, {self.get_method_display()}"

    @property
    def is_sown_again(self) -> bool:
        """Whether a side is sown more than once."""
        return max(self.rootstock_sowings, self.scion_sowings) > 1


class ProtocolStage(models.Model):
    """Nights in one kind of place and container. Germinating and raising get their nights from the clocks."""

    class Track(models.TextChoices):
        ROOTSTOCK = "rootstock", _("Rootstock, before the graft")
        SCION = "scion", _("Scion, before the graft")
        PLAIN = "plain", _("Seedlings that are not grafted")
        UNION = "union", _("After the graft")

    class Kind(models.TextChoices):
        GERMINATING = terms.GERMINATING, _("Germinating")
        RAISING = terms.RAISING, _("Raising")
        HEAL = terms.HEAL, _("Healing")
        COVER = terms.COVER, _("Under a propped cover")
        WEANING = terms.WEANING, _("Weaning")
        HARDEN = terms.HARDEN, _("Hardening")
        COLD_HOLD = terms.COLD_HOLD, _("Held cold")
        GROW_ON = terms.GROW_ON, _("Growing on")

    protocol = models.ForeignKey(Protocol, on_delete=models.CASCADE, related_name="stages")
    track = models.CharField(_("concerns"), max_length=10, choices=Track)
    order = models.PositiveSmallIntegerField(default=0)
    kind = models.CharField(_("kind"), max_length=12, choices=Kind)
    name = models.CharField(_("name"), max_length=60)
    place_kinds = models.JSONField(_("may stand in"), default=list, validators=[check_kinds])
    container = models.ForeignKey(
        Container,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        verbose_name=_("in"),
        help_text=_("Leave empty for the pot or tray of the order line."),
    )
    shortest = models.PositiveSmallIntegerField(_("shortest nights"))
    usual = models.PositiveSmallIntegerField(_("usual nights"))
    longest = models.PositiveSmallIntegerField(_("longest nights"))
    temperature = models.FloatField(_("temperature to keep, °C"), null=True, blank=True)
    humidity = models.FloatField(_("relative humidity to keep, %"), null=True, blank=True)
    light = models.CharField(_("light"), max_length=120, blank=True)
    basis = models.TextField(_("where these values come from"), blank=True)
    published = models.TextField(_("what is published"), blank=True)

    class Meta:
        ordering = ["protocol_id", "track", "order"]
        verbose_name = _("stage")
        constraints = [
            models.UniqueConstraint(fields=["protocol", "track", "order"], name="stage_place_in_order_once"),
            models.CheckConstraint(
                condition=Q(shortest__lte=F("usual")) & Q(usual__lte=F("longest")), name="stage_nights_in_order"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def key(self) -> str:
        """What plans call this stage: stable within one protocol version."""
        return f"{self.track}-{self.order}-{self.kind}"

    @property
    def places_said(self) -> str:
        return ", ".join(str(PlaceKind(kind).label).lower() for kind in self.place_kinds)

    def clean(self) -> None:
        super().clean()
        if None in (self.shortest, self.usual, self.longest):
            return
        if not self.shortest <= self.usual <= self.longest:
            raise ValidationError({"usual": _("The usual nights must lie between the shortest and the longest.")})


class StageWork(models.Model):
    """Work that a stage asks for: when, how fast, by whom, in which part of the day."""

    class Kind(models.TextChoices):
        SOW = terms.SOW, _("Sow")
        MOVE = terms.MOVE, _("Move")
        COUNT_EMERGED = terms.COUNT_EMERGED, _("Count what is up")
        COUNT_USABLE = terms.COUNT_USABLE, _("Count what is fit to graft")
        GRAFT = terms.GRAFT, _("Graft")
        PROP = terms.PROP, _("Prop the cover")
        TAKE_OUT = terms.TAKE_OUT, _("Take out of the healing chamber")
        COUNT_TAKEN = terms.COUNT_TAKEN, _("Count what took")
        NOTCH = terms.NOTCH, _("Notch the scion's stem")
        FINAL_CUT = terms.FINAL_CUT, _("Final cut")
        STAKE = terms.STAKE, _("Stake")
        POT = terms.POT, _("Pot")
        TOP = terms.TOP, _("Top above the cotyledons")
        CHECK = terms.CHECK, _("Check")
        COUNT_READY = terms.COUNT_READY, _("Count what is ready")
        HAND_OVER = terms.HAND_OVER, _("Hand over")

    class PartOfDay(models.TextChoices):
        MORNING = "morning", _("Morning")
        DAY = "day", _("Day")
        EVENING = "evening", _("Evening")

    stage = models.ForeignKey(ProtocolStage, on_delete=models.CASCADE, related_name="works")
    order = models.PositiveSmallIntegerField(default=0)
    kind = models.CharField(_("work"), max_length=15, choices=Kind)
    skill = models.ForeignKey(Skill, on_delete=models.PROTECT, related_name="+", verbose_name=_("skill"))
    per_hour = models.FloatField(
        _("plants an hour"), validators=[MinValueValidator(1), MaxValueValidator(100_000)]
    )
    helper_skill = models.ForeignKey(
        Skill, null=True, blank=True, on_delete=models.PROTECT, related_name="+", verbose_name=_("helper's skill")
    )  # a helper works as long as the one who is helped
    part = models.CharField(_("part of day"), max_length=10, choices=PartOfDay, default=PartOfDay.DAY)
    after = models.PositiveSmallIntegerField(_("nights after the stage began"), default=0)
    at_end = models.BooleanField(_("on the day the stage ends"), default=False)
    care = models.BooleanField(_("may fall on a closed day"), default=False)
    note = models.CharField(_("how"), max_length=200, blank=True)

    class Meta:
        ordering = ["stage_id", "order"]
        verbose_name = _("work")

    def __str__(self) -> str:
        return self.get_kind_display()
