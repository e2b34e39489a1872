"""The rows of a list as orders: what each cell says, what is wrong where, which rows belong together."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.utils.translation import gettext as _

from orders.line_faults import faults_of, faults_of_quantity
from orders.models import Container, Crop, Customer, Method, Nursery, OrderLine, PlaceKind, Variety
from orders.near import meant_words
from orders.refusals import Refused
from orders.tables import Row
from orders.tables.cells import day_of, price_of, refuse_formula, whole_of, yes_of

from .columns import BY_KEY

LONGEST = {"customer": 120, "email": 254, "phone": 40, "scion": 80, "rootstock": 80, "notes": 500, "order": 40}
MOST_IN_AN_ORDER = 200
# Other words for what is chosen from a few; the values and their names are understood anyway.
WORDS = {
    "kind": {"plain": "plain", "ungrafted": "plain", "room": "room"},
    "method": {"top": "splice", "approach": "side", "cotyledon": "one_cotyledon", "hole": "hole_insertion"},
    "leaders": {"1": "one", "single": "one", "topped": "two_topped", "2 topped": "two_topped",
                "side shoot": "two_side_shoot", "2 side shoot": "two_side_shoot"},
    "scion_seed": {"our": "ours", "customer": "customers", "customer s": "customers", "theirs": "customers"},
}  # fmt: skip
WORDS["rootstock_seed"] = WORDS["scion_seed"]
CHOICES: dict[str, Any] = {
    "kind": OrderLine.Kind,
    "method": Method,
    "leaders": OrderLine.Leaders,
    "scion_seed": OrderLine.Seed,
    "rootstock_seed": OrderLine.Seed,
    "room_place_kind": PlaceKind,
}


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong in one row. `column` is a column's key, '' for the whole row."""

    row: int
    column: str
    reason: str
    mend: str
    found: str = ""  # what stands in the cell


@dataclass(slots=True)
class Draft:
    """One order as the list has it, not yet stored: its rows, its lines in their order, its faults."""

    name: str
    customer: str = ""
    email: str = ""
    phone: str = ""
    own_crop: bool = False
    rows: list[int] = field(default_factory=list)
    lines: list[OrderLine] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)


@dataclass
class Book:
    """What a row can name, read once: containers, crops, varieties."""

    nursery: Nursery
    today: date
    containers: dict[str, Container]
    crops: dict[str, Crop]
    varieties: dict[str, list[Variety]]
    new: dict[tuple[int, str], Variety] = field(default_factory=dict)

    @classmethod
    def read(cls, nursery: Nursery, today: date) -> Book:
        varieties: dict[str, list[Variety]] = {}
        rows = Variety.objects.filter(active=True).select_related("crop")
        for variety in rows.prefetch_related("crop__rootstock_crops"):
            varieties.setdefault(variety.name.casefold(), []).append(variety)
        crops = Crop.objects.prefetch_related("rootstock_crops")
        return cls(
            nursery=nursery,
            today=today,
            containers={each.name.casefold(): each for each in Container.objects.filter(active=True)},
            crops={each.name.casefold(): each for each in crops},
            varieties=varieties,
        )

    def container(self, name: str) -> Container:
        found = self.containers.get(name.casefold())
        if found is None:
            raise Refused(
                _("There is no pot or tray “%(name)s” in use.") % {"name": name},
                mend=_("Write one of: %(names)s.")
                % {"names": ", ".join(each.name for each in self.containers.values())[:300]},
            )
        return found

    def crop(self, name: str) -> Crop:
        found = self.crops.get(name.casefold())
        if found is None:
            raise Refused(
                _("There is no crop “%(name)s”.") % {"name": name},
                mend=_("Write one of: %(names)s.")
                % {"names": ", ".join(each.name for each in self.crops.values())[:300]},
            )
        return found

    def variety(self, name: str, side: str, crop: Crop | None) -> Variety:
        """The variety in use of that name, one fit for that side first; a new one where its crop is named."""
        known = self.varieties.get(name.casefold(), [])
        found = [each for each in known if crop is None or each.crop_id == crop.pk]
        fit = [each for each in found if (each.may_be_scion if side == "scion" else each.may_be_rootstock)]
        if fit or found:
            return (fit or found)[0]
        if crop is None:
            raise Refused(
                _("“%(name)s” is not known.") % {"name": name},
                mend=self._meant(name, side)
                + _("Correct the name, or name its crop in the column “%(column)s” to make it new.")
                % {"column": BY_KEY[f"{side}_crop"].word},
            )
        role = Variety.Role.SCION if side == "scion" else Variety.Role.ROOTSTOCK
        return self.new.setdefault((crop.pk, f"{side}:{name.casefold()}"), Variety.from_crop(crop, name, role))

    def _meant(self, name: str, side: str) -> str:
        every = [each for named in self.varieties.values() for each in named]
        fit = (each for each in every if (each.may_be_scion if side == "scion" else each.may_be_rootstock))
        return meant_words(name, [each.name for each in fit])


