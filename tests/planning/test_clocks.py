"""Thermal clocks against the published emergence table and the fits made from it.

Days to emergence: Harrington & Minges 1954, by way of Knott's Handbook (1997), reprinted by the University of
California, Santa Cruz. Form and its onion example: Harrington 1962. The fits themselves were computed once by
least squares and are pinned here; the source's days are whole numbers, so half a day is the floor of any error.
"""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from production.planning.clocks import (
    OutsideModel,
    emergence_date,
    emergence_days,
    fit_emergence,
    graftable_window,
    growth_sum,
    sowing_day_for,
    sum_from_days,
)
from production.planning.terms import Clock, Span, Warmth

SOWN = date(2026, 3, 2)

# Days from sowing to emergence, 13 mm deep, by °C of the soil (Harrington & Minges 1954).
TABLE = {
    "tomato": {10: 43, 15: 14, 20: 8, 25: 6, 30: 6, 35: 9},
    "pepper": {15: 25, 20: 13, 25: 8, 30: 8, 35: 9},
    "eggplant": {20: 13, 25: 8, 30: 5},
    "cucumber": {15: 13, 20: 6, 25: 4, 30: 3, 35: 3},
    "muskmelon": {20: 8, 25: 4, 30: 3},
    "watermelon": {20: 12, 25: 5, 30: 4, 35: 3},
    "squash": {20: 15, 25: 6, 30: 4, 35: 3},  # from one retail reprint only, not in the table itself
}
# crop: highest °C fitted; sum, base, worst error in days; the same by regression of 1/days on °C.
FITS = {
    "tomato": (25, (102.4, 7.62, 0.27), (103.3, 7.52, 1.36)),
    "pepper": (25, (127.1, 9.93, 0.43), (117.6, 10.51, 1.22)),
    "eggplant": (30, (91.5, 13.00, 0.38), (81.3, 14.11, 0.81)),
    "cucumber": (30, (57.0, 10.61, 0.07), (58.6, 10.38, 0.32)),
    "muskmelon": (30, (43.6, 14.54, 0.18), (48.0, 13.67, 0.42)),
    "watermelon": (35, (51.9, 15.65, 0.55), (62.5, 13.96, 1.66)),
    "squash": (35, (52.6, 16.49, 0.18), (56.6, 15.94, 1.05)),
}


def clock(crop: str = "tomato", **changes: float) -> Clock:
    ceiling, (total, base, _), _ = FITS[crop]
    return replace(Clock(total, base, ceiling, 8.0, 30.0, 200.0, 240.0, 300.0), **changes)


def points(crop: str) -> list[tuple[float, float]]:
    return [(degrees, days) for degrees, days in TABLE[crop].items() if degrees <= FITS[crop][0]]


# --- emergence --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("crop", FITS)
def test_the_fit_to_the_published_table_is_found_again(crop: str):
    _, (total, base, worst), _ = FITS[crop]
    found = fit_emergence(points(crop))
    assert found == (pytest.approx(total, abs=0.05), pytest.approx(base, abs=0.005))
    errors = [abs(found[0] / (degrees - found[1]) - days) for degrees, days in points(crop)]
    assert max(errors) == pytest.approx(worst, abs=0.005)


@pytest.mark.parametrize("crop", FITS)
def test_the_fit_on_days_misses_less_than_a_regression_of_their_inverse(crop: str):
    # Reference: numpy's straight line through 1/days, the other way in which such sums are published.
    degrees, days = np.array(points(crop)).T
    slope, height = np.polyfit(degrees, 1 / days, 1)
    _, (_, _, ours), (total, base, worst) = FITS[crop]
    assert (1 / slope, -height / slope) == (pytest.approx(total, abs=0.06), pytest.approx(base, abs=0.006))
    assert np.abs(1 / (slope * degrees + height) - days).max() == pytest.approx(worst, abs=0.006)
    assert ours < worst


@pytest.mark.parametrize(
    ("crop", "degrees", "days"),
    [(crop, degrees, days) for crop in FITS for degrees, days in points(crop)],
)
def test_every_published_day_of_emergence_is_met(crop: str, degrees: float, days: float):
    worst = FITS[crop][1][2]
    assert emergence_days(clock(crop), degrees) == pytest.approx(days, abs=worst + 0.01)
    emerged = emergence_date(clock(crop), SOWN, Warmth(degrees))
    assert abs((emerged - SOWN).days - days) <= (1 if worst > 0.5 else 0)


