"""One batch: where its trays stand, what was counted, how it thins; and what is recorded there."""

from __future__ import annotations

import uuid
from dataclasses import dataclass

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, HttpResponseBase, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from orders.access import needs, nursery_of, user_of
from orders.refusals import Refused
from orders.tables.writing import file_asked

from .. import exports
from ..forms.recording import CorrectForm, CountForm, ReasonForm, RegroupForm
from ..line_costs import ToBuy, seed_for_part
from ..models import Allocation, Batch, Count, Part, Sowing, Stay
from ..planning.allocation import LineOutlook
from ..queries import trouble
from ..queries.batch import PartView, batches, history_of, list_of_batches, part_view
from ..queries.shares import GROWING, Enough, in_a_hundred, lines_expect, trays_enough
from ..queries.works import which_sowing
from ..services import growing
from ..services.counting import correct_count, record_count
from ..services.handing_over import clear_out
from .asking import put_on

A_PAGE = 50


@needs("production.see_work")
@require_safe
def batch_list(request: HttpRequest) -> HttpResponseBase:
    """Every batch that lives or is planned, or those `?only=late` or `?only=risk`; `?gone` those that are over."""
    gone, only = "gone" in request.GET, request.GET.get("only", "")
    troubled = trouble.ONLY.get(only)
    found = list_of_batches(gone=gone, only=troubled(nursery_of(request)) if troubled else None)
    if file_asked(request):
        return exports.BATCHES.answer(exports.parts_of(found.iterator(200)))
    page = Paginator(found, A_PAGE).get_page(request.GET.get("page"))
    context = {"page": page, "gone": gone, "only": only if troubled else "", "section": "today"}
    return render(request, "production/batch_list.html", context)


@dataclass(frozen=True)
class _Shown:
    """A part with the form to count it, and what its lines are to expect."""

    view: PartView
    form: CountForm | None
    expected: dict[int, LineOutlook]
    sees_costs: bool
    enough: Enough | None

    @property
    def chances(self) -> tuple[int, int] | None:
        """Times in a hundred that what is planned to be sown is enough: as planned, and with every cell filled."""
        return (in_a_hundred(self.enough.as_planned), in_a_hundred(self.enough.filled)) if self.enough else None

    @property
    def sowings(self) -> list[tuple[Sowing, ToBuy | None]]:
        """Each sowing with the packs of seed for it and, for those who may see it, what that costs."""
        return seed_for_part(self.view.part, costs=self.sees_costs)

    @property
    def lines(self) -> list[tuple[Allocation, int | None]]:
        """Each line with the times in a hundred that it is served in full; None once that is no question."""
        growing = self.view.part.state in GROWING
        return [
            (each, in_a_hundred(1 - self.expected[each.line_id].short) if growing and self.expected else None)
            for each in self.view.allocations
        ]


@needs("production.see_work")
@require_safe
def batch(request: HttpRequest, code: str) -> HttpResponseBase:
    """The page of one batch, with a form to count each of its parts."""
    found = get_object_or_404(batches(), code=code)
    if file_asked(request):
        return exports.COUNTS.answer(count for part in found.parts.all() for count in part.counts.all())
    return _page(request, found)


def _page(
    request: HttpRequest, row: Batch, refused: CountForm | None = None, of: Part | None = None
) -> HttpResponse:
    nursery = nursery_of(request)
    views = [part_view(part, today=nursery.today()) for part in row.parts.all()]
    expected = lines_expect(row, nursery)
    costs = request.user.has_perm("orders.see_costs")
    enough = trays_enough(row, nursery)
    parts = [
        _Shown(
            view, refused if view.part == of else _count_form(view), expected, costs, enough.get(view.part.pk)
        )
        for view in views
    ]  # fmt: skip
    context = {"batch": row, "parts": parts, "history": history_of(row)[:60], "section": "today"}
    return render(request, "production/batch.html", context, status=422 if refused else 200)


def _count_form(view: PartView, data: QueryDict | None = None) -> CountForm | None:
    part, tally = view.part, view.tally
    if part.state in (Part.State.GONE, Part.State.DROPPED) or not tally.begun:
        return None
    grown = [] if tally.grafted_kind and tally.grafted is None else [("", _("the plants"))]
    sides = [] if tally.grafted is not None else [
        (str(each.sowing.pk), _sowing_words(part, each.sowing)) for each in tally.sowings if each.sown
    ]  # fmt: skip
    kinds = [Count.Kind.LOST, *([Count.Kind.EMERGED, Count.Kind.USABLE] if sides else [])]
    kinds += [Count.Kind.TAKEN] if tally.grafted is not None else []
    return CountForm(
        data, sowings=[*grown, *sides], kinds=[str(kind) for kind in kinds], prefix=f"part{part.pk}",
        initial={"part": part.pk, "key": uuid.uuid4()},
    )  # fmt: skip


