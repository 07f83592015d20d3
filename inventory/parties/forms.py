"""The form of a supplier, reclaimer, destroyer or buyer."""

from django import forms

from inventory.parties.models import PAPERS, Party
from inventory.shop.forms import DueField, OldDayField, OnceForm, text


class PartyForm(forms.Form):
    name = text("Name", 200, required=True, help_text="it may change; the code stays")
    role = forms.ChoiceField(label="Role", choices=Party.ROLES)
    address = forms.CharField(
        label="Address", required=False, max_length=1000, widget=forms.Textarea(attrs={"rows": 3})
    )
    registration = text(
        "Registration",
        100,
        help_text="permit or registration number, where the law asks for one; of a buyer: the certificate seen",
    )


class PartyField(forms.ModelChoiceField):
    """A party by its name, and by its role, since two of different roles may share a name."""

    def label_from_instance(self, party: Party) -> str:
        return f"{party.name}, {party.role}"


class PaperForm(OnceForm):
    """A certificate or declaration of a party."""

    kind = forms.ChoiceField(label="It is a", choices=list(PAPERS.items()))
    number = text("Its number", 100, required=True)
    facility = text("Recycled or reclaimed by", 200, help_text="name and address of the facility, where it names one")
    valid_from = OldDayField(label="Valid from")
    valid_until = DueField(label="Valid until", required=False, help_text="the last day; blank: it does not end")
    note = text("Note", 300)


class WithdrawPaperForm(forms.Form):
    why = text("Why", 300, required=True)
