"""The air of a healing chamber: how strongly it draws water from leaves that have no roots yet.

Source of the formula: FAO Irrigation and Drainage Paper 56 (Allen et al. 1998), equations 11 and 12.
"""

from __future__ import annotations

from math import exp


def saturation_pressure(celsius: float) -> float:
    """Vapour pressure of saturated air, kPa, from 0 to 60 °C; ValueError outside (FAO-56 eq. 11)."""
    if not 0 <= celsius <= 60:
        raise ValueError(f"air at {celsius:g} °C is outside the 0 to 60 °C that the formula is used for here")
    return 0.6108 * exp(17.27 * celsius / (celsius + 237.3))


def vapour_pressure_deficit(celsius: float, humidity: float) -> float:
    """What the air could still take up, kPa; `humidity` is relative, in percent; ValueError outside 0 to 100."""
    if not 0 <= humidity <= 100:
        raise ValueError(f"relative humidity lies between 0 and 100 %, not {humidity:g}")
    return saturation_pressure(celsius) * (1 - humidity / 100)
