"""Papers, letters, calls and failed work by API: what the pages show and do, for those who may."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from django.core.exceptions import PermissionDenied
from django.shortcuts import get_object_or_404
from django.utils.http import content_disposition_header
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers, status
from rest_framework.renderers import BaseRenderer, JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from .. import documents, drafts, jobs, letters
from ..models import Document, Job, Letter
from ..problems import problem
from .base import BEFORE, PROBLEMS, REST, Operation, one_of
from .orders import LetterSerializer, PaperSerializer


class PdfRenderer(BaseRenderer):
    """Bytes as they are; a problem, which any operation may answer instead, as JSON."""

    media_type = "application/pdf"
    format = "pdf"
    charset = None
    render_style = "binary"

    def render(
        self, data: Any, accepted_media_type: str | None = None, renderer_context: Mapping[str, Any] | None = None
    ) -> bytes:
        return data if isinstance(data, bytes) else json.dumps(data).encode()


class PaperOperation(Operation):
    """An operation that answers with a PDF."""

    renderer_classes = [PdfRenderer, JSONRenderer]

    def pdf(self, content: bytes, name: str) -> Response:
        disposition = content_disposition_header(False, name) or "inline"
        return Response(content, content_type="application/pdf", headers={"Content-Disposition": disposition})

    def handle_exception(self, exc: Exception) -> Response:
        if isinstance(exc, documents.PapersOff):
            return problem(
                status_code=status.HTTP_503_SERVICE_UNAVAILABLE, title="Papers are off", detail=str(exc)
            )
        return super().handle_exception(exc)


PDF: dict[Any, Any] = {(200, "application/pdf"): OpenApiTypes.BINARY, **PROBLEMS}


class Papers(Operation):
    needs = ("orders.see_orders",)

    @extend_schema(
        operation_id="papers", parameters=[BEFORE, REST], responses={200: PaperSerializer(many=True), **PROBLEMS}
    )
    def get(self, request: Request) -> Response:
        """The papers that this user may see, newest first."""
        readable = documents.kinds_for(self.by)
        found = Document.objects.filter(kind__in=readable).defer("content", "data")
        return self.listed(request, found, PaperSerializer, by="before")


class Paper(PaperOperation):
    @extend_schema(operation_id="paper", responses=PDF)
    def get(self, request: Request, token: str) -> Response:
        """A paper as it was issued, byte for byte."""
        document = get_object_or_404(Document, token=token)
        if document.kind not in documents.kinds_for(self.by):
            raise PermissionDenied
        return self.pdf(bytes(document.content), documents.file_name(document))


class WholeLetterSerializer(LetterSerializer):
    customer = serializers.CharField(source="customer.name")
    phone = serializers.CharField(source="customer.phone")
    order = serializers.CharField(source="order.code", default=None)
    paper = serializers.CharField(source="document.token", default=None)

    class Meta(LetterSerializer.Meta):
        fields = [
            *LetterSerializer.Meta.fields,
            "customer", "phone", "order", "paper", "text", "html", "calendar", "call_words", "attempts",
            "message_id", "ended_by", "ended_reason",
        ]  # fmt: skip


class DraftWordsSerializer(serializers.Serializer):
    subject = serializers.CharField(max_length=200, required=False)
    text = serializers.CharField(max_length=drafts.LONGEST, required=False, trim_whitespace=False)


class LetterOperation(Operation):
    needs = ("orders.send_letters",)

    def letter(self, pk: int) -> Letter:
        return get_object_or_404(Letter.objects.select_related("customer", "order", "document"), pk=pk)

    def said(self, letter: Letter) -> Response:
        return Response(WholeLetterSerializer(self.letter(letter.pk)).data)


class Letters(LetterOperation):
    @extend_schema(
        operation_id="letters",
        parameters=[BEFORE, REST, OpenApiParameter("state", str, enum=Letter.State.values)],
        responses={200: WholeLetterSerializer(many=True), **PROBLEMS},
    )
    def get(self, request: Request) -> Response:
        """Letters and calls, newest first; `state=to_call` is the call list, `draft` what waits to be read."""
        found = Letter.objects.select_related("customer", "order", "document")
        if state := one_of(request, "state", Letter.State.values):
            found = found.filter(state=state)
        return self.listed(request, found, WholeLetterSerializer, by="before")


class LetterDetail(LetterOperation):
    @extend_schema(operation_id="letter", responses={200: WholeLetterSerializer, **PROBLEMS})
    def get(self, request: Request, pk: int) -> Response:
        """One letter as it was written, with what became of it."""
        return self.said(self.letter(pk))

    @extend_schema(
        operation_id="letter_change",
        request=DraftWordsSerializer,
        responses={200: WholeLetterSerializer, **PROBLEMS},
    )
    def patch(self, request: Request, pk: int) -> Response:
        """Other words for a draft."""
        letter, words = self.letter(pk), self.checked(DraftWordsSerializer, request)
        subject, text = words.get("subject", letter.subject), words.get("text", letter.text)
        return self.said(drafts.change(letter=letter, subject=subject, text=text, by=self.by))


class LetterSend(LetterOperation):
    @extend_schema(
        operation_id="letter_send",
        request=DraftWordsSerializer,
        responses={200: WholeLetterSerializer, **PROBLEMS},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Send a draft, in other words if they are given."""
        words = self.checked(DraftWordsSerializer, request)
        return self.said(drafts.send(letter=self.letter(pk), by=self.by, **words))


