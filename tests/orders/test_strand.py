"""The strand in words and in geometry. Dates are invented; the weeks are checked against a calendar library."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from dateutil.rrule import MO, SU, WEEKLY, rrule

from orders.strand import Axis, Cold, Mark, Speech, Strand, Stretch, axis_of, marks, sentence

SPLICE = Strand(
    method="splice",
    rootstock_sown=(date(2026, 2, 16), date(2026, 2, 18)),
    scion_sown=(date(2026, 2, 16), date(2026, 2, 18)),
    grafted=(date(2026, 3, 18),),
    healing=Stretch(date(2026, 3, 18), date(2026, 3, 22)),
    hardening=Stretch(date(2026, 3, 22), date(2026, 3, 24)),
    growing_on=Stretch(date(2026, 3, 24), date(2026, 4, 14)),
    ready=date(2026, 4, 14),
    pickup=date(2026, 4, 16),
)
SIDE = replace(
    SPLICE,
    method="side",
    scion_sown=(date(2026, 2, 14),),
    healing=Stretch(date(2026, 3, 18), date(2026, 3, 21)),
    notch=date(2026, 3, 23),
    final_cut=date(2026, 3, 25),
)
# A hundred days, so that a day is a hundredth of the picture.
AXIS = Axis(date(2026, 2, 1), date(2026, 5, 12))


def of_kind(kind: str, strand: Strand, axis: Axis = AXIS) -> list[Mark]:
    return [mark for mark in marks(strand, axis) if mark.kind == kind]


class TestSentence:
    def test_a_splice_graft_is_said_from_sowing_to_pickup(self):
        assert sentence(SPLICE) == (
            "Sown 16 and 18 February; grafted 18 March; four nights healing; hardening to 24 March; "
            "ready 14 April; pickup 16 April"
        )

    def test_sides_sown_on_different_days_are_named_the_earlier_first(self):
        assert sentence(SIDE) == (
            "Scion sown 14 February; rootstock sown 16 and 18 February; side-grafted 18 March; "
            "three nights healing; hardening to 24 March; notch 23 March; final cut 25 March; "
            "ready 14 April; pickup 16 April"
        )

    def test_what_is_still_to_come_is_said_once_where_it_begins(self):
        under_way = sentence(replace(SPLICE, today=date(2026, 3, 20)))
        assert "four nights healing; to come: hardening to 24 March; ready" in under_way
        assert under_way.count("to come") == 1

    def test_a_plan_of_which_nothing_is_done_needs_no_to_come(self):
        assert sentence(replace(SPLICE, today=date(2026, 1, 5))) == sentence(SPLICE)

    def test_one_night_is_one_night(self):
        assert "one night healing" in sentence(
            replace(SPLICE, healing=Stretch(date(2026, 3, 18), date(2026, 3, 19)))
        )

    def test_days_of_two_months_and_the_other_year_are_told_apart(self):
        winter = Strand(plain_sown=(date(2026, 12, 30), date(2027, 1, 2)), ready=date(2027, 2, 1))
        assert sentence(winter) == "Sown 30 December and 2 January 2027; ready 1 February 2027"

    def test_cold_window_fork_and_room_are_said(self):
        cold = Cold("scion", Stretch(date(2026, 3, 6), date(2026, 3, 12)))
        rich = replace(
            SPLICE, cold=(cold,), topped=date(2026, 3, 30), window=(date(2026, 4, 16), date(2026, 4, 18))
        )
        said = sentence(rich)
        assert "scion held cold 6 to 12 March" in said
        assert "topped for two leaders 30 March" in said
        assert said.endswith("pickup 16 April, any day from 16 to 18 April")
        assert (
            sentence(Strand(room=Stretch(date(2026, 3, 28), date(2026, 4, 2)))) == "Room taken 28 March to 2 April"
        )

    def test_nothing_known_says_nothing(self):
        assert sentence(Strand()) == ""

    def test_another_language_speaks_for_itself(self):
        words = {
            "sown {days}": "gesät {days}",
            "{some} and {last}": "{some} und {last}",
            "{day} {month}": "{day}. {month}",
        }
        german = Speech(gettext=lambda text: words.get(text, text), month=lambda day: "März")
        assert sentence(Strand(plain_sown=(date(2026, 3, 2), date(2026, 3, 5))), german) == "Gesät 2 und 5. März"


class TestGeometry:
    def test_a_night_is_the_stretch_to_the_next_day(self):
        (dome,) = of_kind("healing", SPLICE)
        assert dome.shape == "dome"
        assert (dome.x1, dome.x2) == pytest.approx((0.45, 0.49))  # 18 to 22 March are days 45 and 49 of the axis

    def test_stays_that_meet_on_a_date_touch(self):
        (dome,) = of_kind("healing", SPLICE)
        (hardening,) = of_kind("hardening", SPLICE)
        growing = of_kind("growing", SPLICE)
        assert dome.x2 == hardening.x1
        assert hardening.x2 == growing[-1].x1

    def test_scion_runs_above_rootstock_and_both_end_at_the_graft(self):
        scion = next(mark for mark in of_kind("scion", SPLICE) if mark.shape == "line")
        rootstock = next(mark for mark in of_kind("rootstock", SPLICE) if mark.shape == "line")
        (graft,) = of_kind("graft", SPLICE)
        assert scion.y < graft.y < rootstock.y
        assert scion.x2 == rootstock.x2 == graft.x1
        assert scion.dx2 < 0  # leaves the pixels in which it slants into the union

    def test_first_sowing_is_a_dot_and_later_ones_are_open(self):
        assert [mark.x1 for mark in of_kind("scion-sown", SPLICE)] == pytest.approx([0.15])
        assert [mark.x1 for mark in of_kind("scion-again", SPLICE)] == pytest.approx([0.17])

    def test_side_graft_keeps_the_scions_own_root_until_the_final_cut(self):
        (own_root,) = of_kind("own-root", SIDE)
        assert (own_root.x1, own_root.x2) == pytest.approx((0.45, 0.52))
        assert [mark.x1 for mark in of_kind("cut", SIDE)] == pytest.approx([0.50, 0.52])
        assert not of_kind("own-root", SPLICE)

    def test_topping_forks_the_line(self):
        topped = replace(SPLICE, topped=date(2026, 3, 30))
        lines = [mark for mark in of_kind("leader", topped) if mark.shape == "line"]
        assert len({mark.y for mark in lines}) == 2
        assert {mark.x1 for mark in lines} == {AXIS.at(date(2026, 3, 30))}
        assert of_kind("growing", topped)[-1].x2 == AXIS.at(date(2026, 3, 30))

    def test_today_parts_what_is_done_from_what_is_to_come(self):
        today = date(2026, 4, 1)
        parts = of_kind("growing", replace(SPLICE, today=today))
        assert [mark.done for mark in parts] == [True, True, False]
        assert parts[1].x2 == parts[2].x1 == AXIS.at(today)
        assert all(mark.done for mark in marks(SPLICE, AXIS))

    def test_what_lies_outside_the_axis_is_cut_off(self):
        short = Axis(date(2026, 3, 20), date(2026, 4, 1))
        drawn = marks(SPLICE, short)
        assert drawn
        assert all(0 <= mark.x1 <= 1 and 0 <= mark.x2 <= 1 for mark in drawn)
        assert {mark.kind for mark in drawn} == {"healing", "growing", "hardening"}

    def test_cold_holding_is_a_double_outline(self):
        held = replace(SPLICE, cold=(Cold("rootstock", Stretch(date(2026, 3, 6), date(2026, 3, 12))),))
        outer, inner = of_kind("cold", held)
        assert outer.y < inner.y < inner.y2 < outer.y2

    @pytest.mark.parametrize("strand", [SPLICE, SIDE, replace(SIDE, topped=date(2026, 4, 1))])
    def test_all_of_it_stays_within_forty_pixels(self, strand):
        assert all(0 <= mark.y <= 40 and 0 <= mark.y2 <= 40 for mark in marks(strand, AXIS))

    def test_its_own_axis_shows_all_of_it(self):
        axis = axis_of(SPLICE)
        assert 0 < axis.at(SPLICE.days[0]) < axis.at(SPLICE.days[-1]) < 1


@pytest.mark.parametrize(("begins", "weekday"), [(0, MO), (6, SU)])
def test_weeks_begin_where_the_calendar_says(begins, weekday):
    """Against dateutil's recurrence rules (RFC 5545)."""
    axis = Axis(date(2027, 12, 20), date(2028, 3, 20))
    expected = rrule(WEEKLY, byweekday=weekday, dtstart=axis.first, until=axis.last)
    assert axis.weeks(begins) == [moment.date() for moment in expected]


def test_a_single_day_axis_divides_by_nothing():
    day = date(2026, 3, 1)
    assert Axis(day, day).at(day + timedelta(days=1)) == 1
