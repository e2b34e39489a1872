"""Trays and benches against published footprints and layouts."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.planning.geometry import (
    INCH,
    SQUARE_FOOT,
    Rectangle,
    bench_area,
    cells_per_area,
    containers_needed,
    positions_on,
    share_of_floor,
)

FOOT = 12 * INCH
PLUG_FLAT = Rectangle(21.22 * INCH, 11.00 * INCH)  # outside of a plug flat, a US greenhouse-supply catalogue


def test_footprint_of_a_plug_flat():
    assert PLUG_FLAT.area / SQUARE_FOOT == pytest.approx(1.621, abs=0.0005)


@pytest.mark.parametrize(("cells", "per_foot"), [(50, 30.8), (72, 44.4), (98, 60.5), (128, 79.0), (200, 123.4)])
def test_cells_to_a_square_foot(cells: int, per_foot: float):
    # Computed on the footprint above; a ministry's plug-tray sheet (Ontario, table 1) is within 4 % of it.
    assert cells_per_area(cells, PLUG_FLAT) * SQUARE_FOOT == pytest.approx(per_foot, abs=0.05)


@pytest.mark.parametrize(("cells", "published"), [(50, 31), (72, 47), (128, 78), (200, 122)])
def test_cells_to_a_square_foot_by_another_maker(cells: int, published: int):
    # Ontario Ministry of Agriculture, plug-tray sheet, table 1: other trays of the same counts.
    assert cells_per_area(cells, PLUG_FLAT) * SQUARE_FOOT == pytest.approx(published, rel=0.06)


def test_bench_layout_of_a_house_of_38_by_60_feet():
    # University of Arkansas, greenhouse unit 2.5: two side benches 2 by 60 ft, three middle ones 6 by 50 ft.
    benches = [Rectangle(60 * FOOT, 2 * FOOT)] * 2 + [Rectangle(50 * FOOT, 6 * FOOT)] * 3
    house = Rectangle(60 * FOOT, 38 * FOOT)
    assert bench_area(benches) / SQUARE_FOOT == pytest.approx(1140)
    assert house.area / SQUARE_FOOT == pytest.approx(2280)
    assert share_of_floor(benches, house) == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("plants", "each", "containers"), [(80, 72, 2), (80, 10, 8), (72, 72, 1), (73, 72, 2), (0, 72, 0), (1, 72, 1)]
)
def test_whole_containers(plants: int, each: int, containers: int):
    # Common practice, no source: 80 splice grafts heal in 2 trays of 72, and fill 8 carrying trays of 10 pots.
    assert containers_needed(plants, each) == containers


@pytest.mark.parametrize(("plants", "each"), [(-1, 72), (10, 0)])
def test_plants_and_containers_that_cannot_be(plants: int, each: int):
    with pytest.raises(ValueError, match="cannot stand"):
        containers_needed(plants, each)


def test_trays_are_turned_the_way_that_holds_more():
    # By hand: a bench of 10 by 2.2 tray widths; lengthwise 5 × 2 = 10, turned 10 × 1 = 10; at 11 wide turned wins.
    tray = Rectangle(0.50, 0.25)
    assert positions_on(Rectangle(2.5, 0.55), tray) == 10
    assert positions_on(Rectangle(2.75, 0.50), tray) == 11
    assert positions_on(Rectangle(0.45, 0.20), tray) == 0


@given(st.integers(1, 40), st.integers(1, 40), st.floats(0.05, 2), st.floats(0.05, 2))
def test_a_bench_made_for_whole_trays_holds_them_all(long: int, wide: int, length: float, width: float):
    tray = Rectangle(length, width)
    bench = Rectangle(long * length, wide * width)
    fitted = positions_on(bench, tray)
    assert fitted >= long * wide
    assert fitted * tray.area <= bench.area * (1 + 1e-4)


def test_nothing_is_without_length_and_width():
    with pytest.raises(ValueError, match="more than zero"):
        Rectangle(1.0, 0.0)


def test_benches_cannot_cover_more_than_the_floor():
    with pytest.raises(ValueError, match="more than the floor"):
        share_of_floor([Rectangle(2, 2)], Rectangle(1, 2))
