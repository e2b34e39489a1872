"""The desk by API: what could be promised, taking an order, confirming it, moving a line."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.db import transaction
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orders import queries, states
from orders import services as orders
from orders.api.base import BEFORE, PROBLEMS, REST, Operation, one_of
from orders.api.orders import OrderSerializer
from orders.models import Container, Crop, Customer, Method, Order, OrderLine, PlaceKind, Variety

from .. import at_hand, bridge
from ..line_costs import LineCost, cost_of_plan
from ..services import answering, joining, moving, promise, ways
from .plans import (
    AnswerSerializer,
    ConflictSerializer,
    LineCostSerializer,
    PartSerializer,
    PlanSerializer,
    WayOutSerializer,
)


class WantedLineSerializer(serializers.Serializer):
    """A line as it is asked for. Varieties by name; an unknown one is made when its crop is named too."""

    kind = serializers.ChoiceField(OrderLine.Kind.choices, default="grafted")
    quantity = serializers.IntegerField(min_value=1)
    scion = serializers.CharField(max_length=80, required=False, allow_blank=True, default="")
    scion_crop = serializers.SlugRelatedField("name", queryset=Crop.objects.all(), required=False, default=None)
    rootstock = serializers.CharField(max_length=80, required=False, allow_blank=True, default="")
    rootstock_crop = serializers.SlugRelatedField(
        "name", queryset=Crop.objects.all(), required=False, default=None
    )
    method = serializers.ChoiceField(Method.choices, default="splice")
    leaders = serializers.ChoiceField(OrderLine.Leaders.choices, default="one")
    container = serializers.SlugRelatedField("name", queryset=Container.objects.filter(active=True))
    pickup = serializers.DateField()
    earlier = serializers.IntegerField(min_value=0, max_value=365, default=0)
    later = serializers.IntegerField(min_value=0, max_value=365, default=0)
    collection_days = serializers.IntegerField(min_value=1, max_value=30, default=2)
    scion_seed = serializers.ChoiceField(OrderLine.Seed.choices, default="ours")
    scion_seed_expected = serializers.DateField(required=False, allow_null=True, default=None)
    rootstock_seed = serializers.ChoiceField(OrderLine.Seed.choices, default="ours")
    rootstock_seed_expected = serializers.DateField(required=False, allow_null=True, default=None)
    room_place_kind = serializers.ChoiceField(PlaceKind.choices, required=False, allow_blank=True, default="")
    room_nights = serializers.IntegerField(
        min_value=1, max_value=400, required=False, allow_null=True, default=None
    )
    unit_price = serializers.DecimalField(max_digits=10, decimal_places=4, min_value=0, default=Decimal(0))
    notes = serializers.CharField(max_length=500, required=False, allow_blank=True, default="")

    def validate(self, data: dict[str, Any]) -> dict[str, Any]:
        if data["kind"] != OrderLine.Kind.ROOM:
            data["scion"] = self._variety(data, "scion")
        else:
            data["scion"] = None
        data["rootstock"] = self._variety(data, "rootstock") if data["kind"] == OrderLine.Kind.GRAFTED else None
        return data

    def _variety(self, data: dict[str, Any], side: str) -> Variety:
        found = orders.variety_named(data[side], side=side, crop=data[f"{side}_crop"])
        if found is None:
            meant = queries.variety_meant(data[side], side=side)
            raise serializers.ValidationError(
                {side: f"“{data[side]}” is not known yet. {meant}Name its crop in {side}_crop to make it."}
            )
        return found


def line_of(data: dict[str, Any]) -> OrderLine:
    """An unsaved line of validated values."""
    kept = {key: value for key, value in data.items() if key not in ("pickup", "scion_crop", "rootstock_crop")}
    if data["kind"] != OrderLine.Kind.GRAFTED:
        kept["method"] = Method.PLAIN
    return OrderLine(pickup_asked=data["pickup"], **kept)


class WantedLinesSerializer(serializers.Serializer):
    lines = WantedLineSerializer(many=True, allow_empty=False)


class WantedOrderSerializer(WantedLinesSerializer):
    customer = serializers.CharField(max_length=120, required=False, allow_blank=True, default="")
    email = serializers.EmailField(required=False, allow_blank=True, default="")
    phone = serializers.CharField(max_length=40, required=False, allow_blank=True, default="")
    own_crop = serializers.BooleanField(default=False)
    notes = serializers.CharField(required=False, allow_blank=True, default="")
    submit_key = serializers.UUIDField(
        required=False, default=None, help_text="Made by the client: the same key twice is the same order."
    )


def answered(
    said: answering.LineAnswer, out: ways.Out | None = None, cost: LineCost | None = None
) -> dict[str, Any]:
    answer, out = said.answer, out or ways.Out()
    refusals = list(said.faults)
    if answer and answer.impossible:
        refusals.append(answering.refusal_of(said))
    return {
        "fits": said.fits,
        "plan": PlanSerializer(said.plan).data if said.plan else None,
        "conflicts": ConflictSerializer(answer.conflicts if answer else (), many=True).data,
        "earlier": answer.earlier.pickup if answer and answer.earlier else None,
        "later": answer.later.pickup if answer and answer.later else None,
        "proved": answer.proved if answer else True,
        "obstacles": [
            {**ConflictSerializer(obstacle.conflict).data, "more": obstacle.more} for obstacle in out.why.obstacles
        ],
        "ways_out": WayOutSerializer(out.ways, many=True).data,
        "cost": LineCostSerializer(cost).data if cost else None,
        "faults": [{"field": r.field, "reason": r.reason, "mend": r.mend} for r in refusals],
    }


class WhatIf(Operation):
    needs = ("orders.take_orders",)

    @extend_schema(
        operation_id="desk_answer",
        request=WantedLinesSerializer,
        responses={200: AnswerSerializer(many=True), **PROBLEMS},
    )
    def post(self, request: Request) -> Response:
        """What could be promised for these lines, judged together in their order. Stores nothing."""
        lines = [line_of(data) for data in self.checked(WantedLinesSerializer, request)["lines"]]
        season = at_hand.season_of(self.today, nursery=self.nursery)
        answers = answering.what_if(lines, today=self.today, nursery=self.nursery, season=season)
        outs = answering.ways_out(answers, season=season, nursery=self.nursery)
        costs = [self._cost(said) for said in answers]
        return Response([answered(*each) for each in zip(answers, outs, costs, strict=True)])

    def _cost(self, said: answering.LineAnswer) -> LineCost | None:
        if said.plan is None or not self.request.user.has_perm("orders.see_costs"):
            return None
        return cost_of_plan(said.line, said.plan, nursery=self.nursery)


class Orders(Operation):
    """The list of orders, and taking one."""

    needs = ("orders.see_orders",)
    needs_to_write = ("orders.take_orders",)

    @extend_schema(
        operation_id="orders",
        parameters=[
            OpenApiParameter("q", str, description="Words that code, customer or a variety hold."),
            OpenApiParameter("state", str, enum=list(states.STATES), description="A line is in this state."),
            BEFORE,
            REST,
        ],
        responses={200: OrderSerializer(many=True), **PROBLEMS},
    )
    def get(self, request: Request) -> Response:
        """Orders, the newest first; all, or those with the words and with a line in that state."""
        state = one_of(request, "state", states.STATES)
        found = queries.find_orders(words=request.query_params.get("q", ""), state=state)
        return self.listed(request, found, OrderSerializer, by="before")

    @extend_schema(
        operation_id="desk", request=WantedOrderSerializer, responses={201: OrderSerializer, **PROBLEMS}
    )
    def post(self, request: Request) -> Response:
        """Keep an order as asked. It takes no room until it is confirmed."""
        data = self.checked(WantedOrderSerializer, request)
        with transaction.atomic():
            order = orders.take_order(
                customer=self._customer(data),
                own_crop=data["own_crop"],
                notes=data["notes"],
                lines=orders.with_new_varieties([line_of(line) for line in data["lines"]], by=self.by),
                by=self.by,
                today=self.today,
                submit_key=data["submit_key"],
            )
        return Response(OrderSerializer(order).data, status=201)

    def _customer(self, data: dict[str, Any]) -> Customer | None:
        if data["own_crop"]:
            return None
        return orders.find_or_make_customer(
            name=data["customer"], email=data["email"], phone=data["phone"], by=self.by
        )


class ConfirmSerializer(serializers.Serializer):
    over_conflict = serializers.CharField(
        max_length=200,
        allow_blank=True,
        default="",
        help_text="The grower's reason to promise over a conflict.",
    )


class JoiningSerializer(serializers.Serializer):
    """A batch of which nothing is sown, named by a way out."""

    batch = serializers.CharField(max_length=20)
    revision = serializers.IntegerField(
        allow_null=True, default=None, min_value=0, help_text="The batch as it was seen; null: as it stands now."
    )


class WaySerializer(serializers.Serializer):
    """By which way out room is made where a line does not fit on its own."""

    moving = serializers.BooleanField(
        default=False,
        help_text="Let promised lines of which nothing is sown move inside their latitude to make room.",
    )
    joining = JoiningSerializer(
        many=True,
        default=list,
        help_text="Batches: each line that does not fit on its own goes into the first of them that takes it.",
    )


class ConfirmOrderSerializer(ConfirmSerializer, WaySerializer):
    pass


def with_way(data: dict[str, Any]) -> dict[str, Any]:
    """The validated values as the services take them. Refused (joining) if there is no such batch."""
    return data | {"joining": [joining.named(each["batch"], each["revision"]) for each in data["joining"]]}


class Confirm(Operation):
    needs = ("orders.confirm_orders",)

    @extend_schema(
        operation_id="order_confirm", request=ConfirmOrderSerializer, responses={200: OrderSerializer, **PROBLEMS}
    )
    def post(self, request: Request, code: str) -> Response:
        """Take the room and confirm all asked lines of the order, or none."""
        order = get_object_or_404(Order, code=code)
        data = with_way(self.checked(ConfirmOrderSerializer, request))
        promise.accept(order=order, by=self.by, today=self.today, **data)
        return Response(OrderSerializer(queries.order_by_code(code)).data)


class LinePlan(Operation):
    needs = ("orders.see_orders",)

    @extend_schema(operation_id="line_plan", responses={200: PartSerializer(many=True), **PROBLEMS})
    def get(self, request: Request, pk: int) -> Response:
        """The parts of a promised line as they are planned and as they stand."""
        line = get_object_or_404(OrderLine, pk=pk)
        plans = [bridge.part_plan_of(part) for part in bridge.parts_of(line)]
        return Response(PartSerializer(plans, many=True).data)


class PieceSerializer(serializers.Serializer):
    quantity = serializers.IntegerField(min_value=1)
    pickup = serializers.DateField()


class MoveSerializer(ConfirmSerializer):
    pieces = PieceSerializer(many=True, allow_empty=False)
    keep = serializers.BooleanField(default=False, help_text="False: only look at the effect; nothing is stored.")


class MovedSerializer(serializers.Serializer):
    saved = serializers.BooleanField()
    answers = AnswerSerializer(many=True)
    conflicts_before = ConflictSerializer(many=True)
    conflicts_after = ConflictSerializer(many=True)


class LineMove(Operation):
    needs = ("production.replan",)

    @extend_schema(operation_id="line_move", request=MoveSerializer, responses={200: MovedSerializer, **PROBLEMS})
    def post(self, request: Request, pk: int) -> Response:
        """See what another pickup or a split would do, or save it."""
        line = get_object_or_404(
            OrderLine.objects.select_related("order__customer", "scion__crop", "rootstock__crop", "container"),
            pk=pk,
        )
        data = self.checked(MoveSerializer, request)
        pieces = [(piece["quantity"], piece["pickup"]) for piece in data["pieces"]]
        looked = moving.look_at_move(line=line, pieces=pieces, today=self.today)
        if data["keep"]:
            moving.move(
                line=line, pieces=pieces, by=self.by, today=self.today, over_conflict=data["over_conflict"]
            )
        return Response(_moved(looked, saved=data["keep"]))


def _moved(looked: moving.Move, *, saved: bool) -> dict[str, Any]:
    return {
        "saved": saved,
        "answers": [answered(answering.LineAnswer(looked.line, (), answer)) for answer in looked.answers],
        "conflicts_before": ConflictSerializer(looked.before, many=True).data,
        "conflicts_after": ConflictSerializer(looked.after, many=True).data,
    }
