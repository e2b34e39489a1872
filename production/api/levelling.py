"""Levelling the season by API: started, watched, stopped, and its moves taken."""

from __future__ import annotations

from typing import Any

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orders.api.base import PROBLEMS, Operation

from ..models import SeasonLevelling
from ..planning.level import Cost
from ..queries.levelled import moves_of
from ..services import levelling


class CostSerializer(serializers.Serializer):
    """Compared in this order; the first two are weighted, in hundredths."""

    left_over = serializers.IntegerField()
    late = serializers.IntegerField()
    told_anew = serializers.IntegerField()
    moved = serializers.IntegerField()
    nights = serializers.IntegerField()


class LevelledMoveSerializer(serializers.Serializer):
    key = serializers.CharField()
    label = serializers.CharField()  # type: ignore[assignment]
    words = serializers.CharField()
    tells = serializers.DateField(allow_null=True)
    needs = serializers.ListField(child=serializers.CharField())
    was = serializers.ChoiceField(["promised", "asked"])
    taken = serializers.BooleanField()
    refused = serializers.BooleanField()
    order = serializers.CharField()
    customer = serializers.CharField(help_text="Who must be told of it, if anybody.")
    how = serializers.ChoiceField(["email", "call", ""], help_text="A letter to be drafted, or a call to make.")


class WithoutRoomSerializer(serializers.Serializer):
    """A line for which no room was found, and what stands in its way, in sentences."""

    label = serializers.CharField()  # type: ignore[assignment]
    why = serializers.ListField(child=serializers.CharField())


class LevellingSerializer(serializers.Serializer):
    id = serializers.IntegerField()
    state = serializers.ChoiceField(SeasonLevelling.State.choices)
    rounds_done = serializers.IntegerField(allow_null=True)
    rounds = serializers.IntegerField(allow_null=True)
    before = CostSerializer(allow_null=True)
    best = CostSerializer(allow_null=True)
    bound = CostSerializer(allow_null=True)
    proved = serializers.BooleanField()
    moves = LevelledMoveSerializer(many=True)
    left_over = WithoutRoomSerializer(many=True)
    trouble = serializers.CharField()


class TakeSerializer(serializers.Serializer):
    moves = serializers.ListField(child=serializers.CharField(), allow_empty=False)


class RefuseSerializer(TakeSerializer):
    refused = serializers.BooleanField(default=True, help_text="False takes them back into the list.")


class StartSerializer(serializers.Serializer):
    leave = serializers.ListField(
        child=serializers.CharField(), default=list, help_text="Keys of lines that are to stay as they are."
    )


ANSWERED = {200: LevellingSerializer, **PROBLEMS}


def shown(run: SeasonLevelling) -> dict[str, Any]:
    progress = run.progress
    return {
        "id": run.pk,
        "state": run.state,
        "rounds_done": progress.get("done"),
        "rounds": progress.get("of"),
        "before": _cost(run.before),
        "best": _cost(run.cost or progress.get("best")),
        "bound": _cost(progress.get("bound")),
        "proved": run.proved,
        "moves": moves_of(run),
        "left_over": run.left_over,
        "trouble": run.trouble,
    }


def _cost(stored: list[int] | None) -> dict[str, int] | None:
    return Cost(*stored)._asdict() if stored else None


class SeasonLevel(Operation):
    needs = ("production.replan",)

    @extend_schema(operation_id="season_level", responses=ANSWERED)
    def get(self, request: Request) -> Response:
        """The newest levelling: how far it is, or what it found."""
        return Response(shown(get_object_or_404(SeasonLevelling.objects.order_by("-pk")[:1])))

    @extend_schema(
        operation_id="season_level_start",
        request=StartSerializer,
        responses={202: LevellingSerializer, **PROBLEMS},
    )
    def post(self, request: Request) -> Response:
        """Level the season as it stands, as a job. Nothing moves until moves are taken."""
        leave = self.checked(StartSerializer, request)["leave"]
        return Response(shown(levelling.start(by=self.by, today=self.today, leave=leave)), status=202)


class SeasonLevelStop(Operation):
    needs = ("production.replan",)

    @extend_schema(operation_id="season_level_stop", request=None, responses=ANSWERED)
    def post(self, request: Request, pk: int) -> Response:
        """End a levelling with the best so far."""
        run = get_object_or_404(SeasonLevelling, pk=pk)
        levelling.stop(run)
        run.refresh_from_db()
        return Response(shown(run))


class SeasonLevelRefuse(Operation):
    needs = ("production.replan",)

    @extend_schema(operation_id="season_level_refuse", request=RefuseSerializer, responses=ANSWERED)
    def post(self, request: Request, pk: int) -> Response:
        """Set moves aside, or take them back into the list."""
        run = get_object_or_404(SeasonLevelling, pk=pk)
        said = self.checked(RefuseSerializer, request)
        levelling.refuse(run, keys=said["moves"], refused=said["refused"])
        run.refresh_from_db()
        return Response(shown(run))


class SeasonLevelTake(Operation):
    needs = ("production.replan",)

    @extend_schema(operation_id="season_level_take", request=TakeSerializer, responses=ANSWERED)
    def post(self, request: Request, pk: int) -> Response:
        """Carry out moves with the ones that they need, all or none."""
        run = get_object_or_404(SeasonLevelling, pk=pk)
        keys = self.checked(TakeSerializer, request)["moves"]
        levelling.take(run, keys=keys, by=self.by, today=self.today)
        run.refresh_from_db()
        return Response(shown(run))
