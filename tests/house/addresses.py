"""All addresses of the service but the admin's, for the house tests that walk them."""

from collections.abc import Callable, Iterator
from typing import Any

from django.urls import URLPattern, get_resolver


def addresses(patterns: Any = None, before: str = "") -> Iterator[tuple[str, str | None, Callable]]:
    """Path, name and view of each address."""
    for pattern in get_resolver().url_patterns if patterns is None else patterns:
        path = before + str(pattern.pattern)
        if isinstance(pattern, URLPattern):
            yield path, pattern.name, pattern.callback
        elif not path.startswith("admin/"):  # Django's own, with checks of its own
            yield from addresses(pattern.url_patterns, path)


def needs(view: Callable, *, to_write: bool = False) -> tuple[str, ...]:
    """The permission codes on a page's function, on the class behind an API operation, or given to it there."""
    of_class = getattr(view, "view_class", None) or getattr(view, "cls", None)
    given = getattr(view, "initkwargs", {}).get("needs")
    writing = getattr(of_class, "needs_to_write", None) if to_write else None
    return given or writing or getattr(view, "needs", ()) or getattr(of_class, "needs", ())
