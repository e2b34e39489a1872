"""What the gallery's pages show: invented, and nothing behind it."""

from datetime import date

from django import forms
from django.utils.datastructures import MultiValueDict

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
        "user": {"is_authenticated": True, "get_username": "ines"},
        "mailbox_shown": True,
        "form": CustomerForm(initial={"customer": "Dunmore Glasshouse"}),
        "line": LineForm(initial={"scion": "Tallis Red", "rootstock": "Kelder", "plants": 150, "pickup": pickup}),
        "wrong": PlaceForm(MultiValueDict({"name": ["Healing chamber"], "positions": ["0"], "kind": ["healing"]})),
        "rows": rows,
        "weeks": range(8, 34),
        "shelves": ["Places", "Hands", "Calendar", "Crops", "Varieties", "Protocols", "Lots", "Prices"],
    }
