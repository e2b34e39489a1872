"""The papers of the greenhouse by API: the day sheet and the tray labels."""

from __future__ import annotations

from datetime import date

from django.http import Http404
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from orders.api.papers import PDF, PaperOperation
from orders.documents import render

from ..models import Batch
from ..papers import day_sheet_data, labels_data, labels_of_batch, labels_of_day
from ..papers.labels import Label
from ..papers.season_sheet import season_sheet_data


class DaySheet(PaperOperation):
    needs = ("production.see_work",)

    @extend_schema(operation_id="day_sheet_paper", responses=PDF)
    def get(self, request: Request, day: date) -> Response:
        """A day's work with room to write what was counted."""
        nursery = self.nursery
        data = day_sheet_data(day, today=nursery.today(), nursery=nursery)
        return self.pdf(render("pdf/day_sheet.html", data), f"work-{day.isoformat()}.pdf")


class SeasonSheet(PaperOperation):
    needs = ("production.see_work",)

    @extend_schema(operation_id="season_sheet_paper", responses=PDF)
    def get(self, request: Request) -> Response:
        """The season from this week on: loads by week, conflicts in sentences, orders by week of pickup."""
        data = season_sheet_data(today=self.today, nursery=self.nursery)
        return self.pdf(render("pdf/season_sheet.html", data), f"season-{self.today.isoformat()}.pdf")


class LabelOperation(PaperOperation):
    needs = ("production.see_work",)

    def labels(self, found: list[Label], name: str) -> Response:
        if not found:
            raise Http404
        data = labels_data(found, nursery=self.nursery)
        return self.pdf(render("pdf/labels.html", data), f"labels-{name}.pdf")


class DayLabels(LabelOperation):
    @extend_schema(operation_id="day_labels", responses=PDF)
    def get(self, request: Request, day: date) -> Response:
        """A label for each tray that is sown or grafted on a day; 404 when there is none."""
        return self.labels(labels_of_day(day), day.isoformat())


class BatchLabels(LabelOperation):
    @extend_schema(operation_id="batch_labels", responses=PDF)
    def get(self, request: Request, code: str) -> Response:
        """A label for each tray of a batch."""
        batch = get_object_or_404(Batch, code=code)
        return self.labels(labels_of_batch(batch), batch.code)