def _sowing_words(part: Part, sowing: Sowing) -> str:
    """'Tallis Red, sowing 2 of 2 (S7)'."""
    words = [str(sowing.variety), which_sowing(part, sowing.pk)]
    return f"{', '.join(word for word in words if word)} ({sowing.code})"


@needs("production.record_work")
@require_POST
def batch_count(request: HttpRequest, code: str, number: int) -> HttpResponse:
    """Count plants of a part outside its planned work, or record a loss and why."""
    row = get_object_or_404(batches(), code=code)
    part = get_object_or_404(row.parts, number=number)
    today = nursery_of(request).today()
    form = _count_form(part_view(part, today=today), request.POST)
    if form is None:
        messages.error(request, _("Nothing grows in %(part)s that could be counted.") % {"part": part})
        return redirect("batch", code=code)
    if form.is_valid():
        said = form.cleaned_data
        sowing = part.sowings.filter(pk=said["sowing"]).first() if said["sowing"] else None
        try:
            count = record_count(
                part=part, kind=said["kind"], quantity=said["quantity"], by=user_of(request), today=today,
                happened_on=said["happened_on"], sowing=sowing, reason=said["reason"], count_id=said["key"],
            )  # fmt: skip
        except Refused as refusal:
            put_on(form, refusal)
        else:
            messages.success(request, _("Recorded: %(count)s.") % {"count": count})
            return redirect("batch", code=code)
    return _page(request, row, form, of=part)


@needs("production.record_work")
@require_http_methods(["GET", "POST"])
def count_correct(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Put another number in place of one that was counted."""
    count = get_object_or_404(Count.objects.select_related("part__batch", "sowing__variety", "line__order"), pk=pk)
    form = CorrectForm(request.POST or None, initial={"quantity": count.quantity, "key": uuid.uuid4()})
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        try:
            correct_count(
                count=count, quantity=said["quantity"], by=user_of(request), today=nursery_of(request).today(),
                reason=said["reason"], count_id=said["key"],
            )  # fmt: skip
        except Refused as refusal:
            put_on(form, refusal)
        else:
            messages.success(request, _("%(n)s stands in place of %(before)s now.") % {
                "n": said["quantity"], "before": count.quantity
            })  # fmt: skip
            return redirect("batch", code=count.part.batch.code)
    context = {"count": count, "form": form, "section": "today"}
    return render(request, "production/count_correct.html", context, status=422 if form.errors else 200)


@needs("production.record_work")
@require_http_methods(["GET", "POST"])
def stand_regroup(request: HttpRequest, pk: int) -> HttpResponse:
    """Put trays together, or put a stand in another place, from today."""
    stay = get_object_or_404(Stay.objects.select_related("part__batch", "place", "container"), pk=pk)
    form = RegroupForm(request.POST or None, initial={"containers": stay.containers, "place": stay.place_id})
    if request.method == "POST" and form.is_valid():
        try:
            growing.regroup(
                part=stay.part, stand=stay.pk, by=user_of(request), today=nursery_of(request).today(),
                **form.cleaned_data,
            )  # fmt: skip
        except Refused as refusal:
            put_on(form, refusal)
        else:
            messages.success(request, _("Recorded."))
            return redirect("batch", code=stay.part.batch.code)
    context = {"stay": stay, "form": form, "section": "today"}
    return render(request, "production/stand_regroup.html", context, status=422 if form.errors else 200)


@needs("production.record_work")
@require_http_methods(["GET", "POST"])
def part_clear(request: HttpRequest, pk: int) -> HttpResponse:
    """What is left of a part is gone: thrown away, given away; its room is free."""
    part = get_object_or_404(Part.objects.select_related("batch"), pk=pk)
    form = ReasonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            clear_out(
                part=part,
                by=user_of(request),
                today=nursery_of(request).today(),
                reason=form.cleaned_data["reason"],
            )
        except Refused as refusal:
            put_on(form, refusal)
        else:
            messages.success(request, _("%(part)s is gone; its room is free.") % {"part": part})
            return redirect("batch", code=part.batch.code)
    context = {"part": part, "form": form, "section": "today"}
    return render(request, "production/part_clear.html", context, status=422 if form.errors else 200)
