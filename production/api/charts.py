"""The figures of the season's charts by API."""

from __future__ import annotations

from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orders.api.base import PROBLEMS, Operation, faults_by_name

from ..forms.season import SeasonForm
from ..season.charts import loads, pickups
from ..season.seed import buying, seed_needs


class WeekLoadSerializer(serializers.Serializer):
    week = serializers.DateField()
    load = serializers.FloatField(help_text="On the tightest night or day of the week.")
    capacity = serializers.FloatField()


class ResourceSerializer(serializers.Serializer):
    name = serializers.CharField(source="label")
    there = serializers.CharField(source="room")
    weeks = WeekLoadSerializer(source="boxes", many=True)


class PickupWeekSerializer(serializers.Serializer):
    week = serializers.DateField()
    orders = serializers.IntegerField()
    plants = serializers.DictField(child=serializers.IntegerField(), help_text="By crop.")


class SeedNeedSerializer(serializers.Serializer):
    variety = serializers.CharField()
    day = serializers.DateField(help_text="It must be here by then.")
    seeds = serializers.IntegerField()
    in_hand = serializers.IntegerField()
    coming = serializers.IntegerField(help_text="Of lots that are expected by then.")
    to_buy = serializers.IntegerField()


class BuyingSerializer(serializers.Serializer):
    variety = serializers.CharField()
    seeds = serializers.IntegerField(source="what.seeds")
    packs = serializers.IntegerField(source="what.packs", allow_null=True)
    pack = serializers.IntegerField(source="what.pack", allow_null=True)
    by = serializers.DateField()


class ChartsSerializer(serializers.Serializer):
    load = ResourceSerializer(many=True)
    pickups = PickupWeekSerializer(many=True)
    seed = SeedNeedSerializer(many=True)
    to_buy = BuyingSerializer(many=True, help_text="What is needed first on top.")


class SeasonCharts(Operation):
    needs = ("production.see_work",)

    @extend_schema(
        operation_id="season_charts",
        parameters=[OpenApiParameter("day", str, description="A day of the year that is asked for.")],
        responses={200: ChartsSerializer, **PROBLEMS},
    )
    def get(self, request: Request) -> Response:
        """What places and hands carry by week, plants by week of pickup and crop, and seed to buy."""
        form = SeasonForm({"view": "year", "day": request.query_params.get("day", "")})
        if not form.is_valid():
            raise serializers.ValidationError(faults_by_name(form.errors))
        scope = form.scope(today=self.today, begins=self.nursery.first_weekday)
        needs = seed_needs(self.today)
        shown = {
            "load": loads(scope, self.nursery).rows,
            "pickups": pickups(scope).weeks,
            "seed": needs,
            "to_buy": buying(needs),
        }
        return Response(ChartsSerializer(shown).data)
