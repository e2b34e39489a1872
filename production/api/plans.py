"""Plans, conflicts and answers as the API shows them."""

from rest_framework import serializers


class SowingSerializer(serializers.Serializer):
    subject = serializers.CharField()
    day = serializers.DateField()
    seeds = serializers.IntegerField()
    trays = serializers.IntegerField()
    emerges = serializers.DateField()
    graftable_from = serializers.DateField(allow_null=True)
    graftable_to = serializers.DateField(allow_null=True)


class StaySerializer(serializers.Serializer):
    subject = serializers.CharField()
    stage_kind = serializers.CharField()
    place = serializers.CharField()
    first = serializers.DateField()
    nights = serializers.IntegerField()
    containers = serializers.IntegerField()
    load = serializers.FloatField()


class WorkSerializer(serializers.Serializer):
    kind = serializers.CharField()
    subject = serializers.CharField()
    day = serializers.DateField()
    part = serializers.CharField()
    plants = serializers.IntegerField()
    total_hours = serializers.FloatField()


class ReasonSerializer(serializers.Serializer):
    what = serializers.CharField()
    day = serializers.DateField()
    why = serializers.CharField()


class PartSerializer(serializers.Serializer):
    number = serializers.IntegerField()
    plants = serializers.IntegerField()
    grafts = serializers.IntegerField(source="sizing.grafts")
    chance = serializers.FloatField(source="sizing.chance")
    graft_day = serializers.DateField(allow_null=True)
    ready = serializers.DateField()
    sowings = SowingSerializer(many=True)
    stays = StaySerializer(many=True)
    works = WorkSerializer(many=True)
    reasons = ReasonSerializer(many=True)


class PlanSerializer(serializers.Serializer):
    pickup = serializers.DateField()
    cost = serializers.FloatField()
    parts = PartSerializer(many=True)


class CauseSerializer(serializers.Serializer):
    owner = serializers.CharField()
    label = serializers.CharField()  # type: ignore[assignment]
    amount = serializers.FloatField()


class ConflictSerializer(serializers.Serializer):
    resource = serializers.CharField()
    name = serializers.CharField()
    unit = serializers.CharField()
    first = serializers.DateField()
    last = serializers.DateField()
    peak = serializers.FloatField()
    there = serializers.FloatField()
    causes = CauseSerializer(many=True)


class AnswerSerializer(serializers.Serializer):
    """Whether a line fits; its plan; else what stands in the way and the nearest pickups that fit."""

    fits = serializers.BooleanField()
    plan = PlanSerializer(allow_null=True)
    conflicts = ConflictSerializer(many=True)
    earlier = serializers.DateField(allow_null=True)
    later = serializers.DateField(allow_null=True)
    faults = serializers.ListField(child=serializers.DictField())
