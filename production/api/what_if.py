"""What if, by API: changes in, the season before and after out; kept only when asked."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orders.api.base import PROBLEMS, Operation, faults_by_name

from ..forms.what_if import WhatIfForm
from ..season.compared import Compared, compared
from ..services import what_if
from .plans import ConflictSerializer


class WhatIfSerializer(serializers.Serializer):
    """What would be otherwise; what is left out stays as it is."""

    place = serializers.IntegerField(required=False)
    capacity = serializers.FloatField(required=False)
    close = serializers.DateField(required=False)
    reopen = serializers.IntegerField(required=False, help_text="A closed day, by its id.")
    person = serializers.IntegerField(required=False)
    hours = serializers.DecimalField(
        max_digits=4, decimal_places=2, required=False, help_text="On each day on which the person works."
    )
    away_first = serializers.DateField(required=False)
    away_last = serializers.DateField(required=False)
    order = serializers.CharField(required=False, max_length=20)
    line = serializers.IntegerField(required=False)
    pickup = serializers.DateField(required=False)
    keep = serializers.BooleanField(default=False, help_text="False: only look; nothing is stored.")


class ChangedWeekSerializer(serializers.Serializer):
    """The tightest day of a week of a place or of hands, now and then."""

    name = serializers.CharField()
    week = serializers.DateField()
    load = serializers.FloatField(source="before.load")
    capacity = serializers.FloatField(source="before.capacity")
    load_then = serializers.FloatField(source="after.load")
    capacity_then = serializers.FloatField(source="after.capacity")


class TriedSerializer(serializers.Serializer):
    saved = serializers.BooleanField()
    fits = serializers.BooleanField(help_text="Whether the line would fit on its new day, where one is moved.")
    notes = serializers.ListField(child=serializers.CharField())
    conflicts_before = ConflictSerializer(many=True)
    conflicts_after = ConflictSerializer(many=True)
    weeks = ChangedWeekSerializer(many=True)
    more_weeks = serializers.IntegerField()


class SeasonWhatIf(Operation):
    needs = ("production.replan",)

    @extend_schema(
        operation_id="season_what_if", request=WhatIfSerializer, responses={200: TriedSerializer, **PROBLEMS}
    )
    def post(self, request: Request) -> Response:
        """See the season as it would be beside the season as it is, or make it so."""
        data = self.checked(WhatIfSerializer, request)
        keep = data.pop("keep")
        form = WhatIfForm(data, today=self.today)
        if not form.is_valid():
            raise serializers.ValidationError(faults_by_name(form.errors))
        tried = what_if.look(form.changes, today=self.today)
        if keep:
            what_if.save(form.changes, by=self.by, today=self.today)
        weeks = compared(tried, self.nursery.first_weekday)
        return Response(TriedSerializer(_shown(tried, weeks, saved=keep)).data)


def _shown(tried: what_if.Tried, weeks: Compared, *, saved: bool) -> dict[str, Any]:
    return {
        "saved": saved,
        "fits": not tried.refused,
        "notes": tried.notes,
        "conflicts_before": tried.conflicts_before,
        "conflicts_after": tried.conflicts_after,
        "weeks": weeks.weeks,
        "more_weeks": weeks.more_weeks,
    }
