"""What every test may lean on: the services it is marked for, a browser at phone and desk size, a worker.

Marks are in pyproject.toml. A marked test whose service is missing is skipped and says why. Where
GRAFTWRIGHT_REQUIRE names the mark ("browser,papers"), it fails instead (tests/required.py).
"""

import gc
import os
from collections.abc import Callable, Iterator

import pytest
from django.conf import settings
from django.db import connection

from tests import browser, services
from tests.required import Required, required_marks
from tests.worker import Worker, running, url_of

# live_server and playwright's event loop share a process; Django's guard takes the one for the other.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "1")

REQUIRED = required_marks(known=set(services.MISSING))


def pytest_configure(config: pytest.Config) -> None:
    config.pluginmanager.register(Required(REQUIRED), "graftwright-required")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if item.get_closest_marker("worker"):  # one worker and one beat serve all of them
            item.add_marker(pytest.mark.xdist_group("worker"))
    items.sort(key=lambda item: item.path.parent.name != "flow")  # the longest first, or one core waits for them


def pytest_collection_finish(session: pytest.Session) -> None:
    """What is imported by now stays: collecting garbage from it again and again took a twentieth of all time."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(200_000, 20, 100)


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item: pytest.Item) -> None:
    for name, missing in services.MISSING.items():
        if item.get_closest_marker(name) and (reason := missing()):
            (pytest.fail if name in REQUIRED else pytest.skip)(reason)


@pytest.fixture(scope="session", autouse=True)
def quick_passwords(django_test_environment: None) -> None:
    """Hash in no time; the real hasher takes a third of a second for each user that a test makes."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


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


@pytest.fixture(scope="session")
def worker_processes(django_db_setup, django_db_blocker, tmp_path_factory) -> Iterator[Worker]:
    with django_db_blocker.unblock():
        database = url_of(connection.settings_dict)
    with running(database, tmp_path_factory.mktemp("worker")) as worker:
        yield worker


@pytest.fixture
def worker(worker_processes: Worker, transactional_db, settings) -> Iterator[Worker]:
    """A Celery worker and beat on this test's database; this process nudges them through Redis as the pages do."""
    worker_processes.mail.taken.clear()
    settings.JOBS_EMBEDDED = False
    with worker_processes.nudged_from_here():
        yield worker_processes
