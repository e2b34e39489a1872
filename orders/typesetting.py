"""HTML to tagged PDF, set in our own type. The only file that knows WeasyPrint: import it late (a second)."""

from __future__ import annotations

import threading
from functools import cache

from django.contrib.staticfiles import finders
from weasyprint import CSS, HTML
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import URLFetcher

_one_at_a_time = threading.Lock()  # the fonts below are shared, and Pango does not say that it may be


@cache
def _fonts() -> tuple[FontConfiguration, CSS]:
    """Our type, unpacked once for the life of the process (four times as quick as once a paper)."""
    configuration = FontConfiguration()
    faces = finders.find("fonts/paper.css")
    return configuration, CSS(filename=faces, font_config=configuration)


def pdf(html: str) -> bytes:
    """A PDF/UA-1 file (tagged, with title and language) of one HTML document."""
    with _one_at_a_time:
        configuration, faces = _fonts()
        document = HTML(string=html, url_fetcher=URLFetcher(allowed_protocols=()))  # a paper fetches nothing
        made = document.write_pdf(pdf_variant="pdf/ua-1", stylesheets=[faces], font_config=configuration)
    assert isinstance(made, bytes)
    return made
