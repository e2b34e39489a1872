"""The private link to one's own calendar by API."""

from __future__ import annotations

from django.http import Http404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orders.api.base import PROBLEMS, Operation

from ..models import CalendarLink
from ..services import calendar_links


class CalendarLinkSerializer(serializers.Serializer):
    address = serializers.SerializerMethodField()
    made_at = serializers.DateTimeField()

    def get_address(self, link: CalendarLink) -> str:
        return calendar_links.address_of(link)


class MyCalendar(Operation):
    needs = ("production.see_work",)

    @extend_schema(operation_id="my_calendar", responses={200: CalendarLinkSerializer, **PROBLEMS})
    def get(self, request: Request) -> Response:
        """The link of whoever asks; not found while there is none."""
        link = calendar_links.link_of(self.by)
        if link is None:
            raise Http404
        return Response(CalendarLinkSerializer(link).data)

    @extend_schema(
        operation_id="make_calendar_link", request=None, responses={201: CalendarLinkSerializer, **PROBLEMS}
    )
    def post(self, request: Request) -> Response:
        """Make a link; an older one leads nowhere from now on."""
        return Response(CalendarLinkSerializer(calendar_links.make(user=self.by)).data, status=201)

    @extend_schema(operation_id="drop_calendar_link", responses={204: None, **PROBLEMS})
    def delete(self, request: Request) -> Response:
        """Take the link back."""
        calendar_links.drop(user=self.by)
        return Response(status=204)
