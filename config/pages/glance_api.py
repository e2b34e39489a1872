"""The first minute of the day by API: the same figures, for the same people."""

from __future__ import annotations

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orders.api.base import PROBLEMS, Operation

from .glance import figures_for


class FigureSerializer(serializers.Serializer):
    key = serializers.CharField(help_text="late, due, conflicts, risk, held, drafts, overdue and others.")
    number = serializers.IntegerField()
    words = serializers.CharField(help_text="What is counted.")
    says = serializers.CharField(help_text="The first of them, or what they come to.")
    url = serializers.CharField(help_text="The page with their list.")
    urgent = serializers.BooleanField(help_text="Not good, if it is more than none.")


class Glance(Operation):
    needs = ("production.see_work",)

    @extend_schema(operation_id="glance", responses={200: FigureSerializer(many=True), **PROBLEMS})
    def get(self, request: Request) -> Response:
        """What is due, late, short and owed, as far as the user may see it."""
        return Response(FigureSerializer(figures_for(self.by, self.nursery), many=True).data)
