"""The form that leaves something open."""

from collections.abc import Sequence

from django import forms

from inventory.shop.forms import OnceForm, text

USUAL_WHY = ("not used since it was weighed last", "waits for the next collection", "asked for again", "out of use")


class LeaveForm(OnceForm):
    """things: code or number of what is open, and its words."""

    things = forms.MultipleChoiceField(
        label="These",
        widget=forms.CheckboxSelectMultiple,
        error_messages={
            "required": "Tick at least one of them.",
            "invalid_choice": "One of these is not open any more. Open the month anew, and tick what is still open.",
        },
    )
    why = text("Reason", 300, required=True, list="usual-why")

    def __init__(self, *args, things: Sequence[tuple[str, str]], **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["things"].choices = things
        self.fields["things"].initial = [thing for thing, _ in things]
