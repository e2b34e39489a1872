"""Batches, places and seed by API: what stands where, what it was grown from, and plants that stand already."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import OpenApiParameter, extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orders import queries as orders
from orders.api.base import PROBLEMS, Operation
from orders.models import Container, Method, OrderLine, Variety

from ..line_costs import ToBuy, seed_for_part
from ..models import Part, Place, ProtocolStage, SeedLot, Sowing, Stay
from ..queries import trouble
from ..queries.batch import PartView, batches, list_of_batches, part_view
from ..queries.place import place_view
from ..queries.shares import lines_expect, trays_enough
from ..queries.trace import trace_line, trace_lot
from ..services import growing, handing_over
from ..services.standing import Seedlings, Standing, enter_standing
from .work import CountedSerializer, ToDoSerializer

# --- batches ----------------------------------------------------------------------------------------------------


class BatchSerializer(serializers.Serializer):
    code = serializers.CharField()
    what = serializers.CharField()
    method = serializers.CharField()


class StandSerializer(serializers.ModelSerializer):
    place = serializers.CharField(source="place.name")
    container = serializers.CharField(source="container.name")
    sowing = serializers.CharField(allow_null=True, help_text="Before the graft: the sowing that stands here.")

    class Meta:
        model = Stay
        fields = [
            "id", "subject", "sowing", "stage_kind", "place", "container", "containers", "first", "nights", "load",
            "entered",
        ]  # fmt: skip


class PartStateSerializer(serializers.ModelSerializer):
    allocated = serializers.SerializerMethodField()

    class Meta:
        model = Part
        fields = [
            "id", "number", "state", "plants", "grafts", "graft_day", "ready_day", "pickup", "expected",
            "expected_low", "expected_high", "chance", "late_by", "troubles", "allocated",
        ]  # fmt: skip

    def get_allocated(self, part: Part) -> dict[str, int]:
        return {str(each.line): each.quantity for each in part.allocations.all()}


class SeedSerializer(serializers.Serializer):
    """A sowing; the first of a side with the seed to buy for all of it: null if unknown or the customer's."""

    sowing = serializers.CharField()
    variety = serializers.CharField()
    seeds = serializers.IntegerField()
    packs = serializers.IntegerField(allow_null=True)
    pack = serializers.IntegerField(allow_null=True, help_text="Seeds in one.")
    cost = serializers.DecimalField(
        max_digits=12, decimal_places=2, allow_null=True, help_text="Only for those who may see costs."
    )


class EnoughSerializer(serializers.Serializer):
    """The chance that what is planned to be sown is enough: as planned, and with every cell of its trays sown."""

    as_planned = serializers.FloatField()
    filled = serializers.FloatField()


class PartViewSerializer(serializers.Serializer):
    part = PartStateSerializer()
    enough = serializers.SerializerMethodField()
    seed = serializers.SerializerMethodField()
    stands = StandSerializer(many=True)
    to_come = StandSerializer(many=True)
    works = ToDoSerializer(many=True)
    counts = CountedSerializer(many=True)

    @extend_schema_field(EnoughSerializer(allow_null=True))
    def get_enough(self, view: PartView) -> Any:
        found = self.context["enough"].get(view.part.pk)
        return EnoughSerializer(found).data if found else None

    @extend_schema_field(SeedSerializer(many=True))
    def get_seed(self, view: PartView) -> Any:
        rows = seed_for_part(view.part, costs=self.context["costs"])
        return SeedSerializer([_seed(*row) for row in rows], many=True).data


def _seed(sowing: Sowing, to_buy: ToBuy | None) -> dict[str, object]:
    known = asdict(to_buy) if to_buy else {"packs": None, "pack": None, "cost": None}
    return {**known, "sowing": sowing.code, "variety": sowing.variety.name, "seeds": sowing.seeds}


class LineOutlookSerializer(serializers.Serializer):
    """What a line is to expect of the whole batch; `short` is the chance that it gets fewer than its quantity."""

    line = serializers.CharField()
    quantity = serializers.IntegerField()
    expected = serializers.FloatField()
    low = serializers.IntegerField()
    high = serializers.IntegerField()
    short = serializers.FloatField()


class BatchViewSerializer(BatchSerializer):
    parts = PartViewSerializer(many=True)
    lines = LineOutlookSerializer(many=True)


