"""Lists of orders by API: brought as a file, checked as a job, confirmed; and the rows to mend."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponseBase
from django.shortcuts import get_object_or_404
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework import serializers
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from orders.api.base import BEFORE, PROBLEMS, REST, Operation
from orders.tables.reading import MOST_BYTES, too_big
from orders.tables.writing import csv_answer

from ..models import OrderList
from ..order_list.columns import COLUMNS
from ..order_list.files import to_mend
from ..queries.order_lists import newest
from ..services import list_taking, order_lists
from ..views.order_lists import TAKES


class BroughtSerializer(serializers.Serializer):
    file = serializers.FileField(help_text="CSV or .xlsx.")


class ConfirmListSerializer(serializers.Serializer):
    others = serializers.ChoiceField(
        OrderList.Others.choices,
        default="leave",
        help_text="What becomes of good orders that do not fit.",
    )


class ListFaultSerializer(serializers.Serializer):
    row = serializers.IntegerField()
    column = serializers.CharField(allow_blank=True)
    reason = serializers.CharField()
    mend = serializers.CharField(allow_blank=True)
    found = serializers.CharField(allow_blank=True)


class ListLineSerializer(serializers.Serializer):
    row = serializers.IntegerField()
    what = serializers.CharField(required=False)
    plants = serializers.IntegerField(required=False)
    asked = serializers.DateField(required=False)
    pickup = serializers.DateField(required=False, allow_null=True)
    days = serializers.ListField(child=serializers.DateField(), required=False, help_text="Nearest that fit.")
    says = serializers.CharField(allow_blank=True)


class ListOrderSerializer(serializers.Serializer):
    name = serializers.CharField(allow_blank=True)
    who = serializers.CharField(allow_blank=True)
    rows = serializers.ListField(child=serializers.IntegerField())
    state = serializers.ChoiceField(OrderList.Outcome.choices)
    order = serializers.CharField(allow_blank=True)
    lines = ListLineSerializer(many=True)


class ListNamedSerializer(serializers.Serializer):
    id = serializers.IntegerField()
    name = serializers.CharField()
    made_at = serializers.DateTimeField()
    state = serializers.ChoiceField(OrderList.State.choices)


class ListSerializer(ListNamedSerializer):
    done = serializers.IntegerField(allow_null=True)
    of = serializers.IntegerField(allow_null=True)
    faults = ListFaultSerializer(many=True)
    orders = ListOrderSerializer(many=True)


class ListColumnSerializer(serializers.Serializer):
    key = serializers.CharField()
    word = serializers.CharField()
    says = serializers.CharField()


ANSWERED = {200: ListSerializer, **PROBLEMS}


def shown(kept: OrderList) -> dict[str, Any]:
    return {
        "id": kept.pk,
        "name": kept.name,
        "made_at": kept.made_at,
        "state": kept.state,
        "done": kept.progress.get("done"),
        "of": kept.progress.get("of"),
        "faults": kept.faults,
        "orders": kept.orders,
    }


class TakeList(Operation):
    needs = TAKES
    parser_classes = [MultiPartParser]

    @extend_schema(
        operation_id="lists",
        parameters=[BEFORE, REST],
        responses={200: ListNamedSerializer(many=True), **PROBLEMS},
    )
    def get(self, request: Request) -> Response:
        """The lists that were brought, the newest first."""
        return self.listed(request, newest(), ListNamedSerializer, by="before")

    @extend_schema(
        operation_id="take_list",
        request={"multipart/form-data": BroughtSerializer},
        responses={202: ListSerializer, **PROBLEMS},
    )
    def post(self, request: Request) -> Response:
        """Bring a list; it is checked as a job. Nothing becomes an order until it is confirmed."""
        sent = self.checked(BroughtSerializer, request)["file"]
        if sent.size > MOST_BYTES:
            raise too_big()
        return Response(
            ListSerializer(shown(order_lists.start(name=sent.name, content=sent.read(), by=self.by))).data,
            status=202,
        )


class ListColumns(Operation):
    needs = TAKES

    @extend_schema(operation_id="list_columns", responses={200: ListColumnSerializer(many=True), **PROBLEMS})
    def get(self, request: Request) -> Response:
        """The columns of a list; its headings may be words or keys."""
        return Response(ListColumnSerializer(COLUMNS, many=True).data)


class TakenList(Operation):
    needs = TAKES

    @extend_schema(operation_id="taken_list", responses=ANSWERED)
    def get(self, request: Request, pk: int) -> Response:
        """What was found in a list, and what became of it."""
        return Response(ListSerializer(shown(get_object_or_404(OrderList, pk=pk))).data)


class ConfirmList(Operation):
    needs = TAKES

    @extend_schema(operation_id="confirm_list", request=ConfirmListSerializer, responses=ANSWERED)
    def post(self, request: Request, pk: int) -> Response:
        """Promise the orders that fit, as a job. A second time changes nothing."""
        kept = get_object_or_404(OrderList, pk=pk)
        data = self.checked(ConfirmListSerializer, request)
        kept = list_taking.confirm(kept, by=self.by, others=data["others"])
        return Response(ListSerializer(shown(kept)).data)


class ListRows(Operation):
    needs = TAKES

    @extend_schema(
        operation_id="list_rows",
        responses={(200, "text/csv"): OpenApiResponse(OpenApiTypes.STR, description="The rows."), **PROBLEMS},
    )
    def get(self, request: Request, pk: int) -> HttpResponseBase:
        """The rows that were not taken, as they were brought, with what is to mend; a CSV file."""
        head, rows = to_mend(get_object_or_404(OrderList, pk=pk))
        return csv_answer("rows-to-mend", head, rows)