class LetterPutAside(LetterOperation):
    @extend_schema(
        operation_id="letter_put_aside", request=None, responses={200: WholeLetterSerializer, **PROBLEMS}
    )
    def post(self, request: Request, pk: int) -> Response:
        """A draft is not to be sent."""
        return self.said(drafts.put_aside(letter=self.letter(pk), by=self.by))


class LetterTakeUp(LetterOperation):
    @extend_schema(operation_id="letter_take_up", request=None, responses={200: WholeLetterSerializer, **PROBLEMS})
    def post(self, request: Request, pk: int) -> Response:
        """What was put aside is a draft again."""
        return self.said(drafts.take_up(letter=self.letter(pk), by=self.by))


class LetterRetry(LetterOperation):
    @extend_schema(operation_id="letter_retry", request=None, responses={200: WholeLetterSerializer, **PROBLEMS})
    def post(self, request: Request, pk: int) -> Response:
        """Send a letter that failed, was sent already, or was to be told by telephone."""
        return self.said(letters.send_again(letter=self.letter(pk), by=self.by))


class LetterTick(LetterOperation):
    @extend_schema(operation_id="letter_tick", request=None, responses={200: WholeLetterSerializer, **PROBLEMS})
    def post(self, request: Request, pk: int) -> Response:
        """The customer was told by telephone."""
        return self.said(letters.tick(letter=self.letter(pk), by=self.by))


class ToldSerializer(serializers.Serializer):
    letters = serializers.ListField(
        child=serializers.PrimaryKeyRelatedField(queryset=Letter.objects.all()), allow_empty=False, max_length=200
    )


class LettersTold(LetterOperation):
    @extend_schema(
        operation_id="letters_told",
        request=ToldSerializer,
        responses={200: WholeLetterSerializer(many=True), **PROBLEMS},
    )
    def post(self, request: Request) -> Response:
        """Several letters were told in one call; all are ticked off, or none."""
        told = letters.tick_all(told=self.checked(ToldSerializer, request)["letters"], by=self.by)
        found = Letter.objects.select_related("customer", "order", "document")
        found = found.filter(pk__in=[letter.pk for letter in told])
        return Response(WholeLetterSerializer(found, many=True).data)


class JobSerializer(serializers.ModelSerializer):
    class Meta:
        model = Job
        fields = ["id", "kind", "key", "state", "attempts", "error", "created_at", "done_at"]


class FailedJobs(LetterOperation):
    @extend_schema(operation_id="failed_jobs", responses={200: JobSerializer(many=True), **PROBLEMS})
    def get(self, request: Request) -> Response:
        """The service's own work that failed and waits for a person."""
        return Response(JobSerializer(Job.objects.filter(state=Job.State.FAILED), many=True).data)


class JobRetry(LetterOperation):
    @extend_schema(operation_id="job_retry", request=None, responses={200: JobSerializer, **PROBLEMS})
    def post(self, request: Request, pk: int) -> Response:
        """Try failed work again."""
        job = get_object_or_404(Job, pk=pk)
        jobs.retry(job)
        job.refresh_from_db()
        return Response(JobSerializer(job).data)
