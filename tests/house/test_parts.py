"""Every part that pages are built from, drawn by a real browser: readable, reachable, no stranger to the CSP."""

from itertools import pairwise
from pathlib import Path

import pytest
from django.conf import settings
from django.template.loader import render_to_string

from tests.browser import SIZES, assert_accessible, assert_fits
from tests.factories import NurseryFactory

from . import gallery_data
from .gallery_urls import PAGES

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# Links inside a run of text may be lower than a thumb (WCAG 2.5.8); what stands on its own may not.
TOO_LOW = """[...document.querySelectorAll('.button, button, select, nav a, .back, summary, input')]
  .filter((e) => e.offsetParent && !['checkbox', 'radio', 'hidden'].includes(e.type))
  .filter((e) => e.getBoundingClientRect().height < 43.9)
  .map((e) => `${e.outerHTML.slice(0, 80)} ${e.getBoundingClientRect().height}`)"""
TOO_SMALL = """[...document.querySelectorAll('main *, header *, footer *')]
  .filter((e) => e.checkVisibility() && [...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim()))
  .filter((e) => parseFloat(getComputedStyle(e).fontSize) < (e.closest('svg') ? 12 : 14))
  .map((e) => e.outerHTML.slice(0, 80))"""


@pytest.fixture(autouse=True)
def _gallery(settings, transactional_db):
    NurseryFactory()  # an empty nursery would lead to its first evening
    settings.ROOT_URLCONF = "tests.house.gallery_urls"
    engine = {**settings.TEMPLATES[0], "DIRS": [*settings.TEMPLATES[0]["DIRS"], Path(__file__).parent]}
    settings.TEMPLATES = [engine]


@pytest.mark.parametrize("address", [*(f"/gallery/{name}/" for name in PAGES), "/sign-in/", "/no-such-page/"])
def test_parts_hold_at_both_sizes_by_day_and_by_night(address, open_page):
    page = open_page("phone")
    page.goto(address)
    for size, scheme in (("phone", "light"), ("desk", "dark")):
        page.set_viewport_size(SIZES[size])
        page.emulate_media(color_scheme=scheme)
        assert_fits(page)
        assert page.evaluate(TOO_LOW) == []
        assert page.evaluate(TOO_SMALL) == []
        assert_accessible(page)


def test_forced_colours_keep_the_strand_and_the_thick_edges(open_page):
    page = open_page("desk")
    page.emulate_media(forced_colors="active")
    page.goto("/gallery/desk/")
    stroke = page.locator(".strand .s-scion").first.evaluate("(e) => getComputedStyle(e).stroke")
    text = page.evaluate("getComputedStyle(document.body).color")
    assert stroke == text
    button = page.get_by_role("button", name="Promise both lines")
    ink, ground = button.evaluate("(e) => [getComputedStyle(e).color, getComputedStyle(e).backgroundColor]")
    assert ink == text
    assert ground == page.evaluate("getComputedStyle(document.body).backgroundColor")


def test_a_number_is_counted_with_one_thumb_and_typed_without_script(open_page, new_context, live_server):
    page = open_page("phone")
    page.goto("/gallery/today/")
    number = page.get_by_role("spinbutton", name="Up", exact=True)
    page.get_by_role("button", name="Up: one less").click()
    assert number.input_value() == "65"
    page.get_by_role("button", name="Up: one more").click()
    assert number.input_value() == "66"
    plain = new_context(java_script_enabled=False, base_url=live_server.url).new_page()
    plain.goto("/gallery/today/")
    assert plain.get_by_role("spinbutton", name="Up").is_visible()
    assert not plain.get_by_role("button", name="Up: one more").is_visible()


def test_what_is_wrong_comes_first_and_leads_to_its_field(open_page):
    page = open_page("desk")
    page.goto("/gallery/nursery/")
    faults = page.locator(".faults")
    assert faults.evaluate("(e) => e === document.activeElement")
    faults.get_by_role("link", name="Positions").click()
    field = page.get_by_label("Positions")
    assert field.evaluate("(e) => e === document.activeElement")
    assert field.get_attribute("aria-invalid") == "true"
    described = field.get_attribute("aria-describedby").split()
    words = " ".join(page.locator(f"#{part}").inner_text() for part in described)
    assert "Trays that stand in it at once." in words
    assert "greater than or equal to 1" in words


def test_the_sheet_opens_at_today_and_every_row_shares_the_axis(open_page, page_size):
    page = open_page(page_size)
    page.goto("/gallery/season/")
    region = page.get_by_role("region", name="Sheet of days")
    edges = region.evaluate(
        """(r) => [...r.querySelectorAll('.sheet-under, .sheet-over, .of-strands .strand > svg')]
          .map((e) => e.getBoundingClientRect()).map((b) => `${b.left.toFixed(1)} ${b.right.toFixed(1)}`)"""
    )
    assert len(set(edges)) == 1, edges
    today = region.locator(".s-today").bounding_box()
    frame = region.bounding_box()
    assert frame["x"] < today["x"] < frame["x"] + frame["width"]


def test_a_strand_keeps_its_height_and_its_text_at_any_width(open_page):
    heights = set()
    for size in ("phone", "desk"):
        page = open_page(size)
        page.goto("/gallery/desk/")
        picture = page.locator(".strand > svg").first
        heights.add(picture.bounding_box()["height"])
        dates = picture.locator("text").all()
        boxes = sorted((d.bounding_box() for d in dates if d.is_visible()), key=lambda box: box["x"])
        assert len(boxes) >= 3
        assert all(a["x"] + a["width"] < b["x"] for a, b in pairwise(boxes))
    assert len(heights) == 1


def test_a_page_is_light(open_page):
    """Under 100 kB on the first visit without fonts, under 30 kB after it, as transferred."""
    page = open_page("phone")
    client = page.context.new_cdp_session(page)
    client.send("Network.enable")
    sizes: dict[str, float] = {}
    names: dict[str, str] = {}
    client.on("Network.requestWillBeSent", lambda e: names.update({e["requestId"]: e["request"]["url"]}))
    client.on("Network.loadingFinished", lambda e: sizes.update({e["requestId"]: e["encodedDataLength"]}))

    def visit() -> float:
        sizes.clear()
        page.goto("/gallery/season/", wait_until="networkidle")
        return sum(size for key, size in sizes.items() if ".woff2" not in names.get(key, ""))

    assert visit() < 100_000
    assert visit() < 30_000


def test_an_empty_page_says_what_belongs_there():
    words = "No seed lots yet. A lot is a bag of seed with a number."
    drawn = render_to_string("_parts/empty.html", {"says": words, "way": "/lots/new", "word": "Add a lot"})
    assert words in drawn
    assert 'href="/lots/new"' in drawn


def test_the_stylesheet_stays_small_enough_to_know():
    assert (settings.BASE_DIR / "config/static/site.css").stat().st_size < 30_000


@pytest.mark.parametrize("name", PAGES)
def test_no_part_carries_style_or_script_of_its_own(name, client):
    html = client.get(f"/gallery/{name}/").content.decode()
    assert " style=" not in html
    assert "<style" not in html
    assert html.count("<script") == html.count("<script src=")


def test_gallery_knows_every_kind_of_strand():
    assert {"splice", "side", "two leaders", "cold", "plain", "room"} == set(gallery_data.KINDS)
