"""The page on which a protocol is changed: its own values, a form for each stage, a row for each piece of work."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

from django import forms
from django.utils.datastructures import MultiValueDict
from django.utils.translation import gettext_lazy as _

from orders.forms.fields import MeasureField
from orders.forms.records import RecordForm, rows_of
from orders.models import Container, Crop, Method, Nursery, PlaceKind

from ..models import Protocol, ProtocolStage, Skill, StageWork
from ..services.protocols import PROTOCOL_FIELDS, STAGE_FIELDS, WORK_FIELDS, Draft, StageDraft

SUCCESSION = ("rootstock_sowings", "scion_sowings", "sown_apart")
BASIS = forms.Textarea(attrs={"rows": 3})


class ProtocolForm(RecordForm):
    groups = (
        (_("How many come through"), ("take_share", "take_weight", "kept_share", "kept_weight")),
        (
            _("Two leaders by topping"),
            ("topping_shortest", "topping_usual", "topping_longest", "topped_room"),
        ),
        (_("Sowing in succession"), SUCCESSION),
        (_("Ready plants"), ("keeping_nights",)),
        (_("Where this comes from"), ("basis", "published")),
    )

    class Meta:
        model = Protocol
        fields: ClassVar = list(PROTOCOL_FIELDS)
        widgets: ClassVar = {"basis": BASIS, "published": BASIS}
        help_texts: ClassVar = {"scion_sowings": _("One is usual, as of the rootstock.")}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.method == Method.PLAIN:  # nothing is to be matched
            for name in SUCCESSION:
                del self.fields[name]

    def values(self) -> dict[str, Any]:
        """Of all fields of a protocol, as they are to be."""
        return {name: self.cleaned_data.get(name, getattr(self.instance, name)) for name in PROTOCOL_FIELDS}


class StageForm(RecordForm):
    """One stage. Stages after the graft can be put in another order or left out."""

    grid = "many"
    place_kinds = forms.MultipleChoiceField(
        label=_("may stand in"), choices=PlaceKind.choices, widget=forms.CheckboxSelectMultiple
    )
    temperature = MeasureField(
        quantity="degrees", lowest=-20, highest=50, label=_("temperature to keep"), required=False
    )
    leave_out = forms.BooleanField(label=_("leave this stage out"), required=False)

    groups = (
        ("", ("order", "name", "kind", "shortest", "usual", "longest", "container", "place_kinds")),
        ("", ("temperature", "humidity", "light", "basis", "published", "leave_out")),
    )

    class Meta:
        model = ProtocolStage
        fields: ClassVar = ["order", *(name for name in STAGE_FIELDS if name != "track")]
        widgets: ClassVar = {"basis": BASIS, "published": BASIS}
        labels: ClassVar = {"order": _("place in the order")}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.track != ProtocolStage.Track.UNION:
            for name in ("order", "kind", "leave_out"):
                del self.fields[name]
        self.fields["container"].queryset = Container.objects.filter(active=True)  # type: ignore[attr-defined]


class WorkForm(RecordForm):
    """One piece of work. `skills` are the choices of its hands, read once for all rows of a page."""

    grid = "many"

    def __init__(self, *args: Any, skills: Sequence[tuple[Any, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("skill", "helper_skill"):
            self.fields[name].choices = [("", "---------"), *skills]  # type: ignore[attr-defined]

    class Meta:
        model = StageWork
        fields: ClassVar = list(WORK_FIELDS)


WorkFormSet = rows_of(ProtocolStage, StageWork, WorkForm)


@dataclass(slots=True)
class StageForms:
    """A stage's form and its work."""

    stage: StageForm
    works: forms.BaseInlineFormSet

    @property
    def left_out(self) -> bool:
        return bool(self.stage.cleaned_data.get("leave_out"))

    def is_valid(self) -> bool:
        return all([self.stage.is_valid(), self.works.is_valid()])

    def draft(self) -> StageDraft:
        instance, cleaned = self.stage.instance, self.stage.cleaned_data
        values = {name: cleaned.get(name, getattr(instance, name)) for name in STAGE_FIELDS}
        works = tuple(
            {name: row.cleaned_data[name] for name in WORK_FIELDS}
            for row in self.works
            if row.cleaned_data.get("kind") and not row.cleaned_data.get("DELETE")
        )
        return StageDraft(values, works)


class ProtocolForms:
    """All forms of one protocol together. Nothing is saved here: `draft` goes to the service."""

    def __init__(self, data: MultiValueDict | None, *, protocol: Protocol, nursery: Nursery) -> None:
        self.data, self.nursery = data, nursery
        self.skills = [(skill.pk, str(skill)) for skill in Skill.objects.all()]
        self.protocol = ProtocolForm(data, instance=protocol, nursery=nursery, prefix="protocol")
        self.stages = [self._forms(stage) for stage in protocol.stages.prefetch_related("works")]
        last = max((s.order for s in protocol.stages.all() if s.track == "union"), default=0)
        spare = ProtocolStage(protocol=protocol, track=ProtocolStage.Track.UNION, order=last + 1)
        self.spare = StageForm(
            data,
            instance=spare,
            nursery=nursery,
            prefix="spare",
            empty_permitted=True,
            use_required_attribute=False,
        )

    def _forms(self, stage: ProtocolStage) -> StageForms:
        return StageForms(
            StageForm(self.data, instance=stage, nursery=self.nursery, prefix=f"stage-{stage.pk}"),
            WorkFormSet(
                self.data,
                instance=stage,
                prefix=f"work-{stage.pk}",
                form_kwargs={"nursery": self.nursery, "skills": self.skills},
            ),
        )

    def is_valid(self) -> bool:
        return all([self.protocol.is_valid(), self.spare.is_valid(), *(forms.is_valid() for forms in self.stages)])

    def draft(self) -> Draft:
        kept = [each for each in self.stages if not each.left_out]
        ordered = [
            (each.stage.cleaned_data.get("order", each.stage.instance.order), each.draft()) for each in kept
        ]
        ordered += [(self.spare.cleaned_data["order"], self._spare_draft())] if self.spare.has_changed() else []
        ordered.sort(key=lambda pair: pair[0])
        return Draft(
            self.protocol.values(),
            tuple(stage for _order, stage in ordered),
        )

    def _spare_draft(self) -> StageDraft:
        values = {name: self.spare.cleaned_data.get(name) for name in STAGE_FIELDS}
        return StageDraft(values | {"track": ProtocolStage.Track.UNION.value}, ())


class CopyForm(forms.Form):
    """For which crop and method a protocol is to be copied."""

    crop = forms.ModelChoiceField(queryset=Crop.objects.all(), label=_("Crop"))
    method = forms.ChoiceField(choices=Method.choices, label=_("Method"))