class Batches(Operation):
    needs = ("production.see_work",)

    @extend_schema(
        operation_id="batches",
        parameters=[OpenApiParameter("only", str, enum=list(trouble.ONLY))],
        responses={200: BatchSerializer(many=True), **PROBLEMS},
    )
    def get(self, request: Request) -> Response:
        """Batches of which something grows or is planned; or that run late, or whose orders may run short."""
        troubled = trouble.ONLY.get(request.query_params.get("only", ""))
        found = list_of_batches(only=troubled(self.nursery) if troubled else None).prefetch_related(None)
        return Response(BatchSerializer(found, many=True).data)


class BatchDetail(Operation):
    needs = ("production.see_work",)

    @extend_schema(operation_id="batch", responses={200: BatchViewSerializer, **PROBLEMS})
    def get(self, request: Request, code: str) -> Response:
        """One batch: its parts with where they stand, what is to do and what was counted."""
        batch = get_object_or_404(batches(), code=code)
        parts = [part_view(part, today=self.today) for part in batch.parts.all()]
        labels = {each.line_id: str(each.line) for part in batch.parts.all() for each in part.allocations.all()}
        expected = lines_expect(batch, self.nursery)
        lines = [{**asdict(outlook), "line": labels[line]} for line, outlook in expected.items()]
        shown = {"code": batch.code, "what": batch.what, "method": batch.method, "parts": parts, "lines": lines}
        context = {
            "costs": request.user.has_perm("orders.see_costs"),
            "enough": trays_enough(batch, self.nursery),
        }
        return Response(BatchViewSerializer(shown, context=context).data)


class RegroupSerializer(serializers.Serializer):
    containers = serializers.IntegerField(min_value=1)
    place = serializers.SlugRelatedField("name", queryset=Place.objects.all(), allow_null=True, default=None)


class StandRegroup(Operation):
    needs = ("production.record_work",)

    @extend_schema(
        operation_id="stand_regroup",
        request=RegroupSerializer,
        responses={200: StandSerializer(many=True), **PROBLEMS},
    )
    def post(self, request: Request, pk: int) -> Response:
        """From today the stand takes so many trays, here or in another place."""
        stay = get_object_or_404(Stay.objects.select_related("part"), pk=pk)
        data = self.checked(RegroupSerializer, request)
        growing.regroup(part=stay.part, stand=stay.pk, by=self.by, today=self.today, **data)
        return Response(StandSerializer(part_view(stay.part, today=self.today).stands, many=True).data)


class GoneSerializer(serializers.Serializer):
    reason = serializers.CharField(max_length=200)


class PartClear(Operation):
    needs = ("production.record_work",)

    @extend_schema(
        operation_id="part_clear", request=GoneSerializer, responses={200: PartStateSerializer, **PROBLEMS}
    )
    def post(self, request: Request, pk: int) -> Response:
        """What is left of a part is gone; its room is free."""
        part = get_object_or_404(Part.objects.select_related("batch"), pk=pk)
        reason = self.checked(GoneSerializer, request)["reason"]
        gone = handing_over.clear_out(part=part, by=self.by, today=self.today, reason=reason)
        return Response(PartStateSerializer(gone).data)


# --- places -----------------------------------------------------------------------------------------------------


class ShownStandSerializer(serializers.Serializer):
    label = serializers.CharField()  # type: ignore[assignment]
    overstays = serializers.BooleanField()
    stay = StandSerializer()


class NightSerializer(serializers.Serializer):
    day = serializers.DateField()
    load = serializers.FloatField()
    capacity = serializers.FloatField()
    stands = ShownStandSerializer(many=True)


class PlaceNightsSerializer(serializers.Serializer):
    place = serializers.CharField()
    nights = NightSerializer(many=True)


class PlacesTonight(Operation):
    needs = ("production.see_work",)

    @extend_schema(operation_id="places_tonight", responses={200: PlaceNightsSerializer(many=True), **PROBLEMS})
    def get(self, request: Request) -> Response:
        """Every place, and what stands there tonight."""
        views = [place_view(place, today=self.today, nights=1) for place in Place.objects.filter(active=True)]
        return Response(PlaceNightsSerializer(views, many=True).data)


class PlaceNights(Operation):
    needs = ("production.see_work",)

    @extend_schema(operation_id="place", responses={200: PlaceNightsSerializer, **PROBLEMS})
    def get(self, request: Request, pk: int) -> Response:
        """What stands in a place tonight and on each night to come, against its capacity."""
        place = get_object_or_404(Place, pk=pk)
        return Response(PlaceNightsSerializer(place_view(place, today=self.today)).data)


# --- seed -------------------------------------------------------------------------------------------------------


