"""The work by API: what a day asks for, recording it, counting, announcing and handing over."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orders import queries as orders
from orders.api.base import PROBLEMS, Operation
from orders.api.orders import LineSerializer
from orders.models import Job, Order

from ..models import Count, Part, Place, SeedLot, Sowing, Work
from ..queries.today import day_sheet
from ..services import counting, growing, handing_over, readiness, replan


class DoneSerializer(serializers.Serializer):
    """How the work went. Left out: today, as planned. `count_id` made by the client: a resend is no repeat."""

    count = serializers.IntegerField(
        min_value=0,
        allow_null=True,
        default=None,
        help_text="0 seeds sown, where the side is sown several times, leaves this sowing out.",
    )
    happened_on = serializers.DateField(allow_null=True, default=None)
    reason = serializers.CharField(max_length=200, allow_blank=True, default="")
    lot = serializers.SlugRelatedField("code", queryset=SeedLot.objects.all(), allow_null=True, default=None)
    place = serializers.SlugRelatedField("name", queryset=Place.objects.all(), allow_null=True, default=None)
    count_id = serializers.UUIDField(allow_null=True, default=None)


class ToDoSerializer(serializers.ModelSerializer):
    part = serializers.CharField()
    what = serializers.CharField(source="part.batch.what")
    batch = serializers.CharField(source="part.batch.code")
    sowing = serializers.CharField(allow_null=True, help_text="Before the graft: the sowing that it concerns.")

    class Meta:
        model = Work
        fields = [
            "id", "kind", "batch", "part", "part_id", "what", "subject", "sowing", "day", "due", "part_of_day",
            "plants", "care", "note", "state", "done_on", "done_plants", "done_by",
        ]  # fmt: skip


class TaskSerializer(serializers.Serializer):
    work = ToDoSerializer()
    title = serializers.CharField()
    where = serializers.CharField()
    figure = serializers.IntegerField()
    unit = serializers.CharField()
    late_since = serializers.DateField(allow_null=True)
    may_wait = serializers.DateField(allow_null=True)
    waits = serializers.CharField(help_text="Why it cannot be done yet; empty when it can.")


class SectionSerializer(serializers.Serializer):
    key = serializers.CharField()
    minutes = serializers.FloatField()
    tasks = TaskSerializer(many=True)


class LeftOverSerializer(serializers.Serializer):
    part = serializers.CharField()
    part_id = serializers.IntegerField(source="part.pk")
    what = serializers.CharField(source="part.batch.what")
    plants = serializers.IntegerField()
    places = serializers.ListField(child=serializers.CharField())


class ToTellSerializer(serializers.Serializer):
    line_id = serializers.IntegerField(source="pk")
    order = serializers.CharField(source="order.code")
    what = serializers.CharField()
    plants = serializers.IntegerField(source="outstanding")
    pickup = serializers.DateField(allow_null=True)


class HeldLineSerializer(serializers.Serializer):
    line_id = serializers.IntegerField(source="pk")
    order = serializers.CharField(source="order.code")
    what = serializers.CharField()
    quantity = serializers.IntegerField()
    hold_until = serializers.DateField(allow_null=True)
    ended_reason = serializers.CharField()


class AcceptedSerializer(serializers.Serializer):
    order = serializers.SerializerMethodField()
    name = serializers.SerializerMethodField()

    def get_order(self, accepted: tuple[Order, str]) -> str:
        return accepted[0].code

    def get_name(self, accepted: tuple[Order, str]) -> str:
        return accepted[1]


class AnswersSerializer(serializers.Serializer):
    ending = HeldLineSerializer(many=True, help_text="Held, and today is the last day.")
    lapsed = HeldLineSerializer(many=True, help_text="Let go by themselves since the working day before.")
    accepted = AcceptedSerializer(many=True, help_text="By the customer, through the private link.")


class DaySerializer(serializers.Serializer):
    day = serializers.DateField()
    sections = SectionSerializer(many=True)
    done = ToDoSerializer(many=True)
    to_tell = ToTellSerializer(many=True, help_text="Ready, and their customers have not been told of so many.")
    left_over = LeftOverSerializer(many=True, help_text="Ready, and no order wants them (any more).")
    answers = AnswersSerializer(help_text="What became of promises that were only held.")


class DayWork(Operation):
    needs = ("production.see_work",)

    @extend_schema(operation_id="day", responses={200: DaySerializer, **PROBLEMS})
    def get(self, request: Request, day: date) -> Response:
        """The work of a day by part of day; of today the overdue too, and what waits beside it."""
        replan.roll_over(self.today)
        return Response(DaySerializer(day_sheet(day, today=self.today, everything=True)).data)


class WorkDone(Operation):
    needs = ("production.record_work",)

    @extend_schema(operation_id="work_done", request=DoneSerializer, responses={200: ToDoSerializer, **PROBLEMS})
    def post(self, request: Request, pk: int) -> Response:
        """Record one piece of work as done, with what was counted; the plan behind it moves on."""
        work = get_object_or_404(Work, pk=pk)
        data = self.checked(DoneSerializer, request)
        growing.do_work(work=work, by=self.by, today=self.today, **data)
        return Response(ToDoSerializer(work).data)


class PutOffSerializer(serializers.Serializer):
    until = serializers.DateField(allow_null=True, default=None)


class WorkPutOff(Operation):
    needs = ("production.record_work",)

    @extend_schema(
        operation_id="work_put_off", request=PutOffSerializer, responses={200: ToDoSerializer, **PROBLEMS}
    )
    def post(self, request: Request, pk: int) -> Response:
        """Not today: what follows moves with it."""
        work = get_object_or_404(Work, pk=pk)
        until = self.checked(PutOffSerializer, request)["until"]
        work = growing.put_off(work=work, by=self.by, today=self.today, until=until)
        return Response(ToDoSerializer(work).data)


class AllAsPlannedSerializer(serializers.Serializer):
    works = serializers.PrimaryKeyRelatedField(many=True, queryset=Work.objects.all(), allow_empty=False)
    numbers = serializers.DictField(
        child=serializers.IntegerField(min_value=0), default=dict, help_text="Other numbers, by the work's id."
    )
    key = serializers.UUIDField(allow_null=True, default=None)

    def validate_numbers(self, numbers: dict[str, int]) -> dict[int, int]:
        if not all(name.isdecimal() for name in numbers):
            raise serializers.ValidationError("Name each work by its id.")
        return {int(name): number for name, number in numbers.items()}


class RecordedSerializer(serializers.Serializer):
    done = ToDoSerializer(many=True)
    already = ToDoSerializer(many=True)


class AllAsPlanned(Operation):
    needs = ("production.record_work",)

    @extend_schema(
        operation_id="today_part", request=AllAsPlannedSerializer, responses={200: RecordedSerializer, **PROBLEMS}
    )
    def post(self, request: Request) -> Response:
        """Record all these works as planned, except for the numbers given: all or none."""
        data = self.checked(AllAsPlannedSerializer, request)
        recorded = growing.do_all_as_planned(by=self.by, today=self.today, **data)
        return Response(RecordedSerializer(recorded).data)


class CountedSerializer(serializers.ModelSerializer):
    sowing = serializers.CharField(source="sowing.code", default=None)

    class Meta:
        model = Count
        fields = [
            "id", "kind", "quantity", "sowing", "reason", "happened_on", "recorded_at", "by", "corrects",
        ]  # fmt: skip


class NewCountSerializer(serializers.Serializer):
    kind = serializers.ChoiceField(Count.Kind.choices)
    quantity = serializers.IntegerField(min_value=0)
    sowing = serializers.SlugRelatedField("code", queryset=Sowing.objects.all(), allow_null=True, default=None)
    happened_on = serializers.DateField(allow_null=True, default=None)
    reason = serializers.CharField(max_length=200, allow_blank=True, default="")
    count_id = serializers.UUIDField(allow_null=True, default=None)


class PartCounts(Operation):
    needs = ("production.record_work",)

    @extend_schema(operation_id="part_counts", responses={200: CountedSerializer(many=True), **PROBLEMS})
    def get(self, request: Request, pk: int) -> Response:
        """All that was counted of a part, corrections included."""
        part = get_object_or_404(Part, pk=pk)
        return Response(CountedSerializer(part.counts.select_related("sowing"), many=True).data)

    @extend_schema(
        operation_id="part_count", request=NewCountSerializer, responses={201: CountedSerializer, **PROBLEMS}
    )
    def post(self, request: Request, pk: int) -> Response:
        """Count what is up, fit to graft, taken or lost, outside any planned work."""
        part = get_object_or_404(Part, pk=pk)
        data = self.checked(NewCountSerializer, request)
        count = counting.record_count(part=part, by=self.by, today=self.today, **data)
        return Response(CountedSerializer(count).data, status=201)


class CorrectionSerializer(serializers.Serializer):
    quantity = serializers.IntegerField(min_value=0)
    reason = serializers.CharField(max_length=200, allow_blank=True, default="")
    count_id = serializers.UUIDField(allow_null=True, default=None)


class CountCorrection(Operation):
    needs = ("production.record_work",)

    @extend_schema(
        operation_id="count_correct", request=CorrectionSerializer, responses={201: CountedSerializer, **PROBLEMS}
    )
    def post(self, request: Request, pk: str) -> Response:
        """Put another number in place of a count; both rows stay."""
        count = get_object_or_404(Count, pk=pk)
        data = self.checked(CorrectionSerializer, request)
        corrected = counting.correct_count(count=count, by=self.by, today=self.today, **data)
        return Response(CountedSerializer(corrected).data, status=201)


class ReadySerializer(serializers.Serializer):
    quantity = serializers.IntegerField(min_value=0, help_text="Ready in all, those collected already included.")
    happened_on = serializers.DateField(allow_null=True, default=None)
    reason = serializers.CharField(max_length=200, allow_blank=True, default="")
    count_id = serializers.UUIDField(allow_null=True, default=None)


class LineReady(Operation):
    needs = ("production.record_work",)

    @extend_schema(operation_id="line_ready", request=ReadySerializer, responses={200: LineSerializer, **PROBLEMS})
    def post(self, request: Request, pk: int) -> Response:
        """So many plants of the line are ready. Sends nothing."""
        line = get_object_or_404(orders.lines(), pk=pk)
        data = self.checked(ReadySerializer, request)
        return Response(
            LineSerializer(readiness.declare_ready(line=line, by=self.by, today=self.today, **data)).data
        )


class NoticeSerializer(serializers.Serializer):
    quantity = serializers.IntegerField()
    short = serializers.IntegerField()
    number = serializers.IntegerField()
    sent = serializers.BooleanField()


class LineNotice(Operation):
    needs = ("orders.send_letters",)

    @extend_schema(operation_id="line_notice", responses={200: NoticeSerializer, **PROBLEMS})
    def get(self, request: Request, pk: int) -> Response:
        """What the pickup notice would say: how many are ready and still here, and how many fewer than ordered."""
        return Response(_notice(readiness.notice_of(get_object_or_404(orders.lines(), pk=pk))))

    @extend_schema(operation_id="line_notice_send", request=None, responses={200: NoticeSerializer, **PROBLEMS})
    def post(self, request: Request, pk: int) -> Response:
        """Send the pickup notice. The same numbers again send nothing twice."""
        line = get_object_or_404(orders.lines(), pk=pk)
        readiness.send_notice(line=line, by=self.by, today=self.today)
        return Response(_notice(readiness.notice_of(line)))


def _notice(notice: readiness.Notice) -> dict[str, Any]:
    sent: Job | None = notice.sent
    return {
        "quantity": notice.quantity,
        "short": notice.short,
        "number": notice.number,
        "sent": sent is not None,
    }


class HandOverSerializer(serializers.Serializer):
    quantity = serializers.IntegerField(min_value=0)
    close_short = serializers.BooleanField(default=False)
    reason = serializers.CharField(max_length=200, allow_blank=True, default="")
    happened_on = serializers.DateField(allow_null=True, default=None)
    count_id = serializers.UUIDField(allow_null=True, default=None)


class LineHandOver(Operation):
    needs = ("production.hand_over",)

    @extend_schema(
        operation_id="line_hand_over", request=HandOverSerializer, responses={200: LineSerializer, **PROBLEMS}
    )
    def post(self, request: Request, pk: int) -> Response:
        """So many plants were really taken; the line ends with the last one, or when it is closed short."""
        line = get_object_or_404(orders.lines(), pk=pk)
        data = self.checked(HandOverSerializer, request)
        return Response(
            LineSerializer(handing_over.hand_over(line=line, by=self.by, today=self.today, **data)).data
        )
