"""The columns of a list of orders: what each is called, what belongs in it, and a row to show how."""

from __future__ import annotations

import difflib
import re
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _l

from orders.refusals import ManyRefused, Refused
from orders.tables import Row


@dataclass(frozen=True, slots=True)
class Column:
    """`key` names it in code and in the API, `word` in the file; `also` are other words that are understood."""

    key: str
    word: str | Promise
    says: str | Promise
    example: str = ""
    also: tuple[str, ...] = ()


COLUMNS = (
    Column("order", _l("Order"), _l("Name or number. Rows of one customer with the same become one order; "
           "empty, each row is an order of its own."), "A-12", ("order name", "order number", "number")),
    Column("customer", _l("Customer"), _l("Needed, once per order. A name that is not known yet becomes a new "
           "customer."), "Netherby Farm", ("name", "grower", "client")),
    Column("email", _l("Email"), _l("For a new customer."), "farm@netherby.example", ("e-mail", "mail")),
    Column("phone", _l("Telephone"), _l("For a new customer."), "+353 1 555 0147", ("phone", "mobile")),
    Column("own_crop", _l("Our own crop"), _l("yes, in place of a customer."), "", ("own crop",)),
    Column("kind", _l("Kind"), _l("grafted, not grafted or room only; empty: grafted."), "grafted"),
    Column("scion", _l("Scion"), _l("Needed, but for room only. Of plants not grafted: the variety."),
           "Tallis Red", ("variety", "top")),
    Column("scion_crop", _l("Scion crop"), _l("Only for a variety that is to be made new."), ""),
    Column("rootstock", _l("Rootstock"), _l("Needed for grafted plants."), "Kelder", ("root", "stock")),
    Column("rootstock_crop", _l("Rootstock crop"), _l("Only for a variety that is to be made new."), ""),
    Column("method", _l("Method"), _l("splice, side, one cotyledon, hole insertion; empty: splice."), "splice",
           ("graft", "graft method")),
    Column("leaders", _l("Leaders"), _l("one, two topped or two side shoot; empty: one."), "one", ("heads",)),
    Column("container", _l("Pot or tray"), _l("Needed: as under Nursery, Trays and pots."), "", ("pot", "tray",
           "container")),
    Column("quantity", _l("Plants"), _l("Needed: a whole number; of room only, the trays."), "60",
           ("quantity", "number of plants", "amount", "trays")),
    Column("pickup_asked", _l("Pickup"), _l("Needed: the day."), "", ("date", "day", "pickup day", "ready",
           "pickup date", "delivery")),
    Column("earlier", _l("Days earlier"), _l("So many days earlier will do; empty: as usual here."), "0",
           ("earlier",)),
    Column("later", _l("Days later"), _l("So many days later will do; empty: as usual here."), "2", ("later",)),
    Column("collection_days", _l("Days to collect"), _l("Empty: as usual here."), "2", ("collection days",)),
    Column("scion_seed", _l("Scion seed"), _l("ours or customers; empty: ours."), "ours"),
    Column("scion_seed_expected", _l("Scion seed by"), _l("The day by which the customer's seed comes."), ""),
    Column("rootstock_seed", _l("Rootstock seed"), _l("ours or customers; empty: ours."), "ours"),
    Column("rootstock_seed_expected", _l("Rootstock seed by"),
           _l("The day by which the customer's seed comes."), ""),
    Column("room_place_kind", _l("Room in"), _l("For room only: bench, healing, hardening …"), ""),
    Column("room_nights", _l("Nights"), _l("For room only."), ""),
    Column("unit_price", _l("Price each"), _l("Empty: from the price list."), "2.75", ("price", "unit price")),
    Column("notes", _l("Notes"), _l("Whatever else was said."), "", ("note", "remarks", "comment", "comments")),
)  # fmt: skip
BY_KEY = {column.key: column for column in COLUMNS}
NEEDED = ("scion", "quantity", "pickup_asked", "container")
# A column of our own files, for people: what is said in it of a row.
TO_MEND = _l("What to mend")


def columns_of(head: Row) -> list[str]:
    """The keys of the columns as the headings name them, '' for one to be passed over. ManyRefused with all."""
    known = _known()
    keys, faults, seen = list[str](), list[Refused](), dict[str, int]()
    for place, cell in enumerate(head.cells):
        word = _bare(cell)
        key = known.get(word)
        if key is None and word:
            faults.append(_unknown(cell, place))
        elif key and key in seen:
            faults.append(
                Refused(
                    _("“%(word)s” heads two columns.") % {"word": cell},
                    mend=_("Keep one of them."),
                    field=_where(head, place),
                )
            )
        seen[key or ""] = place
        keys.append(key or "")
    missing = [str(BY_KEY[key].word) for key in NEEDED if key not in seen]
    if "customer" not in seen and "own_crop" not in seen:
        missing.insert(0, str(BY_KEY["customer"].word))
    if missing:
        faults.append(
            Refused(
                _("Row %(n)s should head the columns, and has no %(words)s.")
                % {"n": head.number, "words": ", ".join(missing)},
                mend=_("Name the columns as the empty list does."),
                field=f"row {head.number}",
            )
        )
    if faults:
        raise ManyRefused(faults)
    return keys


def letter_of(place: int) -> str:
    """'A' of 0, 'AA' of 26: as spreadsheets call a column."""
    letters = ""
    place += 1
    while place:
        place, left = divmod(place - 1, 26)
        letters = chr(65 + left) + letters
    return letters


def _where(head: Row, place: int) -> str:
    return f"{letter_of(place)}{head.number}"


def _unknown(cell: str, place: int) -> Refused:
    near = difflib.get_close_matches(_bare(cell), list(_known()), n=1, cutoff=0.6)
    mend = _("Leave the column out, or name it as the empty list does.")
    if near:
        mend = _("Is it “%(word)s”? Else leave the column out.") % {"word": _word(near[0])}
    return Refused(
        _("There is no column “%(word)s”.") % {"word": cell[:40]}, mend=mend, field=f"{letter_of(place)}1"
    )


def _word(known: str) -> str:
    key = _known()[known]
    return str(BY_KEY[key].word) if key else known


def _known() -> dict[str, str]:
    """Every word that is understood, and the key that it stands for."""
    found = {_bare(str(TO_MEND)): ""}
    for column in COLUMNS:
        for word in (column.key.replace("_", " "), *column.also, str(column.word)):
            found[_bare(word)] = column.key
    return found


def _bare(word: str) -> str:
    return re.sub(r"[^\w]+", " ", word.replace("_", " ")).strip().casefold()


def words_of(keys: Sequence[str]) -> list[str]:
    return [str(BY_KEY[key].word) for key in keys]
