"""The forms about gas that is kept apart."""

from collections.abc import Mapping

from django import forms

from inventory.asking.asked import Asks
from inventory.containers.forms import scales
from inventory.containers.states import GRADES
from inventory.kept.actions import Brought, Identified
from inventory.kept.customers import customer_code
from inventory.measures.days import FIRST_MADE
from inventory.measures.fields import MassFormField, WaterCapacityFormField
from inventory.measures.number_fields import NumberField
from inventory.plausible.expected import Known
from inventory.plausible.masses import Tare
from inventory.plausible.vessels import Vessel
from inventory.reference.kinds import KINDS
from inventory.shop.forms import ActForm, DayField, DueField, note, text
from inventory.text.refusal import Refused

OF_GAS = [(kind.code, kind.label) for kind in KINDS.values() if not kind.is_oil]
STAMPED = [("stamped", "as stamped on it"), ("weighed empty", "weighed empty")]


class Weighed(forms.Form):
    """Weights in the person's own unit, on a scale of the shop."""

    WEIGHTS: tuple[str, ...] = ()

    def __init__(self, *args, person, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["scale"].choices = scales()
        for name in self.WEIGHTS:
            self.fields[name].unit = person.mass_unit
            self.fields[name].label += f", {person.mass_unit}"


class CustomerField(forms.CharField):
    """A customer by name, or by name and code; cleaned to the code."""

    def __init__(self, **kwargs: object):
        widget = forms.TextInput(attrs={"autocomplete": "off", "list": "customers"})
        super().__init__(**{"label": "Customer", "max_length": 170, "widget": widget, **kwargs})

    def clean(self, value: object) -> str:
        typed = super().clean(value)
        if not typed:
            return ""
        try:
            return customer_code(typed)
        except Refused as refused:
            raise forms.ValidationError(refused.message) from None


class TakeInForm(Asks, Weighed, ActForm):
    WEIGHTS = ("gross", "tare")

    customer = CustomerField(error_messages={"required": "Say whose cylinder it is."})
    kind = forms.ChoiceField(label="Kind", choices=OF_GAS, initial="refillable")
    substance = text("Refrigerant", 40, required=True, help_text="e.g. R-134a", list="substances")
    grade = forms.ChoiceField(
        label="Grade", choices=[(grade, grade) for grade in GRADES if grade != "mixed"], initial="recovered"
    )
    scale = forms.ChoiceField(label="Scale", required=False)
    gross = MassFormField(label="Weight as it came", assume_unit=True)
    tare = MassFormField(label="Tare", assume_unit=True)
    location = text("Place", 100, required=True, list="locations")
    code = text("Code", 60, help_text="blank: the next free one; print its label")
    water_capacity = WaterCapacityFormField(label="Water capacity", required=False)
    retest_due = DueField(label="Retest due", required=False, first=FIRST_MADE)
    day = DayField(label="Day")
    note = note()

    def known(self, data: dict) -> Mapping[str, Known | None]:
        vessel = Vessel(data["kind"], nominal=0, water_capacity=data["water_capacity"])
        return {"tare": Tare(vessel, data["gross"])}

    def brought(self) -> Brought:
        data = self.cleaned_data
        return Brought(
            kind=data["kind"],
            substance=data["substance"],
            grade=data["grade"],
            tare_mg=data["tare"],
            gross_mg=data["gross"],
            location=data["location"],
            code=data["code"],
            scale=data["scale"],
            water_capacity_mg=data["water_capacity"],
            retest_due=data["retest_due"],
        )


class KeepForForm(ActForm):
    """For whose gas an empty container is."""

    customer = CustomerField(
        required=False, help_text="blank: it is for nobody's own gas any more, and the shop's again"
    )
    day = DayField(label="Day")
    note = note()


class GiveBackForm(ActForm):
    stays = forms.BooleanField(
        label="Only the gas goes back: it was emptied into their cylinder, and this one is the shop's", required=False
    )
    day = DayField(label="Day")
    note = note("Note: who took it")


class FoundForm(Weighed, ActForm):
    WEIGHTS = ("gross",)

    kind = forms.ChoiceField(label="Kind, as it looks", choices=OF_GAS, initial="recovery")
    scale = forms.ChoiceField(label="Scale", required=False)
    gross = MassFormField(label="Weight as it is", assume_unit=True)
    location = text("Place", 100, required=True, list="locations")
    found_where = forms.CharField(
        label="Where it was found, and what is known of it",
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Say where it was found, and what is known of it."},
    )
    photo = forms.FileField(
        label="Photo of its stamps and label",
        required=False,
        help_text="wanted: it shows later what nobody can read any more",
        widget=forms.FileInput(attrs={"accept": "image/*"}),
    )
    code = text("Code", 60, help_text="blank: the next free one; print its label")
    day = DayField(label="Day")


class IdentifyForm(Weighed, ActForm):
    WEIGHTS = ("gross", "tare")

    substance = text("Refrigerant", 40, required=True, help_text="of a mixture the one it is mostly", list="substances")
    grade = forms.ChoiceField(
        label="Grade",
        choices=[(grade, grade) for grade in ("recovered", "mixed", "recycled", "reclaimed", "virgin")],
        help_text="mixed: it can only be sent away",
    )
    purity = NumberField(label="Purity, %", required=False, least=0, most=100, places=2)
    identified_by = text("By what", 150, required=True, help_text="the identifier, or the paper that says it")
    tare = MassFormField(label="Tare", assume_unit=True)
    how = forms.ChoiceField(label="The tare is", choices=STAMPED)
    scale = forms.ChoiceField(label="Scale", required=False)
    gross = MassFormField(
        label="Weight now", required=False, assume_unit=True, help_text="blank: it weighs what it weighed when found"
    )
    day = DayField(label="Day")
    note = note()

    def said(self) -> Identified:
        data = self.cleaned_data
        return Identified(
            substance=data["substance"],
            tare_mg=data["tare"],
            by=data["identified_by"],
            grade=data["grade"],
            purity="" if data["purity"] is None else f"{data['purity'].normalize():f}",
            how=data["how"],
            gross_mg=data["gross"],
            scale=data["scale"],
        )
