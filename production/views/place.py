"""One place: what stands there tonight and on each night to come."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from orders.access import needs, nursery_of
from orders.tables.writing import file_asked

from .. import exports
from ..models import Place
from ..queries.place import place_view


@needs("production.see_work")
@require_safe
def places_tonight(request: HttpRequest) -> HttpResponseBase:
    """Every place, and how full it is tonight."""
    today = nursery_of(request).today()
    views = [place_view(row, today=today, nights=1) for row in Place.objects.filter(active=True)]
    if file_asked(request):
        return exports.PLACES.answer(views)
    return render(request, "production/places_tonight.html", {"views": views, "section": "today"})


@needs("production.see_work")
@require_safe
def place(request: HttpRequest, pk: int) -> HttpResponseBase:
    row = get_object_or_404(Place, pk=pk)
    view = place_view(row, today=nursery_of(request).today())
    if file_asked(request):
        return exports.NIGHTS.answer(view.nights)
    others = Place.objects.filter(active=True).exclude(pk=pk)
    return render(request, "production/place.html", {"view": view, "others": others, "section": "today"})
