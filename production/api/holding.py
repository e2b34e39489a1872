"""Holding an order by API: for some days, for longer, letting go, asking again."""

from __future__ import annotations

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orders import queries
from orders.api.base import PROBLEMS, Operation
from orders.api.orders import LineSerializer, OrderSerializer, WhySerializer
from orders.models import Order

from ..services import holding


class HoldSerializer(serializers.Serializer):
    until = serializers.DateField(
        required=False,
        allow_null=True,
        default=None,
        help_text="Last day. Without it, the nursery's usual number.",
    )
    moving = serializers.BooleanField(
        default=False,
        help_text="Let promised lines of which nothing is sown move inside their latitude to make room.",
    )


class ExtendSerializer(serializers.Serializer):
    until = serializers.DateField(help_text="Last day, later or sooner than now.")


class OrderOperation(Operation):
    needs = ("orders.confirm_orders",)

    def order(self, code: str) -> Order:
        return get_object_or_404(Order, code=code)

    def said(self, code: str) -> Response:
        return Response(OrderSerializer(queries.order_by_code(code)).data)


class OrderHold(OrderOperation):
    @extend_schema(operation_id="order_hold", request=HoldSerializer, responses={200: OrderSerializer, **PROBLEMS})
    def post(self, request: Request, code: str) -> Response:
        """Take the room of all asked lines for some days, or of none; then it lets go by itself."""
        data = self.checked(HoldSerializer, request)
        holding.hold(order=self.order(code), by=self.by, today=self.today, **data)
        return self.said(code)


class OrderExtend(OrderOperation):
    @extend_schema(
        operation_id="order_extend", request=ExtendSerializer, responses={200: OrderSerializer, **PROBLEMS}
    )
    def post(self, request: Request, code: str) -> Response:
        """Hold what is held until another day."""
        until = self.checked(ExtendSerializer, request)["until"]
        holding.extend(order=self.order(code), until=until, by=self.by, today=self.today)
        return self.said(code)


class OrderLetGo(OrderOperation):
    @extend_schema(
        operation_id="order_let_go", request=WhySerializer, responses={200: OrderSerializer, **PROBLEMS}
    )
    def post(self, request: Request, code: str) -> Response:
        """Let go of all that is held of the order; its room is free at once."""
        why = self.checked(WhySerializer, request)["why"]
        holding.let_go(order=self.order(code), by=self.by, why=why)
        return self.said(code)


class LineAskAgain(Operation):
    needs = ("orders.take_orders",)

    @extend_schema(operation_id="line_ask_again", request=None, responses={200: LineSerializer, **PROBLEMS})
    def post(self, request: Request, pk: int) -> Response:
        """A line that was let go is asked for again; it takes no room yet."""
        line = get_object_or_404(queries.lines(), pk=pk)
        return Response(LineSerializer(holding.ask_again(line=line, by=self.by)).data)
