"""One cell's text as a day, a number, a yes; refused with how to mend it. Whoever asks adds where it stands."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from functools import cache

from babel import Locale, UnknownLocaleError
from babel.dates import get_date_format, get_month_names
from django.utils.translation import gettext as _

from ..models import Nursery
from ..refusals import Refused

YES = ("yes", "y", "x", "true", "1")
NO = ("no", "n", "", "false", "0", "-")
FAULTS = ("#N/A", "#REF!", "#VALUE!", "#NAME?", "#DIV/0!", "#NULL!", "#NUM!")


def refuse_formula(text: str) -> None:
    """A cell that holds no value but says how one would be reckoned, or that reckoning failed."""
    if text.startswith("=") or text in FAULTS:
        raise Refused(
            _("A formula stands here (%(text)s), not a value.") % {"text": text[:30]},
            mend=_("In the spreadsheet, copy the column and paste it again as values."),
        )


# --- days ------------------------------------------------------------------------------------------------------


def date_order(nursery: Nursery) -> str:
    """'dmy', 'mdy' or 'ymd': how the nursery's language is written in its country (Unicode CLDR, by babel)."""
    pattern = get_date_format("short", locale=locale_of(nursery)).pattern.lower()
    return "".join(sorted("dmy", key=pattern.index))


def locale_of(nursery: Nursery) -> Locale:
    language = nursery.language.partition("-")[0]
    for name in (f"{language}_{nursery.country.upper()}", nursery.language.replace("-", "_")):
        try:
            return Locale.parse(name)
        except (UnknownLocaleError, ValueError):
            continue
    return Locale("en", "GB")


def day_of(text: str, nursery: Nursery) -> date:
    """2027-04-21, 21.4.2027 or 4/21/27 as the nursery's country has it, 21 April 2027, Wed 21 Apr 2027."""
    order = date_order(nursery)
    parts = _iso(text) or _numbers(text, order) or _named(text, locale_of(nursery))
    if parts:
        year, month, day = parts
        try:
            return date(year + 2000 if year < 100 else year, month, day)
        except ValueError:
            pass
    example = {"dmy": "21/04/2027", "mdy": "04/21/2027", "ymd": "2027/04/21"}[order]
    raise Refused(
        _("“%(text)s” is no day.") % {"text": text[:40]},
        mend=_("Write it as %(example)s or 2027-04-21.") % {"example": example},
    )


def _iso(text: str) -> tuple[int, int, int] | None:
    found = re.fullmatch(r"(\d{4})-(\d{1,2})-(\d{1,2})(?:[ T]\d.*)?", text)
    return (int(found[1]), int(found[2]), int(found[3])) if found else None


def _numbers(text: str, order: str) -> tuple[int, int, int] | None:
    found = re.fullmatch(r"(\d{1,4})\s?[./\- ]\s?(\d{1,2})\s?[./\- ]\s?(\d{1,4})\.?", text)
    if not found:
        return None
    said = dict(zip("ymd" if len(found[1]) == 4 else order, (int(part) for part in found.groups()), strict=True))
    return said["y"], said["m"], said["d"]


def _named(text: str, locale: Locale) -> tuple[int, int, int] | None:
    """A month by its name; a day of the week before it says nothing new."""
    words = re.findall(r"\d+|[^\W\d_]+", text.casefold())
    numbers = [int(word) for word in words if word.isdecimal()]
    months = [month for word in words if (month := _months(str(locale)).get(word[:3]))]
    if len(numbers) != 2 or len(months) != 1:
        return None
    return (numbers[0], months[0], numbers[1]) if numbers[0] > 31 else (numbers[1], months[0], numbers[0])


@cache
def _months(locale: str) -> dict[str, int]:
    """By their first three letters, in English and in that language."""
    return {
        name.casefold()[:3]: number
        for each in ("en", locale)
        for number, name in get_month_names("wide", locale=Locale.parse(each)).items()
    }


# --- numbers ---------------------------------------------------------------------------------------------------


def whole_of(text: str) -> int:
    """1200, 1 200, 1,200 and 1.200 alike: a whole number has no other use for a sign between three digits."""
    bare = re.sub(r"(?<=\d)[.,'’\s](?=\d{3}(?!\d))", "", text)
    if not re.fullmatch(r"\d{1,12}", bare):
        raise Refused(
            _("“%(text)s” is no whole number.") % {"text": text[:40]}, mend=_("Write digits only, such as 60.")
        )
    return int(bare)


def price_of(text: str) -> Decimal:
    """2.75, 2,75, 1.200,50, € 2.75; refused where one sign could part thousands or decimals alike."""
    bare = re.sub(r"^[A-Z]{3}\s?|\s?[A-Z]{3}$|[€$£\s'’]", "", text)
    signs = re.findall(r"[.,]", bare)
    if len(set(signs)) == 2 or len(signs) > 1:
        bare = bare.replace(signs[0], "")
    elif re.fullmatch(r"[1-9]\d{0,2}[.,]\d{3}", bare):
        whole, decimals = re.split("[.,]", bare)
        raise Refused(
            _("“%(text)s” can be read in two ways.") % {"text": text[:40]},
            mend=_("Write %(whole)s%(decimals)s, or %(whole)s.%(decimals)s0.")
            % {"whole": whole, "decimals": decimals},
        )
    bare = bare.replace(",", ".")
    if not re.fullmatch(r"\d{1,6}(\.\d{1,4})?", bare):
        raise Refused(
            _("“%(text)s” is no price.") % {"text": text[:40]},
            mend=_("Write it as 2.75; up to four places after the point."),
        )
    return Decimal(bare)


def yes_of(text: str) -> bool:
    """Yes or no; an empty cell is no."""
    said = text.casefold()
    if said not in (*YES, *NO):
        raise Refused(_("“%(text)s” is neither yes nor no.") % {"text": text[:40]}, mend=_("Write yes or no."))
    return said in YES
