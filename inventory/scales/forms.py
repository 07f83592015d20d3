"""The form of a scale's check."""

from django import forms

from inventory.measures.fields import MassFormField
from inventory.measures.number_fields import NumberField
from inventory.shop.forms import DayField, DueField, OnceForm, text


class CheckForm(OnceForm):
    day = DayField(label="Day")
    reference_mg = MassFormField(label="Reference mass", allow_zero=False, help_text="e.g. 5 kg")
    as_found_mg = MassFormField(label="The scale showed, as found")
    as_left_mg = MassFormField(
        label="After adjusting, as left", required=False, help_text="blank where nothing was adjusted"
    )
    reference = text("Which reference mass", 100, help_text="its number or certificate")
    next_due = DueField(label="Next check due", required=False)
    note = text("Note", 300)


class ScaleForm(forms.Form):
    code = text("Code", 40, required=True)
    readability_mg = MassFormField(label="Smallest step", help_text="e.g. 1 g", allow_zero=False)
    capacity_mg = MassFormField(label="Capacity", required=False)
    checked_until = DueField(label="Next check due", required=False)
    span_ppm = NumberField(
        label="Limit of its span error, millionths",
        least=1,
        most=50_000,
        required=False,
        help_text="as its maker claims: 500 is 0.05 %, and what is taken where this is blank",
    )
    usual = forms.BooleanField(label="The usual scale, where none is named", required=False)
