"""Temperatures, thermal sums and lengths: kept in °C, °C·d and cm, shown and typed in the nursery's units. Pure.

What is typed (to two decimals) is shown again as it was typed, for four decimals are kept.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

Quantity = Literal["degrees", "degree_days", "length"]

CM_PER_INCH = 2.54


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit as people see it, with the way there and back."""

    sign: str
    _show: Callable[[float], float]
    _keep: Callable[[float], float]

    def shown(self, kept: float) -> float:
        return round(self._show(kept), 2)

    def kept(self, shown: float) -> float:
        return round(self._keep(shown), 4)


def _same(number: float) -> float:
    return number


UNITS: dict[Quantity, dict[str, Unit]] = {
    "degrees": {
        "C": Unit("°C", _same, _same),
        "F": Unit("°F", lambda celsius: celsius * 9 / 5 + 32, lambda shown: (shown - 32) * 5 / 9),
    },
    "degree_days": {
        "C": Unit("°C·d", _same, _same),
        "F": Unit("°F·d", lambda celsius_days: celsius_days * 9 / 5, lambda shown: shown * 5 / 9),
    },
    "length": {
        "cm": Unit("cm", _same, _same),
        "in": Unit("in", lambda cm: cm / CM_PER_INCH, lambda shown: shown * CM_PER_INCH),
    },
}
