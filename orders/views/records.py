"""The pages of one kind of plain data: its list, one record, taking it away. A subclass says what differs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

from django.contrib import messages
from django.core.paginator import Paginator
from django.db import models
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import URLPattern, path, reverse
from django.utils.functional import Promise
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from .. import exports, history, records
from ..access import needs, nursery_of, user_of
from ..forms.records import RecordEdit, RecordKind
from ..models import Nursery
from ..refusals import Refused
from ..tables.writing import ListFile, file_asked

Words = str | Promise

A_PAGE = 100


@dataclass(frozen=True, slots=True)
class Column:
    """A column of the list: what it is headed, and what it says of a row."""

    head: Words
    says: Callable[[Any, Nursery], Any]
    number: bool = False


class RecordPages(RecordKind):
    """List, page and removal of one model.

    The addresses are /nursery/<segment>/ …, by the names `<plural>`, `new_<name>`, `edit_<name>`, `remove_<name>`.
    """

    title: ClassVar[Words]
    empty: ClassVar[Words]  # what belongs here, when nothing is here yet
    new_word: ClassVar[Words]
    columns: ClassVar[Sequence[Column]] = ()
    list_template: ClassVar[str] = "orders/nursery/records.html"
    record_template: ClassVar[str] = "orders/nursery/record.html"
    shelf: ClassVar[str] = ""  # the list's own name, unless the page stands under another one

    # What a kind may say for itself.

    def rows(self, request: HttpRequest) -> models.QuerySet:
        return self.model._default_manager.all()

    @property
    def in_use(self) -> models.Q:
        fields = {field.name for field in self.model._meta.fields}
        return models.Q(active=True) if "active" in fields else models.Q()

    def lead(self, rows: models.QuerySet, nursery: Nursery) -> str:
        """The answer at the head of the list, of all rows."""
        return ""

    def more(self, record: Any, nursery: Nursery) -> dict[str, Any]:
        """What the record's page shows besides its form."""
        return {}

    def as_file(self) -> ListFile:
        """The list to take away: all that the form knows of each record."""
        return exports.records_file(self.plural, list(self.form.base_fields), self.model)

    def file_rows(self, rows: models.QuerySet) -> models.QuerySet:
        """Rows with what their columns refer to, in a fixed number of queries."""
        kept = set(self.form.base_fields)
        several = [field.name for field in self.model._meta.many_to_many if field.name in kept]
        ones = [field.name for field in self.model._meta.fields if field.is_relation and field.name in kept]
        return rows.select_related(*ones).prefetch_related(*several) if ones else rows.prefetch_related(*several)

    # The pages.

    def urls(self) -> list[URLPattern]:
        guard = needs(self.permission)
        fill_in = require_http_methods(["GET", "POST"])
        at = f"nursery/{self.segment}/"
        return [
            path(at, guard(require_safe(self.list_page)), name=self.plural),
            path(f"{at}new/", guard(fill_in(self.new_page)), name=f"new_{self.name}"),
            path(f"{at}<int:pk>/", guard(fill_in(self.record_page)), name=f"edit_{self.name}"),
            path(f"{at}<int:pk>/remove/", guard(require_POST(self.remove_page)), name=f"remove_{self.name}"),
        ]

    def list_page(self, request: HttpRequest) -> HttpResponseBase:
        nursery, words = nursery_of(request), request.GET.get("q", "").strip() if self.looked_in else ""
        rows = self.rows(request)
        # Counting what belongs to each row loses the order of its table.
        found = self.found(rows, words).order_by(*self.model._meta.ordering or ["pk"])
        if file_asked(request):
            return self.as_file().answer(self.file_rows(found))
        page = Paginator(found.filter(self.in_use), A_PAGE).get_page(request.GET.get("page"))
        others = found.exclude(self.in_use) if self.in_use else found.none()
        retired = Paginator(others, A_PAGE).get_page(request.GET.get("retired"))
        context = {
            "lead": self.lead(rows, nursery),
            "words": words,
            "keep": f"{urlencode({'q': words})}&" if words else "",
            "page": page,
            "shown": [self._row(row, nursery) for row in page],
            "retired_page": retired,
            "retired": [self._row(row, nursery) for row in retired],
        }
        return render(request, self.list_template, self._context() | context)

    def new_page(self, request: HttpRequest) -> HttpResponse:
        return self._edit(request, self.blank(nursery_of(request)))

    def record_page(self, request: HttpRequest, pk: int) -> HttpResponse:
        return self._edit(request, get_object_or_404(self.model, pk=pk))

    def remove_page(self, request: HttpRequest, pk: int) -> HttpResponse:
        record = get_object_or_404(self.model, pk=pk)
        said = str(record)
        try:
            records.remove(record=record, by=user_of(request), owned=self.owned)
        except Refused as refusal:
            messages.error(request, str(refusal))
            return redirect(f"edit_{self.name}", pk=pk)
        messages.success(request, _("%(name)s was taken away.") % {"name": said})
        return redirect(self.plural)

    # How they are made.

    def _edit(self, request: HttpRequest, record: models.Model) -> HttpResponse:
        nursery = nursery_of(request)
        data = request.POST if request.method == "POST" else None
        edit = RecordEdit(self, record, nursery=nursery, data=data)
        if data is not None and edit.is_valid():
            saved = edit.save(by=user_of(request))
            messages.success(request, _("%(name)s is saved.") % {"name": saved})
            return redirect(self.plural)
        new = record._state.adding
        context = self._context() | {
            "record": record,
            "new": new,
            "form": edit.form,
            "inlines": edit.rows,
            "history": [] if new else history.of(record)[:20],
            "remove_url": "" if new else reverse(f"remove_{self.name}", args=[record.pk]),
        }
        more = {} if new else self.more(record, nursery)
        status = 422 if data is not None else 200
        return render(request, self.record_template, context | more, status=status)

    def _row(self, row: Any, nursery: Nursery) -> dict[str, Any]:
        cells = [(column, column.says(row, nursery)) for column in self.columns]
        return {"record": row, "url": reverse(f"edit_{self.name}", args=[row.pk]), "cells": cells}

    def _context(self) -> dict[str, Any]:
        return {
            "section": "nursery",
            "shelf": self.shelf or self.plural,
            "pages": self,
            "list_url": reverse(self.plural),
            "new_url": reverse(f"new_{self.name}"),
        }
