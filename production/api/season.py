"""The season by API: the shown days with their loads and conflicts, and who stands in one place of them."""

from __future__ import annotations

from typing import Any

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orders import queries
from orders.api.base import PROBLEMS, Operation, faults_by_name

from ..forms.season import SeasonForm
from ..planning import terms
from ..planning.load import Floats, Load
from ..season.carried import carried
from ..season.grid import by_day, place_at
from ..season.scope import VIEWS, Scope
from ..season.standing import standing
from ..services.easing import easing_of
from .desk import answered
from .plans import AnswerSerializer, ConflictSerializer


class PlaceNightSerializer(serializers.Serializer):
    night = serializers.DateField()
    load = serializers.FloatField()
    capacity = serializers.FloatField()


class PlaceLoadSerializer(serializers.Serializer):
    """A place on the nights on which anything stands there; `at` asks for who stands there."""

    at = serializers.CharField()
    place = serializers.CharField()
    measure = serializers.CharField()
    nights = PlaceNightSerializer(many=True)


class HandsDaySerializer(serializers.Serializer):
    day = serializers.DateField()
    asked = serializers.FloatField()
    hours = serializers.FloatField()


class HandsLoadSerializer(serializers.Serializer):
    """Hours that are asked of all who have any of these skills, on the days on which any are."""

    skills = serializers.ListField(child=serializers.CharField())
    days = HandsDaySerializer(many=True)


class AskerSerializer(serializers.Serializer):
    batch = serializers.CharField(source="part.batch.code")
    part = serializers.IntegerField(source="part.number")
    label = serializers.CharField()  # type: ignore[assignment]
    amount = serializers.CharField(help_text="Of the place at its most on any night, or hours in all.")
    first = serializers.DateField()
    last = serializers.DateField()


class SeasonSerializer(serializers.Serializer):
    today = serializers.DateField()
    first = serializers.DateField()
    last = serializers.DateField()
    conflicts = ConflictSerializer(many=True)
    places = PlaceLoadSerializer(many=True)
    hands = HandsLoadSerializer(many=True)
    stands = AskerSerializer(many=True, help_text="Who is in the place or asks for the hands, largest first.")
    stands_in_all = serializers.IntegerField()


class SeasonLoad(Operation):
    needs = ("production.see_work",)

    @extend_schema(
        operation_id="season",
        parameters=[
            OpenApiParameter("view", str, enum=list(VIEWS), description="How many days: 13 weeks unless given."),
            OpenApiParameter("day", str, description="The days that hold this one; around today unless given."),
            OpenApiParameter("at", str, description="Name who is there: place-3, or hands-grafting."),
            OpenApiParameter("page", int, description="Of those who are there, 25 at a time."),
        ],
        responses={200: SeasonSerializer, **PROBLEMS},
    )
    def get(self, request: Request) -> Response:
        """The conflicts that touch the shown days, and the load of every place and of all hands on them."""
        nursery = self.nursery
        form = SeasonForm(request.query_params)
        if not form.is_valid():
            raise serializers.ValidationError(faults_by_name(form.errors))
        scope = form.scope(today=nursery.today(), begins=nursery.first_weekday)
        held = carried(scope, nursery)
        stands = standing(scope, request.query_params.get("page")) if scope.at else None
        shown = {
            "today": scope.today,
            "first": scope.first,
            "last": scope.last,
            "conflicts": held.conflicts,
            "places": [_place(held.load, place, scope) for place in held.load.season.places],
            "hands": [_hands(held.load, index, scope) for index in range(len(held.load.sets))],
            "stands": list(stands or ()),
            "stands_in_all": stands.paginator.count if stands else 0,
        }
        return Response(SeasonSerializer(shown).data)


def _place(load: Load, place: terms.Place, scope: Scope) -> dict[str, Any]:
    row = load.row[place.key]
    used, there = _days(load, load.used[row], scope), _days(load, load.capacity[row], scope)
    nights = [{"night": day, "load": each, "capacity": there[day]} for day, each in used.items() if each > 0]
    return {"at": place_at(place), "place": place.name, "measure": place.measure, "nights": nights}


def _hands(load: Load, index: int, scope: Scope) -> dict[str, Any]:
    asked, hours = _days(load, load.asked[index], scope), _days(load, load.hours[index], scope)
    days = [{"day": day, "asked": each, "hours": hours[day]} for day, each in asked.items() if each > 0]
    return {"skills": load.sets[index].skills, "days": days}


def _days(load: Load, of: Floats, scope: Scope) -> dict[Any, float]:
    return {day: round(each, 4) for day, each in by_day(load, of, scope).items()}


# --- what would help ------------------------------------------------------------------------------------------


class EasedSerializer(serializers.Serializer):
    """A promised line asked for anew. Where it fits, its plan is another way inside its latitude."""

    answer = AnswerSerializer()


class LineWays(Operation):
    needs = ("production.replan",)

    @extend_schema(operation_id="line_ways", responses={200: EasedSerializer, **PROBLEMS})
    def get(self, request: Request, pk: int) -> Response:
        """What would help a conflict that the line stands in. Stores nothing; line_move takes it."""
        line = get_object_or_404(queries.lines(), pk=pk)
        easing = easing_of(line=line, today=self.today)
        return Response({"answer": answered(easing.said, easing.out)})
