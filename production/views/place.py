"""One place: what stands there tonight and on each night to come."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from orders.access import needs, nursery_of

from ..models import Place
from ..queries.place import place_view


@needs("production.see_work")
@require_safe
def places_tonight(request: HttpRequest) -> HttpResponse:
    """Every place, and how full it is tonight."""
    today = nursery_of(request).today()
    views = [place_view(row, today=today, nights=1) for row in Place.objects.filter(active=True)]
    return render(request, "production/places_tonight.html", {"views": views, "section": "today"})


@needs("production.see_work")
@require_safe
def place(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Place, pk=pk)
    view = place_view(row, today=nursery_of(request).today())
    others = Place.objects.filter(active=True).exclude(pk=pk)
    return render(request, "production/place.html", {"view": view, "others": others, "section": "today"})