@pytest.mark.parametrize(
    ("crop", "days"), [("tomato", 7.12), ("pepper", 10.53), ("cucumber", 5.00), ("watermelon", 8.17)]
)
def test_days_at_22_degrees(crop: str, days: float):
    # Computed once from the fits above.
    assert emergence_days(clock(crop), 22.0) == pytest.approx(days, abs=0.006)


@pytest.mark.parametrize(("degrees", "days"), [(22.5, 4), (7.5, 16)])
def test_onion_as_in_the_source_of_the_form(degrees: float, days: int):
    # Harrington 1962, in Onions and Other Vegetable Alliums, eq. 4.6–4.7: 80 °C·d above 2.5 °C.
    onion = clock(emergence_sum=80.0, emergence_base=2.5)
    assert emergence_days(onion, degrees) == days
    assert emergence_date(onion, SOWN, Warmth(degrees)) == SOWN + timedelta(days=days)


@pytest.mark.parametrize("degrees", [5.0, 7.62, 9.62, 25.01, 30.0, 35.0])
def test_outside_the_model_there_is_a_refusal_and_no_number(degrees: float):
    # Tomato is fitted up to 25 °C: the table is flat to 30 °C and slower at 35 °C, which the form cannot follow.
    with pytest.raises(OutsideModel) as refusal:
        emergence_days(clock("tomato"), degrees)
    assert refusal.value.field == "temperature"
    assert f"{degrees:g} °C" in str(refusal.value)
    with pytest.raises(OutsideModel):
        emergence_date(clock("tomato"), SOWN, Warmth(degrees))


def test_a_cold_spell_delays_emergence_by_what_it_lacks():
    # By hand, onion: 2 nights at 22.5 give 40, 2 at 12.5 give 20, then one at 22.5 makes up the 80.
    onion = clock(emergence_sum=80.0, emergence_base=2.5)
    spell = (Span(SOWN + timedelta(days=2), SOWN + timedelta(days=3)), 12.5)
    assert emergence_date(onion, SOWN, Warmth(22.5, (spell,))) == SOWN + timedelta(days=5)


def test_a_spell_below_the_base_is_named_and_not_guessed_over():
    spell = (Span(SOWN + timedelta(days=2), SOWN + timedelta(days=3)), 8.0)
    with pytest.raises(OutsideModel, match="8 °C"):
        emergence_date(clock(), SOWN, Warmth(22.0, (spell,)))


@given(st.floats(10.0, 25.0), st.integers(0, 30))
def test_who_is_sown_later_never_emerges_earlier(degrees: float, days: int):
    spell = (Span(SOWN + timedelta(days=5), SOWN + timedelta(days=9)), 12.0)
    warmth = Warmth(degrees, (spell,))
    dates = [emergence_date(clock(), SOWN + timedelta(days=n), warmth) for n in (days, days + 1)]
    assert dates == sorted(dates)


@given(st.floats(20.0, 200.0), st.floats(2.0, 15.0))
def test_a_fit_finds_the_clock_that_made_the_days(total: float, base: float):
    made = [(degrees, total / (degrees - base)) for degrees in (base + 4, base + 9, base + 13, base + 18)]
    assert fit_emergence(made) == (pytest.approx(total, rel=1e-4), pytest.approx(base, abs=1e-2))


@pytest.mark.parametrize("made", [[(20.0, 8.0)], [(20.0, 8.0), (20.0, 7.0)], [(15.0, 6.0), (25.0, 9.0)]])
def test_no_fit_is_made_from_days_that_cannot_carry_one(made: list[tuple[float, float]]):
    with pytest.raises(ValueError, match=r"two different|do not fall"):
        fit_emergence(made)


def test_days_at_a_stated_temperature_become_a_sum():
    # Tomato scions graftable 30 d after emergence at 20 °C, base 8 °C: by hand 30 × 12.
    assert sum_from_days(30, 20.0, 8.0) == 360.0
    for days, degrees, field in ((30, 8.0, "temperature"), (0, 20.0, "days"), (-3, 20.0, "days")):
        with pytest.raises(OutsideModel) as refusal:
            sum_from_days(days, degrees, 8.0)
        assert refusal.value.field == field


