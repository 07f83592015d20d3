"""The form of an accidental release."""

import datetime as dt
from collections.abc import Mapping

from django import forms
from django.contrib.auth import get_user_model

from inventory.asking.asked import Asks
from inventory.containers.forms import scales
from inventory.containers.models import Container
from inventory.containers.vessels import called, weight_of
from inventory.measures.fields import MassFormField
from inventory.measures.quantity import parse_mass, parse_volume
from inventory.plausible.expected import Known
from inventory.releases.causes import ALL, CAUSES, ESTIMATED, HOW, WEIGHED
from inventory.shop.access import STAFF
from inventory.shop.clock import zone
from inventory.shop.forms import ActForm, DayField, note, text
from inventory.text.refusal import Refused

WEIGHTS = ("before", "after")
NEEDED = {"required": "Choose the cause; where none of these was it, choose something else and say below what was."}


def _people() -> list[tuple[str, str]]:
    found = get_user_model().objects.filter(is_active=True, role__in=STAFF).order_by("name")
    return list(found.values_list("username", "name"))


class ReleaseForm(Asks, ActForm):
    """before, after: gross weights in mg. quantity: mg, or uL of an oil, by what the container holds."""

    container = text("Container", 60, required=True, list="stock")
    cause = forms.ChoiceField(label="Cause", choices=[("", "choose"), *CAUSES.items()], error_messages=NEEDED)
    how = forms.ChoiceField(
        label="How much got out",
        choices=list(HOW.items()),
        widget=forms.RadioSelect,
        error_messages={"required": "Choose how it is known how much got out."},
    )
    after = MassFormField(label="It weighs now", required=False, assume_unit=True)
    before = MassFormField(
        label="It weighed before",
        required=False,
        assume_unit=True,
        help_text="where it was weighed right before; blank: the book tells what was in it",
    )
    scale = forms.ChoiceField(label="Scale", required=False)
    quantity = text("So much got out, by estimate", 40, help_text="with its unit, e.g. 300 g")
    day = DayField(label="Day")
    time = forms.TimeField(
        label="Time of day",
        required=False,
        widget=forms.TimeInput(attrs={"type": "time", "autocomplete": "off"}, format="%H:%M"),
        error_messages={"invalid": "Write the time as 14:05."},
    )
    who = forms.ChoiceField(label="Who was there", required=False)
    note = note("What happened, how it was estimated, what was done")

    def __init__(self, *args, person, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["container"].error_messages["required"] = "Name the container it got out of."
        self.fields["scale"].choices = scales()
        self.fields["who"].choices = [("", person.name), *(one for one in _people() if one[0] != person.username)]
        for name in WEIGHTS:
            self.fields[name].unit = person.mass_unit
            self.fields[name].label += f", {person.mass_unit}"

    def clean(self) -> dict:
        data = super().clean()
        how, given = data.get("how"), {name: data.get(name) for name in (*WEIGHTS, "quantity")}
        if how == WEIGHED and given["after"] is None and "after" not in self.errors:
            self.add_error(
                "after", "Type what it weighs now; what got out is the book, or the weight before, less that."
            )
        if how == ESTIMATED and not given["quantity"] and "quantity" not in self.errors:
            self.add_error("quantity", "Type how much got out, e.g. 300 g, and say below how it was estimated.")
        for name in WEIGHTS:
            if how in {ALL, ESTIMATED} and given[name] is not None:
                self.add_error(name, "Above it says that it was not weighed; choose weighed, or leave this blank.")
        if how in {ALL, WEIGHED} and given["quantity"]:
            self.add_error("quantity", "Above it says that it is not estimated; choose that, or leave this blank.")
        if given["quantity"] and "container" in data:
            self._read_quantity(data)
        return data

    def _read_quantity(self, data: dict) -> None:
        found = Container.objects.filter(code=data["container"].strip(), void=False).first()
        try:
            data["quantity"] = (parse_volume if found and found.is_oil else parse_mass)(data["quantity"])
        except Refused as refused:
            self.add_error("quantity", refused.message)

    def known(self, data: dict) -> Mapping[str, Known | None]:
        code = data["container"].strip()
        left = called([code]).get(code)
        weighed = None if left is None or left.is_oil else weight_of(left, data.get("scale", ""))
        return {"before": weighed}  # of a quantity the act itself says what cannot be

    def said(self) -> dict[str, object]:
        """What the verb is told of the release; once the form is valid."""
        data = self.cleaned_data
        given = {name: data[name] for name in ("cause", "before", "after", "scale")}
        quantity = None if data["quantity"] == "" else data["quantity"]  # 0 is no blank: it is nothing, not all
        return {"code": data["container"].strip(), "quantity": quantity, **given}

    def head(self, by: str) -> dict[str, object]:
        """With the moment, and who was there where that is another."""
        found = super().head(by)
        time, who = self.cleaned_data.get("time"), self.cleaned_data.get("who")
        if time is not None:
            found["at"] = dt.datetime.combine(found["day"], time, zone())
        return {**found, "done_by": who} if who else found
