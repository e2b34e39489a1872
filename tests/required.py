"""GRAFTWRIGHT_REQUIRE names marks; a session in which their tests were left out cannot pass."""

import os
from collections import defaultdict

import pytest


def required_marks(known: set[str]) -> set[str]:
    names = {name for name in os.environ.get("GRAFTWRIGHT_REQUIRE", "").split(",") if name}
    if unknown := names - known:
        raise pytest.UsageError(f"GRAFTWRIGHT_REQUIRE names no mark: {', '.join(sorted(unknown))}")
    return names


class Required:
    """The pytest plugin that counts: under xdist the reports of all processes come together in its main one."""

    def __init__(self, marks: set[str]) -> None:
        self.marks = marks
        self.passed: dict[str, int] = defaultdict(int)
        self.skipped: dict[str, list[str]] = defaultdict(list)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        for name in self.marks & set(report.keywords):
            if report.skipped:
                self.skipped[name].append(report.nodeid)
            elif report.when == "call" and report.passed:
                self.passed[name] += 1

    def shortfalls(self) -> list[str]:
        idle = sorted(name for name in self.marks if not self.passed[name])
        never = [f"{name}: required, but no such test passed" for name in idle]
        skips = [(name, node) for name in sorted(self.skipped) for node in self.skipped[name]]
        return never + [f"{name}: required, but skipped: {node}" for name, node in skips]

    @pytest.hookimpl(trylast=True)
    def pytest_sessionfinish(self, session: pytest.Session) -> None:
        if not hasattr(session.config, "workerinput") and self.shortfalls():
            session.exitstatus = pytest.ExitCode.TESTS_FAILED

    def pytest_terminal_summary(self, terminalreporter: pytest.TerminalReporter) -> None:
        for line in self.shortfalls():
            terminalreporter.write_line(f"GRAFTWRIGHT_REQUIRE: {line}", red=True)
