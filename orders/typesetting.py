"""HTML to tagged PDF, set in our own type. The only file that knows WeasyPrint: import it late (a second)."""

from __future__ import annotations

import threading
from functools import cache
from pathlib import Path
from typing import Any

from django.contrib.staticfiles import finders
from weasyprint import CSS, HTML
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import URLFetcher, URLFetcherResponse

# WeasyPrint tells two font files apart by the name of their family alone: were both subsets called alike, letters
# of the one would be printed with the shapes of the other. So each subset is a family of its own.
FACES = (
    ("Atkinson Next", "normal", "atkinson-next-latin-normal.woff2"),
    ("Atkinson Next", "italic", "atkinson-next-latin-italic.woff2"),
    ("Atkinson Next Ext", "normal", "atkinson-next-latin-ext-normal.woff2"),
    ("Atkinson Next Ext", "italic", "atkinson-next-latin-ext-italic.woff2"),
)

_one_at_a_time = threading.Lock()  # the fonts below are shared, and Pango does not say that it may be


class _OnlyOurFiles(URLFetcher):  # type: ignore[misc]
    """Fetches `static:<path>` from the service's own static files and refuses every other address."""

    def fetch(self, url: str, headers: dict[str, str] | None = None) -> Any:
        path = finders.find(url.removeprefix("static:")) if url.startswith("static:") else None
        if not isinstance(path, str):
            raise ValueError(f"A paper is made of the service's own files only, not of {url}")
        return URLFetcherResponse(url, Path(path).read_bytes())


@cache
def _fonts() -> tuple[FontConfiguration, CSS]:
    """Our type, unpacked once for the life of the process (four times as quick as once a paper)."""
    configuration = FontConfiguration()
    rules = "".join(
        f'@font-face {{ font-family: "{family}"; font-style: {style}; src: url("static:fonts/{file}") }}'
        for family, style, file in FACES
    )
    return configuration, CSS(string=rules, font_config=configuration, url_fetcher=_OnlyOurFiles())


def pdf(html: str) -> bytes:
    """A PDF/UA-1 file (tagged, with title and language) of one HTML document."""
    with _one_at_a_time:
        configuration, faces = _fonts()
        document = HTML(string=html, base_url="static:", url_fetcher=_OnlyOurFiles())
        made = document.write_pdf(pdf_variant="pdf/ua-1", stylesheets=[faces], font_config=configuration)
    assert isinstance(made, bytes)
    return made
