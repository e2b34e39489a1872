"""Plain data by API: for each kind of record its list, one of them, making, changing and taking away.

A record is checked and saved by the form of its page, so that both hold to the same rules and keep one history.
Temperatures are in °C, thermal sums in °C·d and lengths in cm, whatever units the nursery's pages are in.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from typing import Any, ClassVar, cast

from django import forms
from django.db.models import Model, QuerySet
from django.shortcuts import get_object_or_404
from django.urls import URLPattern, path
from django.utils.translation import gettext as _
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import OpenApiParameter
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from .. import records
from ..forms.fields import WeekdaysField
from ..forms.records import RecordEdit, RecordKind
from ..models import Nursery
from .base import AFTER, PROBLEMS, REST, Operation, faults_by_name

# --- what is written and read ----------------------------------------------------------------------------------


class RecordSerializer(serializers.ModelSerializer):
    """The fields of a form as JSON: their types and choices. What else holds of them, the form says."""

    id = serializers.IntegerField(read_only=True)


class RowSerializer(serializers.ModelSerializer):
    """A row that belongs to a record; without an id it is a new one."""

    id = serializers.IntegerField(required=False)


Rows = tuple[tuple[str, type[forms.ModelForm]], ...]  # the rows of a record: their name and their form


@cache
def serializer_of(form: type[forms.ModelForm], rows: Rows) -> type[RecordSerializer]:
    """A serializer with the fields of a form, and of its rows by their names. One class, however often asked for:
    the description of the API tells components apart by it."""
    nested = {
        name: _serializer(row, RowSerializer, {})(
            many=True, required=False, help_text="Given, these are all that there shall be."
        )
        for name, row in rows
    }
    return _serializer(form, RecordSerializer, nested)


def _serializer(form: type[forms.ModelForm], base: type, nested: dict[str, Any]) -> type[Any]:
    model = form._meta.model
    declared = {name: _several(field) for name, field in form.base_fields.items() if _is_several(field)}
    relaxed = {
        name: {"required": False}
        for name, field in form.base_fields.items()
        if not field.required and name not in declared and not model._meta.get_field(name).is_relation
    }
    meta = {
        "model": model,
        "fields": ["id", *form.base_fields, *nested],
        "extra_kwargs": relaxed,
        "validators": [],  # the form's to say, with the rest of the record before it
    }
    name = f"{form.__name__.removesuffix('Form')}{base.__name__}"
    return type(name, (base,), {**declared, **nested, "Meta": type("Meta", (), meta)})


def _is_several(field: forms.Field) -> bool:
    return isinstance(field, forms.MultipleChoiceField)


def _several(field: forms.Field) -> serializers.ListField:
    """A list of choices, which the model keeps as JSON and so says nothing about."""
    choices = list(field.choices)  # type: ignore[attr-defined]
    child = serializers.IntegerField(min_value=0, max_value=6) if isinstance(field, WeekdaysField) else None
    return serializers.ListField(child=child or serializers.ChoiceField(choices), required=field.required)


# --- from JSON to the form and back -----------------------------------------------------------------------------


def in_kept_units(nursery: Nursery) -> Nursery:
    """The same nursery, as its forms are when nothing needs converting."""
    same = copy.copy(nursery)
    same.temperature_unit, same.length_unit = Nursery.Temperature.CELSIUS, Nursery.Length.CENTIMETRES
    return same


class Sent:
    """What a page would send if its form were filled in so: `given` over what the record holds already."""

    def __init__(self, shown: RecordEdit, given: Mapping[str, Any]) -> None:
        self.data: dict[str, Any] = {}
        self.places: dict[str, list[int]] = {}  # of each kind of rows: where in `given` each row of the form stood
        self._fill("", shown.form, given)
        prefixes = {inline.prefix for inline, _formset in shown.rows}
        if unasked := set(given) - set(shown.form.fields) - prefixes:
            raise serializers.ValidationError(
                {name: [_("As things stand, this cannot be set here.")] for name in unasked}
            )
        for inline, formset in shown.rows:
            self._rows(inline.prefix, formset, given.get(inline.prefix))

    def _fill(self, prefix: str, form: forms.BaseForm, given: Mapping[str, Any]) -> None:
        for name, field in form.fields.items():
            value = given[name] if name in given else form.get_initial_for_field(field, name)
            self.data[f"{prefix}{name}"] = _plain(value)

    def _rows(
        self, prefix: str, formset: forms.BaseInlineFormSet, given: Sequence[Mapping[str, Any]] | None
    ) -> None:
        kept = {form.instance.pk: form for form in formset.initial_forms}
        named = {row["id"]: place for place, row in enumerate(given or ()) if "id" in row}
        if strange := set(named) - set(kept):
            faults = {f"{prefix}.{named[pk]}.id": [_("No such row belongs to this.")] for pk in strange}
            raise serializers.ValidationError(faults)
        places = self.places[prefix] = []
        for number, (pk, form) in enumerate(kept.items()):
            row = given[named[pk]] if given is not None and pk in named else {}
            self._fill(f"{prefix}-{number}-", form, row)
            self.data[f"{prefix}-{number}-id"] = pk
            self.data[f"{prefix}-{number}-DELETE"] = given is not None and pk not in named
            places.append(named.get(pk, 0))
        for place, row in enumerate(given or ()):
            if "id" not in row:
                self._fill(f"{prefix}-{len(places)}-", formset.empty_form, row)
                places.append(place)
        self.data |= {f"{prefix}-TOTAL_FORMS": len(places), f"{prefix}-INITIAL_FORMS": len(kept)}


def _plain(value: Any) -> Any:
    """As a form's field takes it: a row by its id, nothing as ''."""
    if isinstance(value, Model):
        return value.pk
    if isinstance(value, list | tuple | QuerySet):
        return [_plain(each) for each in value]
    return "" if value is None else value


