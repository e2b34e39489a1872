"""The one form for plants that stand already when the service is first used."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import Q
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orders.models import Container, Method, Variety

from ..models import Place, ProtocolStage
from ..planning import terms
from ..services.standing import Seedlings, Standing
from .named import NAMED, NamedField
from .recording import DayField, number

SEEDLINGS = "seedlings"


class StageChoice(forms.ModelChoiceField):
    def label_from_instance(self, stage: Any) -> str:
        return f"{stage.protocol}: {stage.name}"


class StandingForm(forms.Form):
    """Grafted or plain plants at one stage, or the seedlings of both sides before their graft."""

    grid = "pair"
    key = forms.UUIDField(required=False, widget=forms.HiddenInput)
    scion = forms.ModelChoiceField(Variety.objects.none(), label=gettext_lazy("Scion, or variety"))
    rootstock = forms.ModelChoiceField(
        Variety.objects.none(),
        required=False,
        label=gettext_lazy("Rootstock"),
        empty_label=gettext_lazy("not grafted"),
    )
    method = forms.ChoiceField(label=gettext_lazy("Method"), choices=[])
    stage = StageChoice(
        ProtocolStage.objects.none(),
        required=False,
        label=gettext_lazy("Stage reached"),
        empty_label=gettext_lazy("seedlings, not grafted yet"),
    )
    plants = number(min_value=1, label=gettext_lazy("Plants"), help_text=gettext_lazy("Seedlings: of the scion."))
    container = forms.ModelChoiceField(Container.objects.filter(active=True), label=gettext_lazy("They stand in"))
    place = forms.ModelChoiceField(Place.objects.filter(active=True), label=gettext_lazy("Place"))
    entered_on = DayField(
        required=True,
        label=gettext_lazy("Since"),
        help_text=gettext_lazy("The day on which they came to this stage."),
    )
    pickup = DayField(required=True, label=gettext_lazy("Pickup"))
    line = NamedField(
        kind="line",
        names="lines",
        required=False,
        label=gettext_lazy("For"),
        help_text=gettext_lazy("An order's line, as 27/1, or its customer and variety. Empty: for nobody yet."),
    )
    own_crop = forms.BooleanField(required=False, label=gettext_lazy("This is our own crop"))
    scion_sown_on = DayField(label=gettext_lazy("Scion sown on"))
    rootstock_plants = number(required=False, label=gettext_lazy("Seedlings of the rootstock"))
    rootstock_sown_on = DayField(label=gettext_lazy("Rootstock sown on"))
    scion_lot = NamedField(kind="lot", names="lots", required=False, label=gettext_lazy("Lot of the scion"))
    rootstock_lot = NamedField(
        kind="lot", names="lots", required=False, label=gettext_lazy("Lot of the rootstock")
    )

    BEFORE = ("scion_sown_on", "rootstock_plants", "rootstock_sown_on")
    LOTS = ("scion_lot", "rootstock_lot")

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        fields: Any = self.fields
        varieties = Variety.objects.filter(active=True).select_related("crop")
        both = Variety.Role.BOTH
        fields["scion"].queryset = varieties.filter(role__in=(Variety.Role.SCION, both))
        fields["rootstock"].queryset = varieties.filter(role__in=(Variety.Role.ROOTSTOCK, both))
        fields["method"].choices = [choice for choice in Method.choices if choice[0] != Method.PLAIN]
        fields["stage"].queryset = _stages()

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if said.get("stage") is None and "stage" not in self.errors:
            if not said.get("rootstock"):
                self.add_error("stage", _("Plants that are not grafted stand at a stage. Choose it."))
            for field in self.BEFORE:
                if not said.get(field):
                    self.add_error(
                        field, _("Seedlings need this: how many of each side, and when they were sown.")
                    )
        if said.get("line") and said.get("own_crop"):
            self.add_error("own_crop", _("These plants are for a customer's order. Untick one of the two."))
        return said

    def offered(self) -> dict[str, list[str]]:
        """Names for the lists of fields that are typed: what fits the text that is not clear yet, or the first."""
        typed = {name: str(self[name].value() or "") for name in ("line", *self.LOTS) if self[name].errors}
        lot = " ".join(typed.get(name, "") for name in self.LOTS).strip()
        texts = {"line": typed.get("line", ""), "lot": lot}
        return {kind: NAMED[kind].names(text) or NAMED[kind].names() for kind, text in texts.items()}

    def what(self) -> Standing:
        said = self.cleaned_data
        seedlings = said["stage"] is None
        lots = tuple(lot for lot in (said["scion_lot"], said["rootstock_lot"]) if lot)
        return Standing(
            scion=said["scion"],
            rootstock=said["rootstock"],
            method=said["method"] if said["rootstock"] else Method.PLAIN,
            plants=said["plants"],
            container=said["container"],
            place=said["place"],
            entered_on=said["entered_on"],
            pickup=said["pickup"],
            stage=said["stage"],
            scion_side=Seedlings(said["plants"], said["scion_sown_on"], said["scion_lot"]) if seedlings else None,
            rootstock_side=(
                Seedlings(said["rootstock_plants"], said["rootstock_sown_on"], said["rootstock_lot"])
                if seedlings
                else None
            ),
            lots=lots,
        )


def _stages() -> Any:
    """Stages at which plants can stand: after the graft, and those of plain plants."""
    tracks = Q(track=ProtocolStage.Track.UNION) | Q(track=ProtocolStage.Track.PLAIN, kind=terms.RAISING)
    stages = ProtocolStage.objects.filter(tracks, protocol__current=True)
    return stages.select_related("protocol__crop").order_by(
        "protocol__crop__name", "protocol__method", "track", "order"
    )
