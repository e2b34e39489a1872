"""Trays and pots that an empty nursery starts with. Trade names of sizes in inches; kept in cm."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

CM_PER_INCH = 2.54

# Outside of a plug flat, 11.00 × 21.22 in = 1.621 ft² (US greenhouse-supply catalogue). The same outside is taken
# for the 100-cell tray, of which no published size was found. A cell count fixes neither volume nor footprint.
PLUG_FLAT = (21.22 * CM_PER_INCH, 11.00 * CM_PER_INCH)
# 10 round 4-inch pots go in a carrying tray of 8 × 20 in (US wholesaler's container page).
POT_TRAY_4 = (20 * CM_PER_INCH, 8 * CM_PER_INCH)
# 8 to 10 pots of 4.5 in go in a tray of '1020' size (from memory); outside 11.0 × 21.25–21.37 in (published).
POT_TRAY_4_5 = (21.25 * CM_PER_INCH, 11.0 * CM_PER_INCH)


@dataclass(frozen=True, slots=True)
class StartingContainer:
    name: Promise
    kind: str  # Container.Kind
    plants: int
    outside: tuple[float, float]  # length, width, cm
    cell_volume_ml: float | None = None
    for_delivery: bool = True


CONTAINERS: dict[str, StartingContainer] = {
    # Volumes from the same catalogue; the 72-cell tray of Ontario's plug-tray sheet holds 43 ml a cell, not 59.
    "tray_50": StartingContainer(_("50-cell tray"), "plug_tray", 50, PLUG_FLAT, 111),
    "tray_72": StartingContainer(_("72-cell tray"), "plug_tray", 72, PLUG_FLAT, 59),
    "tray_100": StartingContainer(_("100-cell tray"), "plug_tray", 100, PLUG_FLAT, for_delivery=False),
    "tray_128": StartingContainer(_("128-cell tray"), "plug_tray", 128, PLUG_FLAT, 25, for_delivery=False),
    "pots_4": StartingContainer(_("Tray of ten 10 cm (4 in) pots"), "pot_tray", 10, POT_TRAY_4),
    "pots_4_5": StartingContainer(_("Tray of eight 11 cm (4.5 in) pots"), "pot_tray", 8, POT_TRAY_4_5),
}
