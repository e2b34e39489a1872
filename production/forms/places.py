"""Forms of places, hands, closed days and seed lots."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

import holidays
from django import forms
from django.db.models import Q
from django.utils.translation import get_language
from django.utils.translation import gettext_lazy as _

from orders import choices
from orders.forms.fields import DayInput, MeasureField
from orders.forms.records import RecordForm, RowsFormSet, SpanForm
from orders.models import CodeSeries, Customer, PlaceKind, User, Variety

from ..models import (
    ClosedDay,
    Person,
    PersonAbsence,
    PersonPart,
    Place,
    PlaceOpening,
    PlaceTemperature,
    SeedLot,
    Skill,
)

COLDEST, HOTTEST = -20.0, 50.0


class PlaceForm(RecordForm):
    kinds = forms.MultipleChoiceField(
        label=_("serves as"), choices=PlaceKind.choices, widget=forms.CheckboxSelectMultiple
    )
    temperature = MeasureField(
        quantity="degrees", lowest=COLDEST, highest=HOTTEST, label=_("24-hour mean temperature")
    )

    groups = (
        (_("What it is"), ("name", "kinds")),
        (_("How much it holds"), ("capacity", "measure")),
        (_("How it is kept"), ("temperature", "humidity")),
        (_("More"), ("notes", "active")),
    )

    class Meta:
        model = Place
        fields: ClassVar = [
            "name", "kinds", "capacity", "measure", "temperature", "humidity", "notes", "active",
        ]  # fmt: skip
        widgets: ClassVar = {"notes": forms.Textarea(attrs={"rows": 3})}


class OpeningForm(SpanForm):
    class Meta(SpanForm.Meta):
        model = PlaceOpening


class SpellForm(SpanForm):
    degrees = MeasureField(
        quantity="degrees", lowest=COLDEST, highest=HOTTEST, label=_("24-hour mean temperature")
    )

    class Meta(SpanForm.Meta):
        model = PlaceTemperature
        fields: ClassVar = ["first", "last", "degrees"]


def works_alone(person: Person) -> bool:
    """Whether nobody else works here, so that it does not matter who does what and when."""
    return not Person.objects.filter(active=True).exclude(pk=person.pk).exists()


class PersonForm(RecordForm):
    """A person's hours and skills. While nobody else works here, skills do not matter and stay out of sight."""

    grid = "many"
    groups = (
        (_("Who"), ("name", "user", "active")),
        (_("Skills"), ("skills",)),
        (_("Hours on an open day"), Person.WEEKDAYS),
        (_("On a closed day"), ("care_hours",)),
    )

    class Meta:
        model = Person
        fields: ClassVar = ["name", "user", "active", "skills", *Person.WEEKDAYS, "care_hours"]
        widgets: ClassVar = {"skills": forms.CheckboxSelectMultiple}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        free = Q(person=None) | Q(person=self.instance.pk) if self.instance.pk else Q(person=None)
        self.fields["user"].queryset = User.objects.filter(free, is_active=True)  # type: ignore[attr-defined]
        self.alone = works_alone(self.instance)
        if self.alone:
            del self.fields["skills"]

    def save(self, commit: bool = True) -> Any:
        person = super().save(commit)
        if self.alone and commit:
            person.skills.set(Skill.objects.all())
        return person


class HoursByPartForm(RecordForm):
    """How many of a person's hours lie in one part of the day."""

    class Meta:
        model = PersonPart
        fields: ClassVar = ["part", *Person.WEEKDAYS]

    def clean_part(self) -> str:
        part: str = self.cleaned_data["part"]
        if self.instance.pk and "part" in self.changed_data:
            raise forms.ValidationError(_("These hours stay in their part. Take them away and write others."))
        return part

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if not self.errors and all(said.get(weekday) is None for weekday in Person.WEEKDAYS):
            self.add_error("monday", _("Write the hours of one day at least, 0 where there are none."))
        return said