def faults_of(edit: RecordEdit, sent: Sent) -> dict[str, Any]:
    """What the forms found, by the names of the API: 'openings.0.last'."""
    faults = faults_by_name(edit.form.errors)
    for inline, formset in edit.rows:
        for place, form in zip(sent.places[inline.prefix], formset.forms, strict=True):
            if not getattr(form, "cleaned_data", {}).get(
                "DELETE"
            ):  # which `formset.errors` leaves out and counts not
                at = f"{inline.prefix}.{place}"
                faults |= {f"{at}.{name}": said for name, said in faults_by_name(form.errors).items()}
        if general := formset.non_form_errors():
            faults[inline.prefix] = list(general)
    return faults


# --- the operations ---------------------------------------------------------------------------------------------


class RecordSchema(AutoSchema):
    """Describes an operation by its kind of record."""

    WORDS: ClassVar[dict[str, str]] = {
        "list": "All {plural}, by id.",
        "new": "Make a {name}; what is left out begins as on its page.",
        "read": "One {name}.",
        "edit": "Change a {name}: only what is given.",
        "remove": "Take a {name} away; refused where anything refers to it.",
    }

    @property
    def _operation(self) -> RecordOperation:
        return cast("RecordOperation", self.view)

    @property
    def _said(self) -> str:
        of_one = not isinstance(self.view, RecordList)
        said = {"GET": "read" if of_one else "list", "POST": "new", "PATCH": "edit", "DELETE": "remove"}
        return said[self.method]

    def get_operation_id(self) -> str:
        said, kind = self._said, self._operation.kind
        return f"{said}_{kind.plural if said == 'list' else kind.name}"

    def get_description(self) -> str:  # type: ignore[override]
        meta = self._operation.kind.model._meta
        return self.WORDS[self._said].format(name=meta.verbose_name, plural=meta.verbose_name_plural)

    def get_override_parameters(self) -> list[Any]:
        if self._said != "list":
            return []
        kind = self._operation.kind
        words = OpenApiParameter("q", str, description=f"Words to find: {kind.looked_for}.")
        return [AFTER, REST, words] if kind.looked_in else [AFTER, REST]

    def get_request_serializer(self) -> Any:
        if self.method not in ("POST", "PATCH"):
            return None
        return self._operation.serializer(new=self.method == "POST")(partial=self.method == "PATCH")

    def get_response_serializers(self) -> Any:
        said = self._said
        if said == "remove":
            return {204: None, **PROBLEMS}
        shown = self._operation.serializer()(many=said == "list")
        return {201 if said == "new" else 200: shown, **PROBLEMS}


