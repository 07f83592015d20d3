"""The form by which a machine's recycling is entered."""

from django import forms

from inventory.machines.models import Machine
from inventory.shop.forms import ActForm, DayField, text

# Standards that machines are built to: 40 CFR 82.36(a) names these.
STANDARDS = ["SAE J2788", "SAE J2810", "SAE J2843", "SAE J2851", "SAE J3030", "SAE J1770"]


class RecycleForm(ActForm):
    machine = forms.ModelChoiceField(
        label="By the machine", queryset=Machine.objects.filter(does="recycle", retired_on=None)
    )
    standard = text("To the standard", 60, required=True, list="standards")
    labelled = forms.BooleanField(
        label="The container is labelled as recycled now",
        required=False,
        help_text="asked of containers in some places; a service machine's own tank needs none",
    )
    day = DayField(label="Day")
    note = text("Note", 300)
