"""The form by which a machine's recycling is entered."""

from django import forms

from inventory.machines.models import Machine
from inventory.reference.rulebook import rulebooks
from inventory.shop.forms import ActForm, DayField, text


def standards() -> list[str]:
    """The standards that rulebooks name of machines, to choose from."""
    rules = [rule for book in rulebooks().values() for rule in book.sections["machine"]]
    return list(dict.fromkeys(name for rule in rules for name in rule.standards))


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
