"""The crops an empty nursery may choose from, each with its two thermal clocks and rates.

Emergence is θ / (T − base), fitted by least squares to the days of Harrington and Minges (1954, reprinted in
Knott's Handbook for Vegetable Growers, 1997; squash: one retail reprint only). Growth sums are derived: so many
days from sowing to graftable, known at a stated temperature, become a sum. Temperatures are °C, sums °C·d.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from . import PRACTICE

# The temperatures at which the days to graftable below are taken to be known: a usual germination chamber, and the
# 24-hour mean of the published set-points 24 °C by day and 18 °C by night.
GERMINATION_DEGREES = 25.0
BENCH_DEGREES = 21.0


@dataclass(frozen=True, slots=True)
class StartingCrop:
    name: Promise
    botanical_name: str
    emergence_sum: float
    emergence_base: float
    emergence_ceiling: float  # the fit holds up to here
    growth_base: float
    graftable_days: tuple[int, int, int]  # first, best, last day from sowing, at the temperatures above
    days_basis: Promise
    emerged_share: float
    emerged_published: str | Promise  # % normal seedlings in the same trial
    usable_share: float = 0.9
    growth_ceiling: float = 30.0
    rootstocks: tuple[str, ...] = ()  # crops it grows on

    @property
    def emergence_days(self) -> float:
        """Days to emergence in the germination chamber."""
        return self.emergence_sum / (GERMINATION_DEGREES - self.emergence_base)

    def graftable_sum(self, days_from_sowing: int) -> float:
        """°C·d above growth_base that pass on the bench between emergence and this day."""
        return round((days_from_sowing - self.emergence_days) * (BENCH_DEGREES - self.growth_base), 1)

    @property
    def values(self) -> dict[str, float | str]:
        """The fields that a Crop takes from here."""
        first, best, last = (self.graftable_sum(days) for days in self.graftable_days)
        return {
            "botanical_name": self.botanical_name,
            "emergence_sum": self.emergence_sum,
            "emergence_base": self.emergence_base,
            "emergence_ceiling": self.emergence_ceiling,
            "growth_base": self.growth_base,
            "growth_ceiling": self.growth_ceiling,
            "graftable_first": first,
            "graftable_aim": best,
            "graftable_last": last,
            "emerged_share": self.emerged_share,
            "usable_share": self.usable_share,
            "evidence_weight": 100.0,
            "basis": self.basis,
        }

    @property
    def basis(self) -> str:
        first, best, last = self.graftable_days
        return "\n".join(
            [
                _(
                    "Emergence: fitted to the days of Harrington and Minges, 1954; above %(ceiling)g °C the fit "
                    "no longer holds. Normal seedlings in the same trial: %(normal)s."
                )
                % {"ceiling": self.emergence_ceiling, "normal": self.emerged_published},
                _(
                    "Growth: derived from graftable on day %(first)d, best on day %(best)d, until day "
                    "%(last)d from sowing, germinated at %(warm)g °C and raised at a mean of %(bench)g °C. "
                    "The days: %(days)s"
                )
                % {
                    "first": first,
                    "best": best,
                    "last": last,
                    "warm": GERMINATION_DEGREES,
                    "bench": BENCH_DEGREES,
                    "days": self.days_basis,
                },
                _("Base of growth, shares that emerge and are fit to use: %(practice)s") % {"practice": PRACTICE},
            ]
        )


CROPS: dict[str, StartingCrop] = {
    "tomato": StartingCrop(
        name=gettext_lazy("Tomato"),
        botanical_name="Solanum lycopersicum",
        emergence_sum=102.4,
        emergence_base=7.62,
        emergence_ceiling=25.0,
        growth_base=10.0,  # published for wild species and hybrids: 4.5–14.8 °C (Pesq Agropec Bras, 2018)
        graftable_days=(18, 21, 28),
        days_basis=gettext_lazy(
            "best on about day 21 after two grower leaflets on head grafting, 2014; 29.8 to 31.7 days in a warm "
            "Indian nursery (Verma et al., Indian J Hort). First and last day: common practice, no source."
        ),
        emerged_share=0.9,
        emerged_published="97 % / 25 °C, 83 % / 30 °C",
        rootstocks=("tomato", "eggplant"),
    ),
    "eggplant": StartingCrop(
        name=gettext_lazy("Eggplant"),
        botanical_name="Solanum melongena",
        emergence_sum=91.5,
        emergence_base=13.0,
        emergence_ceiling=30.0,
        growth_base=12.0,
        graftable_days=(30, 35, 44),
        days_basis=gettext_lazy(
            "as a rootstock of tomato it is sown 14 to 21 days before the scion (ECHO note on AVRDC work, 1994), "
            "which makes 35 to 42 days. First and last day: common practice, no source."
        ),
        emerged_share=0.85,
        emerged_published="53 % / 25 °C, 60 % / 30 °C",
        rootstocks=("eggplant", "tomato"),
    ),
    "pepper": StartingCrop(
        name=gettext_lazy("Pepper"),
        botanical_name="Capsicum annuum",
        emergence_sum=127.1,
        emergence_base=9.93,
        emergence_ceiling=25.0,
        growth_base=10.0,
        graftable_days=(30, 35, 44),
        days_basis=PRACTICE,
        emerged_share=0.85,
        emerged_published="98 % / 25 °C, 95 % / 30 °C",
        rootstocks=("pepper",),
    ),
    "cucumber": StartingCrop(
        name=gettext_lazy("Cucumber"),
        botanical_name="Cucumis sativus",
        emergence_sum=57.0,
        emergence_base=10.61,
        emergence_ceiling=30.0,
        growth_base=12.0,
        graftable_days=(12, 15, 19),
        days_basis=gettext_lazy(
            "scion sown about 3 days before a squash rootstock (seed-trade guide to grafting). First and "
            "last day: common practice, no source."
        ),
        emerged_share=0.95,
        emerged_published="99 % / 25 °C, 99 % / 30 °C",
        rootstocks=("squash",),
    ),
    "melon": StartingCrop(
        name=gettext_lazy("Melon"),
        botanical_name="Cucumis melo",
        emergence_sum=43.6,
        emergence_base=14.54,
        emergence_ceiling=30.0,
        growth_base=12.0,
        graftable_days=(12, 15, 19),
        days_basis=PRACTICE,
        emerged_share=0.9,
        emerged_published="94 % / 25 °C, 90 % / 30 °C",
        rootstocks=("squash",),
    ),
    "watermelon": StartingCrop(
        name=gettext_lazy("Watermelon"),
        botanical_name="Citrullus lanatus",
        emergence_sum=51.9,
        emergence_base=15.65,
        emergence_ceiling=35.0,
        growth_base=13.0,
        graftable_days=(12, 15, 20),
        days_basis=gettext_lazy(
            "grafted 15 days after sowing in a one-cotyledon trial in which both sides were sown on one day. "
            "First and last day: common practice, no source."
        ),
        emerged_share=0.9,
        emerged_published="90 % / 25 °C, 92 % / 30 °C",
        rootstocks=("squash",),
    ),
    "squash": StartingCrop(
        name=gettext_lazy("Squash (rootstock)"),
        botanical_name="Cucurbita maxima × C. moschata",
        emergence_sum=52.6,
        emergence_base=16.49,
        emergence_ceiling=35.0,
        growth_base=12.0,
        graftable_days=(10, 12, 16),
        days_basis=gettext_lazy(
            "8 to 10 days old for a grafting machine; 15 in a one-cotyledon trial sown with its scion on one day. "
            "The best day between them: common practice, no source."
        ),
        emerged_share=0.9,
        emerged_published=gettext_lazy("not tested"),
    ),
}
