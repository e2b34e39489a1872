"""The page that looks at a season file, in a real browser: chosen from disk, answered, refused, taken away."""

from pathlib import Path

import pytest

from production.planning.season_file import read_plan, read_season
from tests.browser import assert_holds, follow
from tests.nursery import working_nursery

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
CHAMBER = Path(__file__).parents[1] / "planning" / "season_files" / "full_chamber.json"


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_a_file_from_disk_is_answered_and_its_plan_taken_away(open_page, size, tmp_path):
    page = open_page(size, working_nursery().grower)
    page.goto("/season/")
    follow(page, page.get_by_role("link", name="Look at a season file"))
    assert_holds(page)
    page.get_by_label("Season file").set_input_files(CHAMBER)
    follow(page, page.get_by_role("button", name="Answer its lines"))
    assert page.get_by_text("Line 3 does not fit on").count()
    page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
    assert_holds(page)
    page.get_by_label("Season file").set_input_files(CHAMBER)
    with page.expect_download() as taken:
        page.get_by_role("button", name="Download its plan").click()
    plan = read_plan(Path(taken.value.path()).read_text(), read_season(CHAMBER.read_text()))
    assert len(plan.plans) == 2


def test_what_is_wrong_in_a_file_is_listed_first(open_page, tmp_path):
    bad = tmp_path / "bad.json"
    bad.write_text('{"format": "season of a grafting nursery", "version": 1}')
    page = open_page("phone", working_nursery().grower)
    page.goto("/season/try/")
    page.get_by_label("Season file").set_input_files(bad)
    follow(page, page.get_by_role("button", name="Answer its lines"))
    assert page.get_by_role("alert").get_by_text("lines: It is missing.").count()
    assert_holds(page)


def test_the_season_is_downloaded_from_its_page(open_page):
    page = open_page("desk", working_nursery().grower)
    page.goto("/season/")
    with page.expect_download() as taken:
        page.get_by_role("link", name="Download the season").click()
    assert taken.value.suggested_filename.startswith("season-")
    assert len(read_season(Path(taken.value.path()).read_text()).season.places) == 5
