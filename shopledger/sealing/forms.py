"""The forms that seal, and that say who holds a receipt."""

from django import forms

from inventory.shop.forms import DayField, OnceForm, text
from shopledger.sealing.actions import MOST_TO


class SealForm(forms.Form):
    through = DayField(label="Seal all days up to and including", initial=None)
    sure = forms.BooleanField(
        label="I looked over the mass balance of these days. A seal cannot be undone.",
        error_messages={"required": "Look over the mass balance first, then tick this; a seal cannot be undone."},
    )


class HandedForm(OnceForm):
    to = text(
        "Who holds it now",
        MOST_TO,
        required=True,
        help_text="Somebody outside the shop. These words can be erased later; that it was handed out stays.",
    )
    day = DayField(label="On")
