"""The form of a scale's check."""

from django import forms

from inventory.containers.forms import text
from inventory.measures.fields import MassFormField
from inventory.shop.forms import DayField, DayInput, OnceForm


class CheckForm(OnceForm):
    day = DayField(label="Day")
    reference_mg = MassFormField(label="Reference mass", allow_zero=False, help_text="e.g. 5 kg")
    as_found_mg = MassFormField(label="The scale showed, as found")
    as_left_mg = MassFormField(
        label="After adjusting, as left", required=False, help_text="blank where nothing was adjusted"
    )  # fmt: skip
    reference = text("Which reference mass", 100, help_text="its number or certificate")
    next_due = forms.DateField(label="Next check due", required=False, widget=DayInput)
    note = text("Note", 300)