# --- growth to a graftable stem ----------------------------------------------------------------------------


def test_growth_counts_nothing_below_the_base_and_no_more_above_the_ceiling():
    # By hand, base 8 and ceiling 30: nights at 20, 5, 35, 12 give 12 + 0 + 22 + 4.
    nights = [20.0, 5.0, 35.0, 12.0]
    spells = tuple((Span(day, day), degrees) for n, degrees in enumerate(nights) for day in [SOWN + timedelta(n)])
    assert growth_sum(clock(), SOWN, SOWN + timedelta(4), Warmth(50.0, spells)) == 38.0
    assert growth_sum(clock(), SOWN, SOWN, Warmth(20.0)) == 0.0


def test_cold_holding_stops_the_clock():
    held = Warmth(20.0, ((Span(SOWN + timedelta(3), SOWN + timedelta(9)), 6.0),))
    usual = graftable_window(clock(), SOWN, Warmth(20.0), Warmth(20.0), emerged_on=SOWN)
    later = graftable_window(clock(), SOWN, Warmth(20.0), held, emerged_on=SOWN)
    assert [later.first - usual.first, later.aim - usual.aim] == [timedelta(7), timedelta(7)]


def test_a_window_by_hand():
    # Emergence 102.4 / 12.38 = 8.27 → day 8. Growth 12 a night: 200 → 17 nights, 240 → 20, 300 → 25.
    window = graftable_window(clock(), SOWN, Warmth(20.0), Warmth(20.0))
    assert [(day - SOWN).days for day in (window.emerges, window.first, window.aim, window.last)] == [
        8,
        25,
        28,
        33,
    ]


def test_a_count_of_emergence_moves_the_window_with_it():
    planned = graftable_window(clock(), SOWN, Warmth(20.0), Warmth(20.0))
    seen = graftable_window(
        clock(), SOWN, Warmth(20.0), Warmth(20.0), emerged_on=planned.emerges + timedelta(days=3)
    )
    assert {seen.first - planned.first, seen.aim - planned.aim, seen.last - planned.last} == {timedelta(days=3)}


def test_stems_that_never_thicken_are_refused():
    with pytest.raises(OutsideModel, match="never be fit"):
        graftable_window(clock(), SOWN, Warmth(20.0), Warmth(8.0))


def test_the_sowing_window_by_hand():
    # From the window above: grafting falls 25 to 33 days after sowing, best after 28.
    graft_day = date(2026, 4, 20)
    window = sowing_day_for(clock(), graft_day, Warmth(20.0), Warmth(20.0))
    assert [(graft_day - day).days for day in (window.earliest, window.aim, window.latest)] == [33, 28, 25]


warmths = st.builds(
    Warmth,
    st.floats(14.0, 25.0),
    st.lists(
        st.builds(
            lambda start, length, degrees: (
                Span(date(2026, 1, 1) + timedelta(start), date(2026, 1, 1) + timedelta(start + length)),
                degrees,
            ),
            st.integers(0, 200),
            st.integers(0, 20),
            st.floats(12.0, 25.0),
        ),
        max_size=2,
    ).map(tuple),
)


@given(warmths, warmths, st.dates(date(2026, 4, 15), date(2026, 7, 1)))
def test_sowing_and_grafting_windows_agree(germination: Warmth, raising: Warmth, graft_day: date):
    try:
        window = sowing_day_for(clock(), graft_day, germination, raising)
    except OutsideModel:
        assume(False)
    for day in (window.earliest, window.aim, window.latest):
        assert graft_day in graftable_window(clock(), day, germination, raising)
    for day in (window.earliest - timedelta(1), window.latest + timedelta(1)):
        assert graft_day not in graftable_window(clock(), day, germination, raising)


def test_a_graft_day_that_no_sowing_reaches_is_refused():
    with pytest.raises(OutsideModel, match="No sowing day"):
        sowing_day_for(clock(), SOWN, Warmth(20.0), Warmth(8.0))
    with pytest.raises(OutsideModel, match="9 °C"):
        sowing_day_for(clock(), SOWN, Warmth(9.0), Warmth(20.0))
