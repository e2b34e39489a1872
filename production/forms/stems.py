"""Forms that ask how many pairs two sides will give: from stems measured, from their mean and spread, or sown."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from typing import Any

from django import forms
from django.utils.dateparse import parse_date
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _l

from ..models import Part
from ..queries.stem_pairs import sowings_of
from .recording import DayField

MOST_STEMS = 2000  # of one side: what can be reckoned while somebody waits
MOST_SOWINGS = 8
THICKEST = 100.0  # mm, far above any stem that is grafted as a seedling

_TIMES = re.compile(r"^(?P<stem>[^x×*]+)[x×*](?P<times>\d+)$", re.IGNORECASE)


def stem_list(text: str) -> list[float]:
    """'2.1 2.3 2,2 2.0x14' as stems; ValidationError names what is no diameter."""
    stems: list[float] = []
    for word in re.sub(r"\s*[x×*]\s*", "x", text.replace(";", " "), flags=re.IGNORECASE).split():
        times, said = 1, word.strip(",")
        if found := _TIMES.match(said):
            said, times = found["stem"], int(found["times"])
        stem = _number(said)
        if stem is None or not 0 < stem <= THICKEST or times < 1:
            raise forms.ValidationError(
                _("“%(word)s” is no diameter. Write numbers with spaces between: 2.1 2.3 2.0x14.") % {"word": word}
            )
        if len(stems) + times > MOST_STEMS:
            raise _too_many()
        stems += [stem] * times
    return stems


def _too_many() -> forms.ValidationError:
    return forms.ValidationError(
        _("More than %(n)d stems are too many to reckon with. Take a sample.") % {"n": MOST_STEMS}
    )


def _number(word: str) -> float | None:
    try:
        return float(word.replace(",", "."))
    except ValueError:
        return None


def sowing_list(text: str) -> list[tuple[date, int]]:
    """'2027-03-02 60', a line for each sowing, as days with their stems; ValidationError names the line."""
    sowings: list[tuple[date, int]] = []
    for line in filter(None, (line.strip() for line in text.splitlines())):
        words = line.replace(":", " ").replace(",", " ").split()
        day = _day(words[0])
        if len(words) != 2 or day is None or not words[1].isdecimal() or int(words[1]) < 1:
            raise forms.ValidationError(
                _("“%(line)s” is no sowing. Write a day and its stems on each line: 2027-03-02 60.")
                % {"line": line}
            )
        sowings.append((day, int(words[1])))
    if len(sowings) > MOST_SOWINGS:
        raise forms.ValidationError(_("More than %(n)d sowings are too many.") % {"n": MOST_SOWINGS})
    if sum(stems for _day, stems in sowings) > MOST_STEMS:
        raise _too_many()
    return sowings


def _day(word: str) -> date | None:
    try:
        return parse_date(word)
    except ValueError:
        return None


def sowing_words(sowings: list[tuple[date, int]]) -> str:
    return "\n".join(f"{day.isoformat()} {stems}" for day, stems in sowings)


def _list(**options: Any) -> forms.CharField:
    return forms.CharField(widget=forms.Textarea(attrs={"rows": 2, "inputmode": "text"}), **options)


def _decimal(**options: Any) -> forms.FloatField:
    options.setdefault("min_value", 0)
    return forms.FloatField(widget=forms.NumberInput(attrs={"inputmode": "decimal", "step": "any"}), **options)


def _stems(**options: Any) -> forms.IntegerField:
    return forms.IntegerField(
        min_value=1,
        max_value=MOST_STEMS,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
        **options,
    )


class ToleranceForm(forms.Form):
    """By how much a rootstock may be thicker and thinner than its scion: the grower's own measure."""

    grid = "pair"
    thicker = _decimal(label=_l("Rootstock thicker by at most"), max_value=THICKEST, initial=0.3)
    thinner = _decimal(label=_l("Rootstock thinner by at most"), max_value=THICKEST, initial=0.3)


