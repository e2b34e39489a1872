"""GRAFTWRIGHT_REQUIRE: a session cannot pass by leaving out what it must run."""

import pytest

from tests.required import Required, required_marks

pytest_plugins = ["pytester"]

PASSES = "def test_paper(): pass"
SKIPS = "def test_paper(): pytest.skip('not today')"
FAILS = "def test_paper(): assert False"
NO_SUCH_MARK = "def test_other(): pass"


def run(pytester: pytest.Pytester, source: str, *arguments: str) -> tuple[int, list[str]]:
    """One pytest session in which papers are required: its exit status, and what was left out."""
    mark = "" if source is NO_SUCH_MARK else "@pytest.mark.papers\n"
    pytester.makepyfile(f"import pytest\n{mark}{source}\n")
    pytester.makeini("[pytest]\nmarkers = papers: needs papers")
    plugin = Required({"papers"})
    without = [f"-pno:{name}" for name in ("django", "randomly", "playwright", "hypothesispytest")]
    return pytester.inline_run(*without, *arguments, plugins=[plugin]).ret, plugin.shortfalls()


@pytest.mark.parametrize("source", [SKIPS, NO_SUCH_MARK, FAILS])
def test_left_out_is_failed(pytester, source):
    status, left_out = run(pytester, source)
    assert status == pytest.ExitCode.TESTS_FAILED
    assert left_out[0] == "papers: required, but no such test passed"


def test_one_skip_among_many_is_failed(pytester):
    source = "@pytest.mark.parametrize('n', [1, 2])\ndef test_paper(n): pytest.skip('no') if n == 2 else None"
    status, left_out = run(pytester, source)
    assert status == pytest.ExitCode.TESTS_FAILED
    assert "required, but skipped" in left_out[0]


def test_what_ran_is_passed(pytester):
    assert run(pytester, PASSES) == (pytest.ExitCode.OK, [])


def test_reports_of_all_processes_are_counted(pytester):
    assert run(pytester, PASSES, "-n", "1") == (pytest.ExitCode.OK, [])


def test_a_mark_that_does_not_exist_is_refused(monkeypatch):
    monkeypatch.setenv("GRAFTWRIGHT_REQUIRE", "papers,browsers")
    with pytest.raises(pytest.UsageError, match="names no mark: browsers"):
        required_marks(known={"papers", "browser"})
