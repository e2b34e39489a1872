"""The sheet of days as data: weeks, the tightest day of a week, and how it is drawn and said."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from dateutil.rrule import MO, WEEKLY, rrule
from django.template import Context, Template

from orders.strand import Strand, Stretch
from production.sheet import Band, Box, Line, Row, Sheet, bars, weeks_over
from production.templatetags.sheets import cell_of, figure

MONDAY = date(2026, 3, 16)


def drawn(tag: str, sheet: Sheet) -> str:
    return Template("{% load sheets %}{% " + tag + " sheet %}").render(Context({"sheet": sheet}))


@pytest.fixture
def sheet() -> Sheet:
    weeks = weeks_over([MONDAY], least=4)
    boxes = tuple(Box(week, load, 12) for week, load in zip(weeks, [3, 14, 12, 0], strict=True))
    strand = Strand(plain_sown=(MONDAY,), ready=MONDAY + timedelta(days=20))
    return Sheet(
        weeks,
        (Row("Healing chamber", "12 trays", boxes, "/places/3/"),),
        (Line("27", "Marrowby on Kelder", "120 · splice", "/orders/27/", strand),),
        (Band(date(2026, 3, 24), date(2026, 3, 25)),),
        today=date(2026, 3, 18),
    )


def test_weeks_run_without_a_gap_from_the_first_day_to_the_last():
    """Against dateutil's recurrence rules (RFC 5545)."""
    first, last = date(2026, 12, 16), date(2027, 2, 10)
    expected = rrule(WEEKLY, byweekday=MO, dtstart=first - timedelta(days=6), until=last)
    assert list(weeks_over([last, first])) == [moment.date() for moment in expected]


def test_a_week_may_begin_on_sunday():
    sunday = date(2026, 3, 15)
    assert weeks_over([date(2026, 3, 21)], begins=6, least=1) == (sunday,)
    assert weeks_over([date(2026, 3, 22)], begins=6, least=1) == (sunday + timedelta(days=7),)


def test_a_sheet_without_a_day_is_refused():
    with pytest.raises(ValueError, match="day to begin with"):
        weeks_over([])


def test_a_week_shows_its_tightest_night_not_its_fullest():
    nights = [MONDAY + timedelta(days=n) for n in range(7)]
    load = dict(zip(nights, [9, 9, 9, 9, 9, 4, 4], strict=True))
    capacity = dict(zip(nights, [12, 12, 12, 12, 12, 3, 3], strict=True))
    row = bars("Bench", "12 trays", [MONDAY], load, capacity)
    assert row.boxes == (Box(MONDAY, 4, 3),)
    assert row.boxes[0].over == 1


def test_a_week_without_load_shows_the_room_there_is():
    capacity = {MONDAY + timedelta(days=n): 12.0 for n in range(7)}
    assert bars("Bench", "12 trays", [MONDAY], {}, capacity).boxes == (Box(MONDAY, 0, 12),)


def test_the_peak_is_what_is_most_over_then_what_is_fullest():
    over = Box(MONDAY, 14, 12)
    row = Row("Healing chamber", "12 trays", (Box(MONDAY, 12, 12), over))
    assert row.peak == over
    assert Row("Bench", "60 trays", (Box(MONDAY, 0, 60),)).peak is None


def test_too_much_is_hatched_and_written_out(sheet):
    html = drawn("sheet", sheet)
    assert html.count('class="f10 over"><span>14 of 12</span>') == 1
    assert html.count('over">') == 1


@pytest.mark.parametrize(
    ("load", "fill"), [(0, ""), (1, "f1"), (6, "f5"), (6.1, "f6"), (12, "f10"), (14, "f10 over")]
)
def test_a_box_is_filled_by_tenths(sheet, load, fill):
    assert cell_of(Box(sheet.weeks[-1], load, 12), sheet).css == fill


def test_band_and_today_lie_on_the_axis_of_all_rows(sheet):
    html = drawn("sheet", sheet)
    # Four weeks are 28 days: two nights from the ninth day on, and the third day.
    assert html.count(f'x="{8 / 28:.3%}" width="{2 / 28:.3%}"') == 2
    assert f'x1="{2 / 28:.3%}" x2="{2 / 28:.3%}"' in html


def test_a_band_outside_the_weeks_is_not_drawn(sheet):
    away = replace(sheet, bands=(Band(date(2026, 9, 1), date(2026, 9, 3)),), today=date(2025, 1, 1))
    html = drawn("sheet", away)
    assert "b-wash" not in html
    assert "h-today" not in html


def test_links_stand_beside_the_pictures_not_inside(sheet):
    html = drawn("sheet", sheet)
    for picture in html.split("<svg")[1:]:
        assert "<a " not in picture.split("</svg>")[0]
    assert 'href="/orders/27/"' in html
    assert 'href="/places/3/"' in html


def test_it_is_a_table_with_its_heads_and_every_figure_of_its_capacity(sheet):
    html = drawn("sheet", sheet)
    assert html.count('<th scope="col">') == 4
    assert html.count('<th scope="row">') == 2  # the place, and the batch
    assert '3<i class="sr"> of 12</i>' in html
    assert '<i class="sr">0 of 12</i>' in html


def test_a_year_has_a_row_for_each_week_and_the_same_boxes(sheet):
    html = drawn("sheet_year", replace(sheet, urls=tuple(f"day={week}" for week in sheet.weeks)))
    assert html.count('<th scope="row">') == 4
    assert html.count('<tr class="now">') == 1
    assert ">14 of 12<" in html
    assert 'href="?day=2026-03-23"' in html


def test_a_box_opens_what_it_is_made_of(sheet):
    row = Row("Bench", "60 trays", tuple(Box(week, 1, 60, f"day={week}&at=place-2") for week in sheet.weeks))
    assert 'href="?day=2026-03-16&amp;at=place-2">1<i' in drawn("sheet", replace(sheet, rows=(row,)))


def test_a_closed_week_says_so(sheet):
    closed = replace(sheet, rows=(Row("Cold frame", "8 trays", (Box(sheet.weeks[1], 0, 0),)),))
    assert '<td class="shut"><span><i class="sr">closed</i></span>' in drawn("sheet", closed)


@pytest.mark.parametrize(("value", "said"), [(14.0, "14"), (3.5, "3.5"), (2.04, "2.0"), (250.4, "250")])
def test_loads_are_said_in_few_digits(value, said):
    assert figure(value) == said


def test_strands_share_the_axis(sheet):
    held = Strand(room=Stretch(sheet.weeks[1], sheet.weeks[2]))
    html = drawn("sheet", replace(sheet, lines=(Line("own", "Room", "", "/", held),)))
    assert '<rect class="s-room" x="25%" y="13" width="25%" height="14"/>' in html
