"""How many pairs the two sides of a batch will give, by API."""

from __future__ import annotations

from django.http import Http404
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orders.api.base import PROBLEMS, Operation, faults_by_name

from ..forms.stems import FORMS, form_of
from ..models import Part
from ..queries.stem_pairs import StemAnswer, grafted_part, pairs_of


class PairsSerializer(serializers.Serializer):
    """Pairs to be expected: the mean, a bad day (tenth percentile) and a good one (ninetieth)."""

    mean = serializers.FloatField()
    bad_day = serializers.IntegerField()
    good_day = serializers.IntegerField()


class SuccessionSerializer(serializers.Serializer):
    """The same seed of one side sown on so many days, so many days apart."""

    sowings = serializers.IntegerField()
    apart = serializers.IntegerField()
    pairs = PairsSerializer()


class StemAnswerSerializer(serializers.Serializer):
    pairs = serializers.IntegerField(allow_null=True, help_text="Of the stems measured; null if none were.")
    rootstocks_left = serializers.IntegerField()
    scions_left = serializers.IntegerField()
    expected = PairsSerializer(allow_null=True)
    most = serializers.IntegerField(help_text="Stems of the scarcer side.")
    successions = SuccessionSerializer(many=True)


def _parameters() -> list[OpenApiParameter]:
    fields = {name: field for form in FORMS.values() for name, field in form.base_fields.items()}
    by = OpenApiParameter(
        "by", str, enum=list(FORMS), description="What is known of the stems; `sown` without it."
    )
    return [by, *(OpenApiParameter(name, str, description=str(field.label)) for name, field in fields.items())]


class BatchStems(Operation):
    needs = ("production.see_work",)

    @extend_schema(
        operation_id="batch_stems",
        parameters=_parameters(),
        responses={200: StemAnswerSerializer, **PROBLEMS},
    )
    def get(self, request: Request, code: str, number: int) -> Response:
        """Pairs by sowing days, from measured stems, or from their mean and spread. What is left out is as usual.

        Lists are written as on the page: `2.1 2.3 2.0x14` for stems, a line `2027-03-02 60` for each sowing.
        """
        part = grafted_part(code, number)
        if part is None:
            raise Http404
        by = request.query_params.get("by", "sown")
        if by not in FORMS:
            raise serializers.ValidationError({"by": [f"Write one of {', '.join(FORMS)}."]})
        return Response(StemAnswerSerializer(self._answer(part, by, request)).data)

    def _answer(self, part: Part, by: str, request: Request) -> StemAnswer:
        form = form_of(by, part, request.query_params, asked=True)
        if not form.is_valid():
            raise serializers.ValidationError(faults_by_name(form.errors))
        return pairs_of(by, form.cleaned_data, part)
