"""Closed days and protocols by API. Places, hands, skills and seed lots are plain data: orders/api/records.py."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db.models import Model, QuerySet
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from orders.access import EDIT_NURSERY
from orders.api.base import PROBLEMS, Operation, faults_by_name
from orders.models import Crop, Method, PlaceKind

from ..forms.places import HolidayForm
from ..models import ClosedDay, Protocol, ProtocolStage, StageWork
from ..services import closing, protocols
from ..services.protocols import PROTOCOL_FIELDS, STAGE_FIELDS, WORK_FIELDS, Draft, StageDraft


class NurseryOperation(Operation):
    needs = (EDIT_NURSERY,)


# --- closed days ------------------------------------------------------------------------------------------------


class ClosedDaySerializer(serializers.ModelSerializer):
    class Meta:
        model = ClosedDay
        fields = ["id", "day", "name"]


class ClosedDays(NurseryOperation):
    @extend_schema(operation_id="list_closed_days", responses={200: ClosedDaySerializer(many=True), **PROBLEMS})
    def get(self, request: Request) -> Response:
        """Days on which the nursery is closed although its weekday is open."""
        return Response(ClosedDaySerializer(ClosedDay.objects.all(), many=True).data)

    @extend_schema(
        operation_id="new_closed_day",
        request=ClosedDaySerializer,
        responses={201: ClosedDaySerializer, **PROBLEMS},
    )
    def post(self, request: Request) -> Response:
        """Close the nursery on a day."""
        data = self.checked(ClosedDaySerializer, request)
        closing.close(days=[closing.Holiday(data["day"], data.get("name", ""))], by=self.by)
        made = ClosedDay.objects.get(day=data["day"])
        return Response(ClosedDaySerializer(made).data, status=status.HTTP_201_CREATED)


class ReopenDay(NurseryOperation):
    @extend_schema(operation_id="reopen_day", responses={204: None, **PROBLEMS})
    def delete(self, request: Request, pk: int) -> Response:
        """The nursery is open on that day after all."""
        closing.reopen(day=get_object_or_404(ClosedDay, pk=pk), by=self.by)
        return Response(status=status.HTTP_204_NO_CONTENT)


class HolidaySerializer(serializers.Serializer):
    day = serializers.DateField()
    name = serializers.CharField(max_length=80, allow_blank=True, default="")
    closed = serializers.BooleanField(read_only=True)


class HolidaysSerializer(serializers.Serializer):
    days = HolidaySerializer(many=True, allow_empty=False)


class PublicHolidays(NurseryOperation):
    @extend_schema(
        operation_id="public_holidays",
        parameters=[
            OpenApiParameter("country", str, description="Two letters; the nursery's own unless given."),
            OpenApiParameter("region", str, description="A region of that country; the whole of it unless given."),
            OpenApiParameter("year", int, description="This year unless given."),
        ],
        responses={200: HolidaySerializer(many=True), **PROBLEMS},
    )
    def get(self, request: Request) -> Response:
        """The public holidays of a country in a year, and which of them are closed days already."""
        begins = {"country": self.nursery.country, "year": str(self.today.year)}
        form = HolidayForm(begins | request.query_params.dict(), this_year=self.today.year)
        if not form.is_valid():
            raise serializers.ValidationError(faults_by_name(form.errors))
        closed = set(ClosedDay.objects.values_list("day", flat=True))
        found = [
            {"day": holiday.day, "name": holiday.name, "closed": holiday.day in closed}
            for holiday in closing.public_holidays(**form.cleaned_data)
        ]
        return Response(HolidaySerializer(found, many=True).data)

    @extend_schema(
        operation_id="close_on_holidays",
        request=HolidaysSerializer,
        responses={201: ClosedDaySerializer(many=True), **PROBLEMS},
    )
    def post(self, request: Request) -> Response:
        """Close the nursery on several days; those that are closed already stay as they are."""
        days = [closing.Holiday(**each) for each in self.checked(HolidaysSerializer, request)["days"]]
        made = closing.close(days=days, by=self.by)
        return Response(ClosedDaySerializer(made, many=True).data, status=status.HTTP_201_CREATED)


# --- protocols --------------------------------------------------------------------------------------------------


class StageWorkSerializer(serializers.ModelSerializer):
    class Meta:
        model = StageWork
        fields = WORK_FIELDS


class StageSerializer(serializers.ModelSerializer):
    """`key` names the stage where it stands now; changing a protocol gives it keys anew."""

    key = serializers.CharField(read_only=True)
    place_kinds = serializers.ListField(child=serializers.ChoiceField(PlaceKind.choices), allow_empty=False)
    temperature = serializers.FloatField(
        min_value=-20, max_value=50, allow_null=True, default=None, help_text="To keep, in °C."
    )
    works = StageWorkSerializer(many=True, default=list)

    class Meta:
        model = ProtocolStage
        fields = ("key", *STAGE_FIELDS, "works")


class ProtocolSerializer(serializers.ModelSerializer):
    """A protocol as it is read, changed and sent back: its stages in their order within each track."""

    stages = StageSerializer(many=True)

    class Meta:
        model = Protocol
        fields = ["id", "crop", "method", "version", "current", *PROTOCOL_FIELDS, "stages"]
        read_only_fields = ["crop", "method", "version", "current"]


class CopySerializer(serializers.Serializer):
    crop = serializers.PrimaryKeyRelatedField(queryset=Crop.objects.all())
    method = serializers.ChoiceField(Method.choices)


class ProtocolOperation(NurseryOperation):
    def protocols(self) -> QuerySet[Protocol]:
        return Protocol.objects.prefetch_related("stages__works").order_by("pk")

    def said(self, protocol: Protocol, code: int = status.HTTP_200_OK) -> Response:
        return Response(ProtocolSerializer(self.protocols().get(pk=protocol.pk)).data, status=code)


class Protocols(ProtocolOperation):
    @extend_schema(
        operation_id="list_protocols",
        parameters=[OpenApiParameter("all", bool, description="Earlier versions too.")],
        responses={200: ProtocolSerializer(many=True), **PROBLEMS},
    )
    def get(self, request: Request) -> Response:
        """The protocols that the next promise is made with."""
        found = self.protocols()
        if request.query_params.get("all") not in ("1", "true"):
            found = found.filter(current=True)
        return Response(ProtocolSerializer(found, many=True).data)


class ProtocolDetail(ProtocolOperation):
    @extend_schema(operation_id="read_protocol", responses={200: ProtocolSerializer, **PROBLEMS})
    def get(self, request: Request, pk: int) -> Response:
        """One version of a protocol, with its stages and their work."""
        return self.said(get_object_or_404(Protocol, pk=pk))

    @extend_schema(
        operation_id="edit_protocol", request=ProtocolSerializer, responses={200: ProtocolSerializer, **PROBLEMS}
    )
    def patch(self, request: Request, pk: int) -> Response:
        """Change a protocol: only what is given; `stages`, if given, are all that there shall be.

        If anything was planned with this version, it stays and the answer is a new version.
        """
        protocol = get_object_or_404(Protocol, pk=pk)
        given = self.checked(ProtocolSerializer, request, of=protocol, partial=True)
        revised = protocols.revise(protocol=protocol, draft=_draft(protocol, given), by=self.by)
        return self.said(revised)


def _draft(protocol: Protocol, given: dict[str, Any]) -> Draft:
    """The protocol as it is, with what is given in place of what it has."""
    present = protocols.draft_of(protocol)
    stages = given.pop("stages", None)
    return Draft(
        {**present.values, **given},
        present.stages if stages is None else tuple(_stage(stage) for stage in stages),
    )


def _stage(given: dict[str, Any]) -> StageDraft:
    works = [_whole(StageWork, work, WORK_FIELDS) for work in given.pop("works")]
    return StageDraft(_whole(ProtocolStage, given, STAGE_FIELDS), tuple(works))


def _whole(model: type[Model], given: dict[str, Any], names: Sequence[str]) -> dict[str, Any]:
    """What was given, and what a new row begins with for the rest."""
    begins = {field.name: field.get_default() for field in model._meta.concrete_fields if field.name in names}
    return begins | given


class CopyProtocol(ProtocolOperation):
    @extend_schema(
        operation_id="copy_protocol", request=CopySerializer, responses={201: ProtocolSerializer, **PROBLEMS}
    )
    def post(self, request: Request, pk: int) -> Response:
        """The same protocol for another crop or method, to be changed from there."""
        protocol = get_object_or_404(Protocol, pk=pk)
        made = protocols.copy(protocol=protocol, by=self.by, **self.checked(CopySerializer, request))
        return self.said(made, status.HTTP_201_CREATED)
