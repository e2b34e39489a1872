"""What every API operation shares: its permission, the nursery's day, long lists, and the shape of a refusal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from typing import Any, cast

from django.db.models import Model, QuerySet
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse, extend_schema
from rest_framework import serializers
from rest_framework.exceptions import NotFound
from rest_framework.permissions import SAFE_METHODS, BasePermission, IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from ..models import Nursery, User
from ..refusals import Refused


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


MOST = 200  # rows of a list in one answer
BEFORE = OpenApiParameter("before", int, description=f"Only what has a smaller id; at most {MOST} come at once.")
AFTER = OpenApiParameter("after", int, description=f"Only what has a greater id; at most {MOST} come at once.")
REST = OpenApiParameter(
    "Link",
    str,
    OpenApiParameter.HEADER,
    response=[200],
    description='There are more: the address at which the list goes on, with rel="next" (RFC 8288).',
)


class MayDo(BasePermission):
    """The operation's own `needs`, as pages have them."""

    def has_permission(self, request: Request, view: APIView) -> bool:
        assert isinstance(view, Operation)
        reads = request.method in SAFE_METHODS
        codes = view.needs if reads or view.needs_to_write is None else view.needs_to_write
        return bool(request.user and request.user.has_perms(codes))


class Operation(APIView):
    """One operation. `needs` lists permission codes; a house test finds it on every one.

    `needs_to_write` stands in its place where changing asks for other codes than reading.
    """

    permission_classes = [IsAuthenticated, MayDo]
    needs: tuple[str, ...] = ()
    needs_to_write: tuple[str, ...] | None = None

    @property
    def by(self) -> User:
        return cast("User", self.request.user)

    @property
    def today(self) -> date:
        return self.nursery.today()

    @cached_property
    def nursery(self) -> Nursery:
        """As it was when the operation first asked."""
        return Nursery.current()

    def listed(
        self, request: Request, found: QuerySet, serializer: type[serializers.BaseSerializer], *, by: str
    ) -> Response:
        """The rows of a list that come next in the order of their ids, down (`by` before) or up (after).

        Where more follow, the header Link has the address of the rest. The schema has BEFORE or AFTER, and REST.
        """
        row = row_named(request, by)
        down = by == "before"
        if row is not None:
            found = found.filter(pk__lt=row) if down else found.filter(pk__gt=row)
        rows = list(found.order_by("-pk" if down else "pk")[: MOST + 1])
        answer = Response(serializer(rows[:MOST], many=True).data)
        if len(rows) > MOST:
            asked = request.query_params.copy()
            asked[by] = str(rows[MOST - 1].pk)
            address = request.build_absolute_uri(f"{request.path}?{asked.urlencode()}")
            answer["Link"] = f'<{address}>; rel="next"'
        return answer

    def checked(
        self,
        serializer: type[serializers.Serializer],
        request: Request,
        *,
        of: Model | None = None,
        partial: bool = False,
    ) -> dict[str, Any]:
        """The request's body, validated; raises ValidationError with every fault, names we do not know among them.

        With `partial` only what is given is asked for: it is to change `of`.
        """
        taken = serializer(of, data=request.data, partial=partial, context={"request": request})
        valid = taken.is_valid()
        unknown = {name: [_("There is no such field here.")] for name in _unknown(taken, request.data)}
        if unknown or not valid:
            raise serializers.ValidationError({**taken.errors, **unknown})
        return cast("dict[str, Any]", taken.validated_data)


@extend_schema(exclude=True)
class Nowhere(APIView):
    """An address below /api/ that no operation has: a problem for programs, not the page for people."""

    permission_classes = [IsAuthenticated]

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        raise NotFound(_("There is no such operation. Addresses end with a slash; /api/schema/ lists them."))


def faults_by_name(errors: Any) -> dict[str, list[Any]]:
    """A form's errors by the names that the API has for its fields."""
    return {"non_field_errors" if name == "__all__" else name: list(said) for name, said in errors.items()}


def row_named(request: Request, name: str) -> int | None:
    """The id of a row that the address names with `before` or `after`."""
    text = request.query_params.get(name, "")
    if text and not (text.isdecimal() and len(text) <= 18):
        raise serializers.ValidationError({name: [_("Write a number, the id of a row.")]})
    return int(text) if text else None


def one_of(request: Request, name: str, words: Iterable[str]) -> str:
    """What the address says by `name`, '' where it says nothing; raises Refused for any other word."""
    said, known = request.query_params.get(name, ""), list(words)
    if said and said not in known:
        mend = _("Write one of these: %(words)s.") % {"words": ", ".join(known)}
        raise Refused(_("“%(said)s” is not known here.") % {"said": said}, mend=mend, field=name)
    return said


def _unknown(serializer: Any, data: Any) -> Iterator[str]:
    """Names in the body that no field answers to: 'quantty', 'lines.0.pikup'. A misspelling is not lost."""
    if isinstance(serializer, serializers.ListSerializer) and isinstance(data, list):
        for number, row in enumerate(data):
            yield from (f"{number}.{name}" for name in _unknown(serializer.child, row))
    elif isinstance(serializer, serializers.Serializer) and isinstance(data, Mapping):
        for name, value in data.items():
            if name not in serializer.fields:
                yield str(name)
            else:
                yield from (f"{name}.{deeper}" for deeper in _unknown(serializer.fields[name], value))
