"""The forms of the places' pages."""

from django import forms

from inventory.places.queries import staff
from inventory.shop.forms import OnceForm, text


class LocationForm(forms.Form):
    name = text("Name", 100, required=True)


class KeeperForm(OnceForm):
    """With whom a place is."""

    keeper = forms.ChoiceField(
        label="With whom",
        required=False,
        help_text="such as whoever drives that van; their jobs are planned from what stands there",
    )

    def __init__(self, *args, now: str = "", **kwargs):
        """now: the username of whoever keeps it now, who may work here no more."""
        super().__init__(*args, **kwargs)
        people = list(staff().order_by("name").values_list("username", "name"))
        gone = [(now, now)] if now and now not in dict(people) else []
        self.fields["keeper"].choices = [("", "nobody"), *people, *gone]
