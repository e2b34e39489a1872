"""What every API operation shares: its permission, the nursery's day, and the shape of a refusal."""

from __future__ import annotations

from datetime import date
from typing import Any, cast

from drf_spectacular.utils import OpenApiResponse
from rest_framework import serializers
from rest_framework.permissions import BasePermission, IsAuthenticated
from rest_framework.request import Request
from rest_framework.views import APIView

from ..models import Nursery, User


class FaultSerializer(serializers.Serializer):
    field = serializers.CharField(allow_blank=True)
    reason = serializers.CharField()
    mend = serializers.CharField(allow_blank=True)


class ProblemSerializer(serializers.Serializer):
    """Problem details (RFC 9457), as application/problem+json."""

    type = serializers.CharField()
    title = serializers.CharField()
    status = serializers.IntegerField()
    detail = serializers.CharField(allow_blank=True)
    faults = FaultSerializer(many=True, required=False)


def _problem(says: str) -> OpenApiResponse:
    return OpenApiResponse(ProblemSerializer, description=says)


# What any operation may answer besides what it is for.
PROBLEMS: dict[int, Any] = {
    400: _problem("A field needs mending, or the values are refused. Nothing was changed."),
    401: _problem("Not signed in."),
    403: _problem("Signed in, but not allowed."),
    404: _problem("There is no such thing."),
    409: _problem("Refused as things stand. Nothing was changed."),
}


class MayDo(BasePermission):
    """The view's own `needs`, as pages have them."""

    def has_permission(self, request: Request, view: APIView) -> bool:
        return bool(request.user and request.user.has_perms(getattr(view, "needs", ())))


class Operation(APIView):
    """One operation. `needs` lists permission codes; a house test finds it on every one."""

    permission_classes = [IsAuthenticated, MayDo]
    needs: tuple[str, ...] = ()

    @property
    def by(self) -> User:
        return cast("User", self.request.user)

    @property
    def today(self) -> date:
        return Nursery.current().today()

    def checked(self, serializer: type[serializers.Serializer], request: Request) -> dict[str, Any]:
        """The request's body, validated; raises ValidationError with every fault."""
        taken = serializer(data=request.data, context={"request": request})
        taken.is_valid(raise_exception=True)
        return cast("dict[str, Any]", taken.validated_data)