class MeasuredForm(ToleranceForm):
    """Stems of both sides as they were measured, and how many there are of which these are a sample."""

    rootstocks = _list(
        label=_l("Diameters of rootstocks, mm"), help_text=_l("With spaces between. 2.0x14 is fourteen of 2.0.")
    )
    scions = _list(label=_l("Diameters of scions, mm"))
    rootstock_stems = _stems(label=_l("Rootstocks in all"), required=False, help_text=_l("If this is a sample."))
    scion_stems = _stems(label=_l("Scions in all"), required=False)
    field_order = ["rootstocks", "scions", "rootstock_stems", "scion_stems", "thicker", "thinner"]

    def clean_rootstocks(self) -> list[float]:
        return stem_list(self.cleaned_data["rootstocks"])

    def clean_scions(self) -> list[float]:
        return stem_list(self.cleaned_data["scions"])

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        both = [data.get("rootstock_stems"), data.get("scion_stems")]
        if any(both) and not all(both):
            missing = "scion_stems" if both[0] else "rootstock_stems"
            self.add_error(missing, _("Say of both sides how many there are, or of neither."))
        if all(both):
            for name in ("rootstocks", "scions"):
                if len(data.get(name, (1, 1))) < 2:
                    self.add_error(name, _("One stem says nothing of the others. Measure more of them."))
        return data


class SpreadForm(ToleranceForm):
    """How many stems each side has, their mean diameter and how far they spread about it."""

    rootstock_stems = _stems(label=_l("Rootstocks"))
    scion_stems = _stems(label=_l("Scions"))
    rootstock_mean = _decimal(label=_l("Mean diameter of rootstocks, mm"), max_value=THICKEST)
    scion_mean = _decimal(label=_l("Mean diameter of scions, mm"), max_value=THICKEST)
    rootstock_spread = _decimal(
        label=_l("Spread of rootstocks, mm"),
        max_value=THICKEST,
        help_text=_l("Standard deviation: two in three lie no further than this from the mean."),
    )
    scion_spread = _decimal(label=_l("Spread of scions, mm"), max_value=THICKEST)
    field_order = [
        "rootstock_stems", "scion_stems", "rootstock_mean", "scion_mean", "rootstock_spread", "scion_spread",
    ]  # fmt: skip


class SownForm(forms.Form):
    """When the stems of each side were or will be sown, and how sure that makes their size on the grafting day."""

    grid = "pair"
    SIDES = [("rootstock", _l("the rootstock")), ("scion", _l("the scion"))]
    rootstock_sowings = _list(
        label=_l("Sowings of the rootstock"), help_text=_l("A day and its usable stems on each line.")
    )
    scion_sowings = _list(label=_l("Sowings of the scion"))
    graft_day = DayField(label=_l("Grafted on"), required=True)
    plants_differ = _decimal(
        label=_l("Single plants differ by, days"),
        max_value=30,
        initial=1.5,
        help_text=_l("Standard deviation within one sowing."),
    )
    sides_differ = _decimal(
        label=_l("A whole side may be off by, days"),
        max_value=30,
        initial=1.5,
        help_text=_l("Standard deviation of what the clock is not sure of: weather, seed."),
    )
    tolerance = _decimal(
        label=_l("A pair may differ by, % of the graftable window"),
        max_value=100,
        initial=40,
        help_text=_l("0 is the first fit day of a stem, 100 the last."),
    )
    divide = forms.ChoiceField(label=_l("What if there were two sowings of"), choices=SIDES, initial="rootstock")

    def clean_rootstock_sowings(self) -> list[tuple[date, int]]:
        return sowing_list(self.cleaned_data["rootstock_sowings"])

    def clean_scion_sowings(self) -> list[tuple[date, int]]:
        return sowing_list(self.cleaned_data["scion_sowings"])


FORMS: dict[str, type[forms.Form]] = {"measured": MeasuredForm, "spread": SpreadForm, "sown": SownForm}


def form_of(by: str, part: Part, data: Mapping[str, str], *, asked: bool = False) -> forms.Form:
    """The form of one way of asking; what is not given is as the batch has it, or as is usual.

    It asks once anything is given, if the values as they are will do, or in any case where that is `asked`.
    """
    form, usual = FORMS[by], usual_values(by, part)
    given = {name: data[name] for name in form.base_fields if name in data}
    bound = form({**usual, **given})
    return bound if given or asked or bound.is_valid() else form(initial=usual)


def usual_values(by: str, part: Part) -> dict[str, object]:
    values = {name: field.initial for name, field in FORMS[by].base_fields.items() if field.initial is not None}
    if by == "sown":
        values |= {f"{side}_sowings": sowing_words(sowings) for side, sowings in sowings_of(part).items()}
        values |= {"graft_day": part.graft_day.isoformat()} if part.graft_day else {}
    return values
