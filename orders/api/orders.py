"""Orders by API: list, look, end a line; taking and confirming are production's, since the answer is the plan."""

from __future__ import annotations

from typing import Any

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from .. import history, queries, services
from ..models import Document, HistoryEntry, Letter, Order, OrderLine
from .base import PROBLEMS, Operation


class LineSerializer(serializers.ModelSerializer):
    scion = serializers.CharField(source="scion.name", default=None)
    rootstock = serializers.CharField(source="rootstock.name", default=None)
    container = serializers.CharField(source="container.name")

    class Meta:
        model = OrderLine
        fields = [
            "id", "number", "kind", "scion", "rootstock", "method", "leaders", "container", "quantity",
            "room_place_kind", "room_nights", "pickup_asked", "earlier", "later", "collection_days", "pickup",
            "scion_seed", "scion_seed_expected", "rootstock_seed", "rootstock_seed_expected", "state",
            "hold_until", "unit_price", "tax_rate", "ready_quantity", "collected_quantity", "ended_reason",
            "notes",
        ]  # fmt: skip


class OrderSerializer(serializers.ModelSerializer):
    customer = serializers.CharField(source="customer.name", default=None)
    state = serializers.CharField()
    lines = LineSerializer(many=True)

    class Meta:
        model = Order
        fields = ["id", "code", "customer", "own_crop", "notes", "taken_on", "deposit_percent", "state", "lines"]


class PaperSerializer(serializers.ModelSerializer):
    class Meta:
        model = Document
        fields = ["id", "kind", "code", "revision", "title", "sha256", "token", "created_at"]


class LetterSerializer(serializers.ModelSerializer):
    class Meta:
        model = Letter
        fields = ["id", "kind", "to", "subject", "state", "error", "created_at", "ended_at"]


class HistorySerializer(serializers.ModelSerializer):
    class Meta:
        model = HistoryEntry
        fields = ["at", "by", "what", "text"]


class WholeOrderSerializer(OrderSerializer):
    papers = PaperSerializer(source="documents", many=True)
    letters = LetterSerializer(many=True)
    history = serializers.SerializerMethodField()

    class Meta(OrderSerializer.Meta):
        fields = [*OrderSerializer.Meta.fields, "papers", "letters", "history"]

    def get_history(self, order: Order) -> list[dict[str, Any]]:
        return [dict(row) for row in HistorySerializer(history.of(order), many=True).data]


class OrderDetail(Operation):
    needs = ("orders.see_orders",)

    @extend_schema(operation_id="order", responses={200: WholeOrderSerializer, **PROBLEMS})
    def get(self, request: Request, code: str) -> Response:
        """One order with its lines, papers, letters and history."""
        order = get_object_or_404(queries.orders(), code=code)
        return Response(WholeOrderSerializer(order).data)


class WhySerializer(serializers.Serializer):
    why = serializers.CharField(max_length=300, allow_blank=True, default="")


class LineEnd(Operation):
    needs = ("orders.take_orders",)

    @extend_schema(operation_id="line_end", request=WhySerializer, responses={200: LineSerializer, **PROBLEMS})
    def post(self, request: Request, pk: int) -> Response:
        """Let an asked line go, or cancel a promised one; its room is free again."""
        line = get_object_or_404(OrderLine.objects.select_related("order"), pk=pk)
        why = self.checked(WhySerializer, request)["why"]
        services.end(line=line, by=self.by, why=why)
        return Response(LineSerializer(line).data)
