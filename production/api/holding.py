"""Holding an order by API: for some days, for longer, letting go, asking again, sending a quote."""

from __future__ import annotations

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orders import queries
from orders.api.base import PROBLEMS, Operation
from orders.api.orders import LineSerializer, OrderSerializer, WhySerializer
from orders.holding import new_link
from orders.links import private_link
from orders.models import Order

from ..services import holding, quoting
from .desk import WaySerializer, with_way


class HoldSerializer(WaySerializer):
    until = serializers.DateField(
        required=False,
        allow_null=True,
        default=None,
        help_text="Last day. Without it, the nursery's usual number.",
    )


class ExtendSerializer(serializers.Serializer):
    until = serializers.DateField(help_text="Last day, later or sooner than now.")


class OrderOperation(Operation):
    needs: tuple[str, ...] = ("orders.confirm_orders",)

    def order(self, code: str) -> Order:
        return get_object_or_404(Order, code=code)

    def said(self, code: str) -> Response:
        return Response(OrderSerializer(queries.order_by_code(code)).data)


class OrderHold(OrderOperation):
    @extend_schema(operation_id="order_hold", request=HoldSerializer, responses={200: OrderSerializer, **PROBLEMS})
    def post(self, request: Request, code: str) -> Response:
        """Take the room of all asked lines for some days, or of none; then it lets go by itself."""
        data = with_way(self.checked(HoldSerializer, request))
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


class QuoteSerializer(serializers.Serializer):
    made = serializers.BooleanField(help_text="False: just this quote was made before, and is not sent again.")


class OrderQuote(OrderOperation):
    needs = ("orders.confirm_orders", "orders.send_letters")

    @extend_schema(operation_id="order_quote", request=None, responses={200: QuoteSerializer, **PROBLEMS})
    def post(self, request: Request, code: str) -> Response:
        """Have a quote of what is held made and sent, with the customer's private link."""
        return Response({"made": quoting.send_quote(order=self.order(code), by=self.by)})


class LinkSerializer(serializers.Serializer):
    link = serializers.URLField()


class OrderLink(OrderOperation):
    @extend_schema(operation_id="order_link", request=None, responses={200: LinkSerializer, **PROBLEMS})
    def post(self, request: Request, code: str) -> Response:
        """Another private link for the customer; the one before is dead."""
        return Response({"link": private_link(new_link(order=self.order(code), by=self.by))})
