"""What the gallery's pages show: invented, and nothing behind it."""

from dataclasses import replace
from datetime import date

from django import forms
from django.utils.datastructures import MultiValueDict

from orders.strand import Cold, Strand, Stretch
from production.sheet import Band, Box, Line, Row, Sheet, weeks_over

TODAY = date(2026, 3, 12)


class CustomerForm(forms.Form):
    grid = "one"
    customer = forms.CharField(help_text="A new name makes a new customer.")


class LineForm(forms.Form):
    scion = forms.CharField()
    rootstock = forms.CharField()
    plants = forms.IntegerField()
    method = forms.ChoiceField(choices=[("splice", "Splice"), ("side", "Side graft")])
    pickup = forms.DateField(widget=forms.DateInput(attrs={"type": "date"}))
    latitude = forms.IntegerField(label="May move by", required=False)


class PlaceForm(forms.Form):
    name = forms.CharField(max_length=12)
    positions = forms.IntegerField(min_value=1, help_text="Trays that stand in it at once.")
    kind = forms.ChoiceField(widget=forms.RadioSelect, choices=[("healing", "Healing"), ("bench", "Bench")])
    stages = forms.MultipleChoiceField(
        widget=forms.CheckboxSelectMultiple,
        required=False,
        choices=[("germination", "Germination"), ("hardening", "Hardening")],
    )
    heated = forms.BooleanField(required=False, label="Heated at night")
    notes = forms.CharField(widget=forms.Textarea, required=False)

    def clean(self):
        raise forms.ValidationError("A healing chamber needs a temperature for the night.")


SPLICE = Strand(
    method="splice",
    rootstock_sown=(date(2026, 2, 16),),
    scion_sown=(date(2026, 2, 16), date(2026, 2, 18)),
    grafted=(date(2026, 3, 18),),
    healing=Stretch(date(2026, 3, 18), date(2026, 3, 22)),
    cover=Stretch(date(2026, 3, 22), date(2026, 3, 24)),
    hardening=Stretch(date(2026, 3, 24), date(2026, 3, 28)),
    growing_on=Stretch(date(2026, 3, 28), date(2026, 4, 14)),
    ready=date(2026, 4, 14),
    pickup=date(2026, 4, 16),
    window=(date(2026, 4, 14), date(2026, 4, 20)),
)
TOPPED = replace(SPLICE, topped=date(2026, 3, 31), growing_on=Stretch(date(2026, 3, 28), date(2026, 4, 14)))
SIDE = replace(
    SPLICE,
    method="side",
    rootstock_sown=(date(2026, 2, 21), date(2026, 2, 24)),
    scion_sown=(date(2026, 2, 19),),
    healing=Stretch(date(2026, 3, 18), date(2026, 3, 21)),
    cover=None,
    notch=date(2026, 3, 23),
    final_cut=date(2026, 3, 25),
    hardening=Stretch(date(2026, 3, 21), date(2026, 3, 28)),
)
COLD = replace(SPLICE, cold=(Cold("scion", Stretch(date(2026, 3, 6), date(2026, 3, 12))),))
PLAIN = Strand(
    plain_sown=(date(2026, 2, 24), date(2026, 2, 27)),
    hardening=Stretch(date(2026, 3, 30), date(2026, 4, 3)),
    growing_on=Stretch(date(2026, 4, 3), date(2026, 4, 14)),
    ready=date(2026, 4, 14),
    pickup=date(2026, 4, 15),
)
ROOM = Strand(room=Stretch(date(2026, 3, 5), date(2026, 4, 2)))
KINDS = {"splice": SPLICE, "two leaders": TOPPED, "side": SIDE, "cold": COLD, "plain": PLAIN, "room": ROOM}


class Ines:
    """Somebody who may open every page."""

    is_authenticated = True
    get_username = "ines"

    def has_perms(self, codes: object) -> bool:
        return True


def season() -> Sheet:
    loads = {
        ("Germination chamber", "10 trays", 10): [4, 6, 8, 9, 10, 8, 7, 6, 4, 3, 2, 2, 1, 0],
        ("Long bench", "60 trays", 60): [12, 18, 27, 35, 44, 52, 58, 60, 57, 49, 38, 26, 15, 8],
        ("Healing chamber", "12 trays", 12): [0, 0, 3, 6, 14, 11, 12, 9, 7, 5, 3, 2, 0, 0],
        ("Grafting hours", "18 h a week", 18): [0, 0, 4, 8, 16, 20.5, 17, 13, 9, 7, 4, 2, 0, 0],
    }
    weeks = weeks_over([date(2026, 2, 16), date(2026, 5, 20)])
    rows = tuple(
        Row(name, room, tuple(Box(week, load, there) for week, load in zip(weeks, asked, strict=True)), "#")
        for (name, room, there), asked in loads.items()
    )
    lines = tuple(
        Line(str(27 + n), "Marrowby on Kelder", f"120 · {name} · Dunmore Glasshouse", "#", replace(s, today=TODAY))
        for n, (name, s) in enumerate(KINDS.items())
    )
    bands = (Band(date(2026, 3, 18), date(2026, 3, 21)), Band(date(2026, 3, 25), date(2026, 3, 26)))
    return Sheet(weeks, rows, lines, bands, TODAY)


def context() -> dict:
    states = ["asked", "held", "confirmed", "growing", "ready", "collected", "let_go", "cancelled", "late"]
    money = ["to_bill", "to_bill", "billed", "paid_in_part", "paid", "overdue", "paid", "paid", "billed"]
    pickup = date(2026, 4, 16)
    rows = [
        {"code": 27 + n, "customer": "Dunmore Glasshouse", "pickup": pickup, "plants": 60, "state": s, "money": m}
        for n, (s, m) in enumerate(zip(states, money, strict=True))
    ]
    return {
        "today": TODAY,
        "user": Ines(),
        "mailbox_shown": True,
        "form": CustomerForm(initial={"customer": "Dunmore Glasshouse"}),
        "line": LineForm(initial={"scion": "Tallis Red", "rootstock": "Kelder", "plants": 150, "pickup": pickup}),
        "wrong": PlaceForm(MultiValueDict({"name": ["Healing chamber"], "positions": ["0"], "kind": ["healing"]})),
        "rows": rows,
        "fits": SPLICE,
        "season": season(),
        "strands": [(name, strand, replace(strand, today=date(2026, 3, 24))) for name, strand in KINDS.items()],
        "weeks": range(8, 34),
        "shelves": ["Places", "Hands", "Calendar", "Crops", "Varieties", "Protocols", "Lots", "Prices"],
    }
