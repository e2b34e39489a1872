"""The nursery's settings and who signs in, by API."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from .. import accounts
from ..access import EDIT_NURSERY
from ..forms.nursery import NurserySettings as Settings
from ..models import Nursery, User
from .base import PROBLEMS, Operation
from .records import OnlyRecord


class NurserySettings(OnlyRecord):
    needs = (EDIT_NURSERY,)
    kind = Settings()

    def record(self) -> Nursery:
        return Nursery.current()


class UserSerializer(serializers.ModelSerializer):
    name = serializers.CharField(source="get_full_name")
    role = serializers.SerializerMethodField()
    active = serializers.BooleanField(source="is_active")
    has_token = serializers.SerializerMethodField()

    class Meta:
        model = User
        fields = ["id", "username", "name", "role", "language", "active", "has_token"]

    def get_role(self, user: User) -> str:
        return accounts.role_of(user)

    def get_has_token(self, user: User) -> bool:
        return hasattr(user, "auth_token")


class NewUserSerializer(serializers.Serializer):
    username = serializers.CharField(max_length=150)
    name = serializers.CharField(max_length=150, allow_blank=True, default="")
    role = serializers.ChoiceField(accounts.ROLES, default=accounts.CREW)
    password = serializers.CharField(trim_whitespace=False, write_only=True)


class EditUserSerializer(serializers.Serializer):
    name = serializers.CharField(max_length=150, allow_blank=True)
    role = serializers.ChoiceField(accounts.ROLES)
    language = serializers.ChoiceField(settings.LANGUAGES, allow_blank=True)
    active = serializers.BooleanField()
    password = serializers.CharField(trim_whitespace=False, write_only=True, required=False)


class UserOperation(Operation):
    needs = (EDIT_NURSERY,)

    def user(self, pk: int) -> User:
        return get_object_or_404(User.objects.prefetch_related("groups").select_related("auth_token"), pk=pk)

    def said(self, user: User, code: int = status.HTTP_200_OK) -> Response:
        return Response(UserSerializer(self.user(user.pk)).data, status=code)


class Users(UserOperation):
    @extend_schema(operation_id="list_users", responses={200: UserSerializer(many=True), **PROBLEMS})
    def get(self, request: Request) -> Response:
        """Everybody who signs in or once did."""
        found = User.objects.prefetch_related("groups").select_related("auth_token").order_by("pk")
        return Response(UserSerializer(found, many=True).data)

    @extend_schema(operation_id="new_user", request=NewUserSerializer, responses={201: UserSerializer, **PROBLEMS})
    def post(self, request: Request) -> Response:
        """Somebody new who may sign in."""
        user = accounts.make_user(by=self.by, **self.checked(NewUserSerializer, request))
        return self.said(user, status.HTTP_201_CREATED)


class UserDetail(UserOperation):
    @extend_schema(operation_id="read_user", responses={200: UserSerializer, **PROBLEMS})
    def get(self, request: Request, pk: int) -> Response:
        """One user."""
        return self.said(self.user(pk))

    @extend_schema(
        operation_id="edit_user", request=EditUserSerializer, responses={200: UserSerializer, **PROBLEMS}
    )
    def patch(self, request: Request, pk: int) -> Response:
        """Change a user: only what is given. Not active, they may no longer sign in and their token is gone."""
        user = self.user(pk)
        present: dict[str, Any] = {
            "name": user.get_full_name(),
            "role": accounts.role_of(user),
            "language": user.language,
            "active": user.is_active,
        }
        given = self.checked(EditUserSerializer, request, of=user, partial=True)
        return self.said(accounts.change_user(user=user, by=self.by, **present | given))


class TokenSerializer(serializers.Serializer):
    token = serializers.CharField()


class UserToken(UserOperation):
    @extend_schema(operation_id="make_token", request=None, responses={201: TokenSerializer, **PROBLEMS})
    def post(self, request: Request, pk: int) -> Response:
        """A new token for the user's programs; an older one stops working."""
        made = accounts.make_token(user=self.user(pk), by=self.by)
        return Response(TokenSerializer({"token": made}).data, status=status.HTTP_201_CREATED)

    @extend_schema(operation_id="drop_token", responses={204: None, **PROBLEMS})
    def delete(self, request: Request, pk: int) -> Response:
        """Shut out the programs that use the user's token."""
        accounts.drop_token(user=self.user(pk), by=self.by)
        return Response(status=status.HTTP_204_NO_CONTENT)