class RecordOperation(Operation):
    kind: RecordKind = RecordKind()
    schema = RecordSchema()

    def serializer(self, *, new: bool = False) -> type[RecordSerializer]:
        form = self.kind.form_of(self.kind.blank(Nursery())) if new else self.kind.form
        return serializer_of(form, tuple((inline.prefix, inline.formset.form) for inline in self.kind.inlines))

    def records(self) -> QuerySet:
        model = self.kind.model
        several = [field.name for field in model._meta.many_to_many if field.name in self.serializer()().fields]
        prefixes = [inline.prefix for inline in self.kind.inlines]
        return model._default_manager.order_by("pk").prefetch_related(*several, *prefixes)

    def said(self, record: Model, code: int = status.HTTP_200_OK) -> Response:
        return Response(self.serializer()(record).data, status=code)

    def saved(self, record: Model, request: Request) -> Model:
        """The record as the body would have it; raises ValidationError, and then nothing is saved."""
        new = record._state.adding
        given = self.checked(self.serializer(new=new), request, of=None if new else record, partial=not new)
        nursery = in_kept_units(self.nursery)
        sent = Sent(RecordEdit(self.kind, record, nursery=nursery), given)
        edit = RecordEdit(self.kind, record, nursery=nursery, data=sent.data)
        if not edit.is_valid():
            raise serializers.ValidationError(faults_of(edit, sent))
        return edit.save(by=self.by)


class RecordList(RecordOperation):
    def get(self, request: Request) -> Response:
        words = request.query_params.get("q", "") if self.kind.looked_in else ""
        return self.listed(request, self.kind.found(self.records(), words), self.serializer(), by="after")

    def post(self, request: Request) -> Response:
        made = self.saved(self.kind.blank(self.nursery), request)
        return self.said(self.records().get(pk=made.pk), status.HTTP_201_CREATED)


class RecordDetail(RecordOperation):
    def record(self, pk: int) -> Model:
        found: Model = get_object_or_404(self.records(), pk=pk)
        return found

    def get(self, request: Request, pk: int) -> Response:
        return self.said(self.record(pk))

    def patch(self, request: Request, pk: int) -> Response:
        self.saved(self.record(pk), request)
        return self.said(self.record(pk))

    def delete(self, request: Request, pk: int) -> Response:
        records.remove(record=self.record(pk), by=self.by, owned=self.kind.owned)
        return Response(status=status.HTTP_204_NO_CONTENT)


def addresses(*kinds: RecordKind) -> Iterator[URLPattern]:
    """/nursery/<segment>/ and /nursery/<segment>/<id>/ of each kind, as its pages have them."""
    for kind in kinds:
        of_kind: dict[str, Any] = {"kind": kind, "needs": (kind.permission,)}
        at = f"nursery/{kind.segment}/"
        yield path(at, RecordList.as_view(**of_kind), name=f"api_{kind.plural}")
        yield path(f"{at}<int:pk>/", RecordDetail.as_view(**of_kind), name=f"api_edit_{kind.name}")


class OnlyRecord(RecordOperation):
    """A record of which there is one: it is read and changed."""

    def record(self) -> Model:
        raise NotImplementedError

    def get(self, request: Request) -> Response:
        return self.said(self.record())

    def patch(self, request: Request) -> Response:
        self.saved(self.record(), request)
        return self.said(self.record())
