"""Plans, conflicts and answers as the API shows them."""

from rest_framework import serializers

from ..planning.ways_out import KINDS

OF_SOWING = "Before the graft: the number of the sowing of this subject."


class SowingSerializer(serializers.Serializer):
    subject = serializers.CharField()
    number = serializers.IntegerField(help_text="Among the sowings of this subject.")
    day = serializers.DateField()
    seeds = serializers.IntegerField()
    trays = serializers.IntegerField()
    emerges = serializers.DateField()
    graftable_from = serializers.DateField(allow_null=True)
    graftable_to = serializers.DateField(allow_null=True)


class StaySerializer(serializers.Serializer):
    subject = serializers.CharField()
    sowing = serializers.IntegerField(help_text=OF_SOWING)
    stage_kind = serializers.CharField()
    place = serializers.CharField()
    first = serializers.DateField()
    nights = serializers.IntegerField()
    containers = serializers.IntegerField()
    load = serializers.FloatField()


class WorkSerializer(serializers.Serializer):
    kind = serializers.CharField()
    subject = serializers.CharField()
    sowing = serializers.IntegerField(help_text=OF_SOWING)
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
    part = serializers.CharField(help_text="The part of the day in which hands are wanted: morning, day, evening.")
    unit = serializers.CharField()
    first = serializers.DateField()
    last = serializers.DateField()
    peak = serializers.FloatField()
    there = serializers.FloatField()
    causes = CauseSerializer(many=True)


class ObstacleSerializer(ConflictSerializer):
    """A place or people in the way; `more` of it, with that of the other obstacles, makes the line fit."""

    more = serializers.FloatField(allow_null=True)


class MoveOfOtherSerializer(serializers.Serializer):
    owner = serializers.CharField(source="key")
    label = serializers.CharField()  # type: ignore[assignment]
    words = serializers.CharField()
    tells = serializers.DateField(
        allow_null=True, help_text="The pickup that its customer must be told, if it changes."
    )


class ExtraSerializer(serializers.Serializer):
    """So much more of a place or of hands, on each of these nights or days."""

    resource = serializers.CharField(source="conflict.resource")
    name = serializers.CharField(source="conflict.name")
    part = serializers.CharField(source="conflict.part")
    unit = serializers.CharField(source="conflict.unit")
    first = serializers.DateField(source="conflict.first")
    last = serializers.DateField(source="conflict.last")
    amount = serializers.FloatField()
    cost = serializers.FloatField()


class JoinedSerializer(serializers.Serializer):
    """A batch of which nothing is sown, and what it becomes with the line on it."""

    batch = serializers.CharField(source="name", help_text="What `joining` names when the order is confirmed.")
    revision = serializers.IntegerField(
        help_text="Given with its name, a batch that was changed since is not joined."
    )
    graft_day = serializers.DateField(allow_null=True)
    plants_before = serializers.IntegerField(source="unsown.wish.quantity")
    plants = serializers.IntegerField(source="plan.wish.quantity")


class WayOutSerializer(serializers.Serializer):
    """One way out of a refusal; the cheapest come first."""

    kind = serializers.ChoiceField(KINDS)
    pickup = serializers.DateField()
    quantity = serializers.IntegerField(source="wish.quantity")
    method = serializers.CharField(source="wish.recipe.method", default=None, allow_null=True)
    cost = serializers.FloatField(help_text="Money for work, room and seed beyond the plan as asked.")
    moves = MoveOfOtherSerializer(many=True)
    extra = ExtraSerializer(many=True)
    joins = JoinedSerializer(allow_null=True)


class LineCostSerializer(serializers.Serializer):
    """What a line costs the nursery and leaves, at its own prices; `price` is before tax."""

    seed = serializers.DecimalField(max_digits=12, decimal_places=2)
    seed_known = serializers.BooleanField(help_text="Whether all its seed has a price.")
    work = serializers.DecimalField(max_digits=12, decimal_places=2)
    room = serializers.DecimalField(max_digits=12, decimal_places=2)
    total = serializers.DecimalField(max_digits=12, decimal_places=2)
    each = serializers.DecimalField(max_digits=12, decimal_places=2)
    price = serializers.DecimalField(max_digits=12, decimal_places=2)
    margin = serializers.DecimalField(max_digits=12, decimal_places=2)
    margin_percent = serializers.DecimalField(max_digits=8, decimal_places=1, allow_null=True)


class AnswerSerializer(serializers.Serializer):
    """Whether a line fits; its plan; else what stands in the way, the nearest pickups that fit, and more ways out.

    A refusal is `proved`, unless the question was too hard for the time there is: then it is only very likely.
    """

    fits = serializers.BooleanField()
    plan = PlanSerializer(allow_null=True)
    conflicts = ConflictSerializer(many=True)
    earlier = serializers.DateField(allow_null=True)
    later = serializers.DateField(allow_null=True)
    proved = serializers.BooleanField()
    obstacles = ObstacleSerializer(many=True)
    ways_out = WayOutSerializer(many=True)
    cost = LineCostSerializer(allow_null=True, help_text="Only for those who may see costs.")
    faults = serializers.ListField(child=serializers.DictField())
