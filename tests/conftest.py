"""What every test may lean on: the services it is marked for, a browser at phone and desk size, a worker.

Marks are in pyproject.toml. A marked test whose service is missing is skipped and says why. Where
GRAFTWRIGHT_REQUIRE names the mark ("browser,papers"), it fails instead, and so does a session in which a test of
that mark was skipped for any reason, or in which none ran: CI cannot be green by leaving things out.
"""

import os
from collections import defaultdict
from collections.abc import Callable, Iterator

import pytest

from tests import browser, services

# live_server and playwright's event loop share a process; Django's guard takes the one for the other.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "1")

REQUIRED = {name for name in os.environ.get("GRAFTWRIGHT_REQUIRE", "").split(",") if name}
PASSED: dict[str, int] = defaultdict(int)
SKIPPED: dict[str, list[str]] = defaultdict(list)


def pytest_configure(config: pytest.Config) -> None:
    if unknown := REQUIRED - set(services.MISSING):
        raise pytest.UsageError(f"GRAFTWRIGHT_REQUIRE names no mark: {', '.join(sorted(unknown))}")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if item.get_closest_marker("worker"):  # one worker and one beat serve all of them
            item.add_marker(pytest.mark.xdist_group("worker"))


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item: pytest.Item) -> None:
    for name, missing in services.MISSING.items():
        if item.get_closest_marker(name) and (reason := missing()):
            (pytest.fail if name in REQUIRED else pytest.skip)(reason)


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """Under xdist the reports of all processes come together here, in the one that ends the session."""
    for name in REQUIRED & set(report.keywords):
        if report.skipped:
            SKIPPED[name].append(report.nodeid)
        elif report.when == "call" and report.passed:
            PASSED[name] += 1


def shortfalls() -> list[str]:
    lines = [f"{name}: required, but no such test passed" for name in sorted(REQUIRED) if not PASSED[name]]
    return lines + [f"{name}: required, but skipped: {node}" for name, nodes in SKIPPED.items() for node in nodes]


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    if not hasattr(session.config, "workerinput") and not session.config.option.collectonly and shortfalls():
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    for line in shortfalls():
        terminalreporter.write_line(f"GRAFTWRIGHT_REQUIRE: {line}", red=True)


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict) -> dict:
    return {**browser_type_launch_args, "executable_path": services.chromium(), "args": browser.LAUNCH}


@pytest.fixture
def open_page(live_server, new_context: Callable) -> Iterator[Callable]:
    """open_page("phone") or open_page("desk", user): a page on the running service, signed in if a user is named.

    When the test ends, each page must be free of script errors and of anything the CSP had to block.
    """
    pages = []

    def open_one(size: str, user=None):
        pages.append(browser.open_page(new_context, live_server.url, size, user))
        return pages[-1]

    yield open_one
    assert not (trouble := [line for page in pages for line in page.trouble]), trouble


@pytest.fixture(params=["phone", "desk"])
def page_size(request: pytest.FixtureRequest) -> str:
    """For a test that is to hold at both sizes."""
    return request.param