class Cells:
    """One row by the keys of its columns; what cannot be read is noted as its fault, and reads as nothing."""

    def __init__(self, row: Row, keys: Sequence[str]) -> None:
        self.number = row.number
        self.texts = {key: cell for key, cell in zip(keys, row.cells, strict=False) if key}
        self.faults: list[Fault] = []
        if len(row.cells) > len(keys):
            self.note(
                "",
                Refused(
                    _("The row has more cells than there are headings."),
                    mend=_("Put what holds the sign between cells into quotation marks."),
                ),
            )
        for key, text in self.texts.items():
            try:
                refuse_formula(text)
                if len(text) > LONGEST.get(key, 200):
                    raise Refused(
                        _("This is longer than %(n)s characters.") % {"n": LONGEST.get(key, 200)},
                        mend=_("Shorten it."),
                    )
            except Refused as refused:
                self.note(key, refused)
        for fault in self.faults:
            self.texts.pop(fault.column, None)

    def text(self, key: str) -> str:
        return self.texts.get(key, "")

    def note(self, key: str, refused: Refused) -> None:
        found = self.texts.get(key, "")[:60]
        self.faults.append(Fault(self.number, key, refused.reason, refused.mend, found))

    def read(self, key: str, how: Callable[[str], Any], empty: Any = None) -> Any:
        """The cell as `how` reads it; `empty` where it is empty or faulty."""
        text = self.text(key)
        if not text:
            return empty
        try:
            return how(text)
        except Refused as refused:
            self.note(key, refused)
            return empty

    def needed(self, key: str, how: Callable[[str], Any]) -> Any:
        if not self.text(key) and not any(fault.column == key for fault in self.faults):
            word = BY_KEY[key].word
            self.note(key, Refused(_("%(column)s is empty.") % {"column": word}, mend=str(BY_KEY[key].says)))
        return self.read(key, how)


def orders_of(rows: Iterable[Row], keys: Sequence[str], book: Book) -> list[Draft]:
    """All rows as orders, in the order of their first rows; faults stand with them."""
    drafts: dict[tuple[str, str], Draft] = {}
    last: dict[str, str] = {}  # by name of an order its customer so far: written once is enough
    for row in rows:
        cells = Cells(row, keys)
        name, customer = cells.text("order"), cells.text("customer")
        customer = customer or last.get(name, "") if name else customer
        last[name] = customer
        key = (name.casefold(), customer.casefold()) if name else (f"\0{row.number}", "")
        draft = drafts.setdefault(key, Draft(name))
        draft.rows.append(row.number)
        _head(draft, cells, customer)
        line = _line(cells, book)
        if line:
            draft.lines.append(line)
        draft.faults += cells.faults
    for draft in drafts.values():
        draft.faults += _faults_of(draft)
    return list(drafts.values())


def _head(draft: Draft, cells: Cells, customer: str) -> None:
    """Who asks: said in any of an order's rows, and the same in all that say it."""
    said = {
        "customer": customer,
        "email": cells.read("email", _email, ""),
        "phone": cells.text("phone"),
        "own_crop": cells.read("own_crop", yes_of, False),
    }
    for key, value in said.items():
        before = getattr(draft, key)
        if before and value and before != value and key in ("email", "phone"):
            cells.note(
                key,
                Refused(
                    _("Another row of this order has %(before)s.") % {"before": before},
                    mend=_("Write the same in both, or leave one empty."),
                ),
            )
        setattr(draft, key, before or value)


def _email(text: str) -> str:
    try:
        validate_email(text)
    except ValidationError:
        raise Refused(
            _("“%(text)s” is no email address.") % {"text": text[:60]}, mend=_("Write it as name@example.org.")
        ) from None
    return text