class HoursByPartFormSet(RowsFormSet):
    """Both parts of a day: each once, and together no more than the person's hours of that day."""

    def validate_unique(self) -> None:
        """`clean` says it of the field that is wrong."""

    def clean(self) -> None:
        super().clean()
        rows = [form for form in self.forms if form.is_valid() and form.cleaned_data.get("part")]
        kept = [form for form in rows if not form.cleaned_data.get("DELETE")]
        for number, form in enumerate(kept):
            if form.cleaned_data["part"] in [other.cleaned_data["part"] for other in kept[:number]]:
                form.add_error("part", _("This part of the day stands here twice. Write it once."))
                return
        for weekday in Person.WEEKDAYS:
            self._check_day(weekday, kept)

    def _check_day(self, weekday: str, rows: Sequence[forms.ModelForm]) -> None:
        there, said = getattr(self.instance, weekday), [form.cleaned_data.get(weekday) or 0 for form in rows]
        if rows and there is not None and sum(said) > there:
            words = _("Morning and evening have %(said)s hours together, the day %(there)s. Write fewer.")
            rows[-1].add_error(weekday, words % {"said": f"{sum(said):g}", "there": f"{there:g}"})


class AbsenceForm(SpanForm):
    class Meta(SpanForm.Meta):
        model = PersonAbsence


class SkillForm(RecordForm):
    class Meta:
        model = Skill
        fields: ClassVar = ["name"]


class ClosedDayForm(RecordForm):
    class Meta:
        model = ClosedDay
        fields: ClassVar = ["day", "name"]
        widgets: ClassVar = {"day": DayInput}


class HolidayForm(forms.Form):
    """Which public holidays to offer."""

    country = forms.ChoiceField(label=_("country"))
    region = forms.ChoiceField(label=_("region"), required=False)
    year = forms.TypedChoiceField(label=_("year"), coerce=int)

    def __init__(self, data: Any, *, this_year: int) -> None:
        super().__init__(data)
        supported = holidays.list_supported_countries()
        offered = [pair for pair in choices.countries(get_language() or "en") if pair[0] in supported]
        self.fields["country"].choices = offered  # type: ignore[attr-defined]
        regions = supported.get(self.data.get("country", ""), [])
        if regions:
            offered_regions = [("", _("the whole country")), *((region, region) for region in regions)]
            self.fields["region"].choices = offered_regions  # type: ignore[attr-defined]
        else:
            del self.fields["region"]
        years = range(this_year, this_year + 3)
        self.fields["year"].choices = [(year, year) for year in years]  # type: ignore[attr-defined]


class SeedLotForm(RecordForm):
    code = forms.CharField(
        label=_("lot"), max_length=40, required=False, help_text=_("Leave empty for the next number of our own.")
    )

    groups = (
        (_("The seed"), ("code", "variety", "customer", "seeds", "supplier", "treatment")),
        (_("When it is in hand"), ("received_on", "expected_on", "used_up")),
        (_("Germination test"), ("tested_seeds", "germinated_seeds", "tested_on")),
        (_("More"), ("notes",)),
    )

    class Meta:
        model = SeedLot
        fields: ClassVar = [
            "code", "variety", "customer", "seeds", "supplier", "treatment", "received_on", "expected_on",
            "used_up", "tested_seeds", "germinated_seeds", "tested_on", "notes",
        ]  # fmt: skip
        widgets: ClassVar = {
            "received_on": DayInput,
            "expected_on": DayInput,
            "tested_on": DayInput,
            "notes": forms.Textarea(attrs={"rows": 3}),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        varieties = Variety.objects.select_related("crop").filter(Q(active=True) | Q(lots=self.instance.pk or 0))
        self.fields["variety"].queryset = varieties.distinct()  # type: ignore[attr-defined]
        self.fields["customer"].queryset = Customer.objects.all()  # type: ignore[attr-defined]

    def save(self, commit: bool = True) -> Any:
        if not self.instance.code:
            self.instance.code = f"L{CodeSeries.take('lot')}"
        return super().save(commit)
