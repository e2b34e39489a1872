"""The service's addresses and the gallery's: a page for each group of parts, open without signing in."""

from django.contrib.auth.decorators import login_not_required
from django.shortcuts import render
from django.urls import path

from config.urls import urlpatterns as service

from . import gallery_data

PAGES = ("desk", "orders", "today", "nursery", "strands", "season")


@login_not_required
def gallery(request, page):
    return render(request, f"gallery/{page}.html", gallery_data.context())


urlpatterns = [*service, path("gallery/<page>/", gallery, name="gallery")]
