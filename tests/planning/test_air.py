"""Vapour pressure against FAO Irrigation and Drainage Paper 56 (Allen et al. 1998) and measured chambers."""

import pytest

from production.planning.air import saturation_pressure, vapour_pressure_deficit


@pytest.mark.parametrize(("celsius", "kilopascal"), [(24.5, 3.075), (15.0, 1.705)])
def test_example_3_of_fao_56(celsius: float, kilopascal: float):
    assert saturation_pressure(celsius) == pytest.approx(kilopascal, abs=0.0005)


def test_the_mean_of_a_day_is_not_the_pressure_of_its_mean():
    # FAO-56, example 3: 2.39 kPa for 24.5 and 15.0 °C, where the mean temperature would give 2.30.
    mean = (saturation_pressure(24.5) + saturation_pressure(15.0)) / 2
    assert mean == pytest.approx(2.39, abs=0.005)
    assert saturation_pressure(19.75) == pytest.approx(2.30, abs=0.005)


@pytest.mark.parametrize(
    ("celsius", "kilopascal"),
    [
        (5, 0.872),
        (10, 1.228),
        (15, 1.705),
        (18, 2.064),
        (20, 2.338),
        (22, 2.644),
        (24, 2.984),
        (25, 3.168),
        (26, 3.361),
        (28, 3.780),
        (30, 4.243),
        (32, 4.755),
        (35, 5.623),
    ],
)
def test_table_of_saturation_pressure(celsius: float, kilopascal: float):
    # From memory: FAO-56 annex 2, table 2.3, which prints the same figures.
    assert saturation_pressure(celsius) == pytest.approx(kilopascal, abs=0.0006)


@pytest.mark.parametrize(
    ("celsius", "humidity", "kilopascal"),
    [
        (28.0, 80.0, 0.756),  # a watermelon trial gives 0.76 as the most at which over 90 % healed
        (24.9, 98.0, 0.063),  # the three chambers of Johnson & Miles 2011, HortTechnology 21:752, computed
        (23.4, 81.0, 0.547),
        (23.3, 52.0, 1.373),
        (25.0, 100.0, 0.0),
    ],
)
def test_deficit_of_healing_chambers(celsius: float, humidity: float, kilopascal: float):
    assert vapour_pressure_deficit(celsius, humidity) == pytest.approx(kilopascal, abs=0.0006)


@pytest.mark.parametrize(("celsius", "humidity"), [(-1.0, 50.0), (61.0, 50.0), (20.0, -1.0), (20.0, 101.0)])
def test_air_out_of_range_is_refused(celsius: float, humidity: float):
    with pytest.raises(ValueError, match=r"outside|lies between"):
        vapour_pressure_deficit(celsius, humidity)
