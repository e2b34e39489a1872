"""The season as a file by API: given away, and one that a program sends looked at."""

from __future__ import annotations

from collections.abc import Mapping
from typing import IO, Any, cast

from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework.parsers import BaseParser
from rest_framework.request import Request

from orders.api.base import PROBLEMS, Operation

from ..planning.season_file import write_plan, write_season
from ..services.season_files import MOST_BYTES, look_at, running_season, text_of

SEASON = OpenApiResponse(OpenApiTypes.OBJECT, description="A season file, as FORMAT.md defines it.")
PLAN = OpenApiResponse(OpenApiTypes.OBJECT, description="A plan file, as FORMAT.md defines it.")


class SeasonParser(BaseParser):
    """The text as it was sent: it is read by the format's own rules, which are stricter than JSON's."""

    media_type = "application/json"

    def parse(
        self, stream: IO[bytes], media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> dict[str, str]:
        return {"text": text_of(stream.read(MOST_BYTES + 1))}


class SeasonAsFile(Operation):
    needs = ("production.see_work",)

    @extend_schema(operation_id="season_file", responses={200: SEASON, **PROBLEMS})
    def get(self, request: Request) -> HttpResponse:
        """The running season: places, people, protocols, what is taken, what is promised, what is asked."""
        file = running_season(today=self.today, nursery=self.nursery)
        return HttpResponse(write_season(file), content_type="application/json")


class SeasonTry(Operation):
    needs = ("production.see_work",)
    parser_classes = [SeasonParser]

    @extend_schema(operation_id="season_try", request=OpenApiTypes.OBJECT, responses={200: PLAN, **PROBLEMS})
    def post(self, request: Request) -> HttpResponse:
        """Answer the lines of a season file in its order, as a plan file. Stores nothing."""
        sent = cast("dict[str, str]", request.data)
        return HttpResponse(write_plan(look_at(sent.get("text", "")).plan), content_type="application/json")