class ForwardSerializer(serializers.Serializer):
    sowing = serializers.CharField()
    seeds = serializers.IntegerField()
    line = serializers.CharField(allow_null=True)
    customer = serializers.CharField(source="line.order.who", default=None)
    meant = serializers.IntegerField()
    handed_over = serializers.IntegerField()


class BackSerializer(serializers.Serializer):
    lot = serializers.CharField(allow_null=True)
    variety = serializers.CharField(source="sowing.variety.name")
    sowing = serializers.CharField()
    seeds = serializers.IntegerField()
    sown_on = serializers.DateField(allow_null=True)


class LotTrace(Operation):
    needs = ("production.see_work",)

    @extend_schema(operation_id="lot_trace", responses={200: ForwardSerializer(many=True), **PROBLEMS})
    def get(self, request: Request, pk: int) -> Response:
        """Every customer that plants of this seed lot were promised or handed to."""
        return Response(ForwardSerializer(trace_lot(get_object_or_404(SeedLot, pk=pk)), many=True).data)


class LineTrace(Operation):
    needs = ("production.see_work",)

    @extend_schema(operation_id="line_trace", responses={200: BackSerializer(many=True), **PROBLEMS})
    def get(self, request: Request, pk: int) -> Response:
        """The seed lots that the plants of a line were or are grown from."""
        return Response(BackSerializer(trace_line(get_object_or_404(orders.lines(), pk=pk)), many=True).data)


# --- plants that stand already ----------------------------------------------------------------------------------


class SeedlingsSerializer(serializers.Serializer):
    plants = serializers.IntegerField(min_value=1)
    sown_on = serializers.DateField()
    lot = serializers.SlugRelatedField("code", queryset=SeedLot.objects.all(), allow_null=True, default=None)


class StandingSerializer(serializers.Serializer):
    """Grafted or plain plants name their `stage`; seedlings before their graft name both sides instead."""

    scion = serializers.PrimaryKeyRelatedField(queryset=Variety.objects.all())
    rootstock = serializers.PrimaryKeyRelatedField(queryset=Variety.objects.all(), allow_null=True, default=None)
    method = serializers.ChoiceField(Method.choices, default=Method.SPLICE)
    plants = serializers.IntegerField(min_value=1)
    container = serializers.SlugRelatedField("name", queryset=Container.objects.filter(active=True))
    place = serializers.SlugRelatedField("name", queryset=Place.objects.filter(active=True))
    entered_on = serializers.DateField(help_text="The day on which they came to this place and stage.")
    pickup = serializers.DateField()
    stage = serializers.PrimaryKeyRelatedField(
        queryset=ProtocolStage.objects.filter(protocol__current=True), allow_null=True, default=None
    )
    scion_side = SeedlingsSerializer(allow_null=True, default=None)
    rootstock_side = SeedlingsSerializer(allow_null=True, default=None)
    lots = serializers.SlugRelatedField("code", queryset=SeedLot.objects.all(), many=True, required=False)
    line = serializers.PrimaryKeyRelatedField(queryset=OrderLine.objects.all(), allow_null=True, default=None)
    own_crop = serializers.BooleanField(default=False)
    key = serializers.UUIDField(allow_null=True, default=None)

    def validate(self, data: dict[str, Any]) -> dict[str, Any]:
        sides = [side for side in ("scion_side", "rootstock_side") if data[side] is None]
        if data["stage"] is None and data["rootstock"] is None:
            raise serializers.ValidationError({"stage": "Plants that are not grafted stand at a stage. Name it."})
        if data["stage"] is None and sides:
            raise serializers.ValidationError(
                dict.fromkeys(sides, "Seedlings need this: how many, and when they were sown.")
            )
        return data


class StandingPlants(Operation):
    needs = ("production.replan",)

    @extend_schema(
        operation_id="standing", request=StandingSerializer, responses={201: PartStateSerializer, **PROBLEMS}
    )
    def post(self, request: Request) -> Response:
        """Enter plants that stand already, for a line, as our own crop or for nobody yet; the rest is planned."""
        data = self.checked(StandingSerializer, request)
        asked = {name: data.pop(name) for name in ("line", "own_crop", "key")}
        for side in ("scion_side", "rootstock_side"):
            data[side] = Seedlings(**data[side]) if data[side] else None
        if data["rootstock"] is None:
            data["method"] = Method.PLAIN
        data["lots"] = tuple(data.get("lots", ()))
        part = enter_standing(what=Standing(**data), by=self.by, today=self.today, **asked)
        return Response(PartStateSerializer(part).data, status=201)