def _line(cells: Cells, book: Book) -> OrderLine | None:
    """The line of a row, or None where something that it cannot do without is missing or wrong."""
    nursery = book.nursery
    kind = cells.read("kind", _choice("kind"), OrderLine.Kind.GRAFTED)
    scion = rootstock = None
    if kind != OrderLine.Kind.ROOM:
        scion = _variety(cells, "scion", book)
    if kind == OrderLine.Kind.GRAFTED:
        rootstock = _variety(cells, "rootstock", book)
    grafted = kind == OrderLine.Kind.GRAFTED
    line = {
        "kind": kind,
        "scion": scion,
        "rootstock": rootstock,
        "method": cells.read("method", _choice("method"), Method.SPLICE) if grafted else Method.PLAIN,
        "leaders": cells.read("leaders", _choice("leaders"), OrderLine.Leaders.ONE),
        "quantity": cells.needed("quantity", _plants),
        "container": cells.needed("container", book.container),
        "pickup_asked": cells.needed("pickup_asked", lambda text: day_of(text, nursery)),
        "earlier": cells.read("earlier", whole_of, nursery.latitude_earlier),
        "later": cells.read("later", whole_of, nursery.latitude_later),
        "collection_days": cells.read("collection_days", _collection_days, nursery.collection_days),
        "room_place_kind": cells.read("room_place_kind", _choice("room_place_kind"), ""),
        "room_nights": cells.read("room_nights", _nights),
        "unit_price": cells.read("unit_price", price_of, Decimal(0)),
        "notes": cells.text("notes"),
    }
    for side in ("scion", "rootstock"):
        line[f"{side}_seed"] = cells.read(f"{side}_seed", _choice(f"{side}_seed"), OrderLine.Seed.OURS)
        by = f"{side}_seed_expected"
        line[by] = cells.read(by, lambda text: day_of(text, nursery))
    if cells.faults:
        return None
    made = OrderLine(**line)
    for fault in faults_of(made, today=book.today):
        cells.note(fault.field, fault)
    return None if cells.faults else made


def _variety(cells: Cells, side: str, book: Book) -> Variety | None:
    crop = cells.read(f"{side}_crop", book.crop)
    found: Variety | None = cells.needed(side, lambda name: book.variety(name, side, crop))
    return found


def _choice(key: str) -> Callable[[str], str]:
    """A reader of what is chosen from a few, by value, by name, or by another word for it."""
    known = {_bare(said): str(value) for value, label in CHOICES[key].choices for said in (value, str(label))}
    if key == "method":  # 'side' of 'Side graft'; what is not grafted at all is said in another column
        known |= {said.removesuffix(" graft"): value for said, value in known.items()}
        known = {said: value for said, value in known.items() if value != Method.PLAIN}
    known |= WORDS.get(key, {})

    def read(text: str) -> str:
        value = known.get(_bare(text))
        if value is None:
            raise Refused(
                _("“%(text)s” is not known here.") % {"text": text[:40]},
                mend=_("Write %(words)s") % {"words": BY_KEY[key].says},
            )
        return value

    return read


def _bare(text: str) -> str:
    return re.sub(r"[\W_]+", " ", text).strip().casefold()


def _plants(text: str) -> int:
    """Refused here already: a line that lacks something else besides is not looked at as a whole."""
    number = whole_of(text)
    for refused in faults_of_quantity(number):
        raise refused
    return number


def _collection_days(text: str) -> int:
    return _between(text, 1, 30)


def _nights(text: str) -> int:
    return _between(text, 1, 400)


def _between(text: str, least: int, most: int) -> int:
    number = whole_of(text)
    if not least <= number <= most:
        raise Refused(
            _("%(n)s is out of range.") % {"n": number},
            mend=_("Write a number from %(least)s to %(most)s.") % {"least": least, "most": most},
        )
    return number


def _faults_of(draft: Draft) -> Iterator[Fault]:
    """What is wrong with an order as a whole, said of its first row."""
    first = draft.rows[0]
    if draft.own_crop and draft.customer:
        yield Fault(
            first,
            "own_crop",
            _("The order has a customer, and is to be our own crop."),
            _("Leave one of the two empty."),
            draft.customer,
        )
    if not draft.own_crop and not draft.customer and not any(f.column == "customer" for f in draft.faults):
        yield Fault(first, "customer", _("No customer is named."), _("Write the customer's name."))
    if len(draft.rows) > MOST_IN_AN_ORDER:
        yield Fault(
            first,
            "order",
            _("The order has %(n)s rows.") % {"n": len(draft.rows)},
            _("Make several orders of it, with at most %(n)s rows each.") % {"n": MOST_IN_AN_ORDER},
            draft.name,
        )


def customer_named(name: str) -> Customer | None:
    return Customer.objects.filter(name__iexact=name).first()
