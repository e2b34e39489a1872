"""Driving Debian's chromium: sizes, signing in, and the check that axe finds nothing."""

from collections.abc import Callable
from typing import Any

from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.test import Client

SIZES = {"phone": {"width": 390, "height": 844}, "desk": {"width": 1280, "height": 900}}
LAUNCH = [
    "--no-sandbox",  # Debian's chromium cannot make its sandbox in a container or as root
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-dev-shm-usage",
    "--no-first-run",
]


def open_page(new_context: Callable, address: str, size: str, user: Any = None) -> Any:
    """A page of its own context, at one of SIZES; relative addresses lead to the running service."""
    context = new_context(
        viewport=SIZES[size],
        base_url=address,
        has_touch=size == "phone",
        is_mobile=size == "phone",
        locale="en-GB",
    )
    if user:
        context.add_cookies([session_cookie(user, address)])
    page = context.new_page()
    page.set_default_timeout(30_000)
    page.trouble = []
    page.on("pageerror", lambda error: page.trouble.append(str(error)))
    page.on("console", lambda message: note_blocked(page, message))
    return page


def session_cookie(user: Any, address: str) -> dict[str, str]:
    """Signed in as the sign-in page would do it, without filling it in again for every test."""
    client = Client()
    client.force_login(user, backend=settings.AUTHENTICATION_BACKENDS[-1])
    name = settings.SESSION_COOKIE_NAME
    return {"name": name, "value": client.cookies[name].value, "url": address}


def follow(page: Any, way: Any) -> None:
    """Press what leads to another page, and wait until we are there."""
    with page.expect_navigation():
        way.click()


NO_TROUBLE = (
    "Failed to load resource",  # a 4xx answer
    "htmx:sendAbort",  # an answer that a newer question, or leaving the page, made needless
    "htmx:afterRequest",  # said once more after each of the two
)


def note_blocked(page: Any, message: Any) -> None:
    """Chromium says on its console what the CSP kept out; what else it says there is no trouble."""
    if message.type == "error" and not any(words in message.text for words in NO_TROUBLE):
        page.trouble.append(message.text)


def assert_accessible(page: Any) -> None:
    """axe finds nothing to mend on the page as it stands now (WCAG 2.2 AA and axe's best practices)."""
    results = Axe().run(page)
    assert not results.violations_count, f"{page.url}\n{results.generate_report()}"


def assert_fits(page: Any) -> None:
    """Nothing makes the page itself scroll sideways; a wide table scrolls inside its own frame."""
    wide, shown = page.evaluate("[document.documentElement.scrollWidth, document.documentElement.clientWidth]")
    assert wide <= shown, f"{page.url} is {wide} px wide on a screen of {shown} px"


def assert_holds(page: Any) -> None:
    """The page fits at both sizes, and axe finds nothing on it at the size it was opened at."""
    opened = page.viewport_size
    for size in SIZES.values():
        page.set_viewport_size(size)
        assert_fits(page)
    page.set_viewport_size(opened)
    assert_accessible(page)
