"""Forms about containers, places and scales."""

from django import forms

from inventory.containers.book import GRADES, KINDS, PURPOSES, USUAL_GRADE
from inventory.containers.models import Container, Location, Scale
from inventory.ledger.refusal import Refused
from inventory.measures.fields import MassFormField, VolumeFormField, WaterCapacityFormField
from inventory.measures.quantity import parse_mass, parse_volume
from inventory.receiving.models import Party
from inventory.reference.oils import common_oils
from inventory.reference.refrigerants import refrigerants
from inventory.reference.substances import UnknownSubstance, substance
from inventory.shop.forms import DayField, DayInput, OnceForm


def text(label: str, most: int = 200, *, required: bool = False, help_text: str = "", **attrs: str) -> forms.CharField:
    widget = forms.TextInput(attrs={"autocomplete": "off", **attrs})
    return forms.CharField(label=label, max_length=most, required=required, help_text=help_text, widget=widget)


def note(label: str = "Note") -> forms.CharField:
    return forms.CharField(label=label, max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": 2}))


def substances() -> list[str]:
    return [*refrigerants(), *(oil.code for oil in common_oils())]


class LineForm(forms.Form):
    """A line of a delivery: a number of equal containers."""

    kind = forms.ChoiceField(label="Kind", choices=[("", "choose"), *KINDS.items()])
    substance = text("Refrigerant or oil", 40, help_text="e.g. R-134a or PAG 46", list="substances")
    grade = forms.ChoiceField(
        label="Grade", required=False, choices=[("", "as usual for the kind"), *((g, g) for g in GRADES)]
    )
    net = text("Net each", 40, help_text="e.g. 340 g, 30 lb or 250 mL; blank where they come empty")
    count = forms.IntegerField(label="How many", min_value=1, max_value=500, initial=1)
    tare = MassFormField(label="Tare each", required=False, help_text="blank: taken at the first weighing")
    code = text("First code", 60, help_text="blank: the next free ones")
    water_capacity = WaterCapacityFormField(label="Water capacity", required=False)
    retest_due = forms.DateField(label="Retest due", required=False, widget=DayInput)
    location = text("Where to", 100, list="locations")
    price = forms.DecimalField(label="Price each", required=False, min_value=0, max_digits=11, decimal_places=2)
    deposit = forms.DecimalField(
        label="Deposit each", required=False, min_value=0, max_digits=11, decimal_places=2,
        help_text="for a cylinder that goes back",
    )  # fmt: skip

    def clean(self) -> dict:
        data = super().clean()
        data["is_oil"] = data.get("kind") == "oil"
        if data.get("substance"):
            try:
                data["substance"], data["is_oil"] = substance(data["substance"])
            except UnknownSubstance as unknown:
                self.add_error("substance", str(unknown))
        elif data.get("net") and data.get("kind"):
            self.add_error("substance", "Name what is in it, e.g. R-134a or PAG 46.")
        if data.get("net"):
            try:
                data["net"] = (parse_volume if data["is_oil"] else parse_mass)(data["net"])
            except Refused as refused:
                self.add_error("net", refused.message)
        else:
            data["net"] = 0
        data["grade"] = data.get("grade") or USUAL_GRADE.get(data.get("kind"), "")
        return data


LineFormSet = forms.formset_factory(LineForm, extra=3, max_num=40, validate_max=True)


class DeliveryForm(OnceForm):
    supplier = text("Supplier", required=True, list="suppliers", help_text="a new name is added to the suppliers")
    supplier_address = text("Its address, where it is new", 500)
    document = text("Document", 200, help_text="the number on the delivery note or invoice")
    again = forms.BooleanField(label="This is another delivery under the same document number", required=False)
    day = DayField(label="Day of delivery")
    note = note()


class OpeningForm(OnceForm):
    day = DayField(label="Day of the count")
    note = note()


class MoveForm(OnceForm):
    to_location = text("To", 100, required=True, list="locations")
    day = DayField(label="Day")


class RegradeForm(OnceForm):
    grade = forms.ChoiceField(label="Grade", choices=[(grade, grade) for grade in GRADES])
    day = DayField(label="Day")
    note = note("Note: by which machine, to which standard")


class WeighForm(OnceForm):
    """gross is a volume for a bottle of oil."""

    scale = forms.ChoiceField(label="Scale", required=False)
    day = DayField(label="Day")
    note = note()
    sure = forms.BooleanField(label="It is right: post the difference", required=False, widget=forms.HiddenInput)

    def ask(self) -> None:
        """Show the box by which a questioned reading is confirmed."""
        self.fields["sure"].widget = forms.CheckboxInput()

    def __init__(self, *args, container: Container, person, **kwargs):
        super().__init__(*args, **kwargs)
        if container.is_oil:
            del self.fields["scale"]
            field = VolumeFormField(label="Volume left", unit=person.volume_unit, assume_unit=True)
        else:
            self.fields["scale"].choices = scales()
            field = MassFormField(label="Gross weight", unit=person.mass_unit, assume_unit=True)
        field.label = f"{field.label}, {field.unit}"
        self.fields = {"key": self.fields["key"], "gross": field, **self.fields}


def scales() -> list[tuple[str, str]]:
    return [("", "usual scale"), *((scale.code, scale.code) for scale in Scale.objects.filter(retired=False))]


class DecantForm(OnceForm):
    into = text("Into", 60, required=True, list="fillable")
    scale = forms.ChoiceField(label="Scale", required=False)
    before = MassFormField(label="Weight before", required=False, assume_unit=True)
    after = MassFormField(label="Weight after", required=False, assume_unit=True)
    quantity = MassFormField(label="Or the quantity", required=False, assume_unit=True)
    day = DayField(label="Day")

    def __init__(self, *args, person, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["scale"].choices = scales()
        for name in ("before", "after", "quantity"):
            self.fields[name].unit = person.mass_unit
            self.fields[name].label += f", {person.mass_unit}"


class CountForm(OnceForm):
    scale = forms.ChoiceField(label="Scale", required=False)
    day = DayField(label="Day")
    note = note()

    def __init__(self, *args, containers: list[Container], person, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["scale"].choices = scales()
        for container in containers:
            made = VolumeFormField if container.is_oil else MassFormField
            unit = person.volume_unit if container.is_oil else person.mass_unit
            self.fields[f"gross-{container.code}"] = made(
                label=f"{container.code}, {unit}", unit=unit, assume_unit=True, required=False
            )

    def readings(self) -> dict[str, int]:
        return {
            name.removeprefix("gross-"): value
            for name, value in self.cleaned_data.items()
            if name.startswith("gross-") and value is not None
        }


class ShipmentForm(OnceForm):
    purpose = forms.ChoiceField(label="Purpose", choices=[(name, name) for name in PURPOSES])
    party = forms.ModelChoiceField(label="To", queryset=Party.objects.all())
    document = text("Document", 200)
    containers_go = forms.BooleanField(
        label="The containers go too, for good, with all that is in them", required=False
    )  # fmt: skip
    day = DayField(label="Day")
    note = note()


class RetireForm(OnceForm):
    residue_into = text(
        "What is left goes into", 60, help_text="blank: it is lost and counted as heel loss", list="fillable"
    )
    day = DayField(label="Day")


class LocationForm(forms.Form):
    name = text("Name", 100, required=True)


class ScaleForm(forms.Form):
    code = text("Code", 40, required=True)
    readability_mg = MassFormField(label="Smallest step", help_text="e.g. 1 g", allow_zero=False)
    capacity_mg = MassFormField(label="Capacity", required=False)
    checked_until = forms.DateField(label="Next check due", required=False, widget=DayInput)
    span_ppm = forms.IntegerField(
        label="Limit of its span error, millionths", min_value=1, max_value=50_000, required=False,
        help_text="as its maker claims: 500 is 0.05 %, and what is taken where this is blank",
    )  # fmt: skip
    usual = forms.BooleanField(label="The usual scale, where none is named", required=False)


class PartyForm(forms.Form):
    name = text("Name", 200, required=True)
    role = forms.ChoiceField(label="Role", choices=Party.ROLES)
    address = forms.CharField(
        label="Address", required=False, max_length=1000, widget=forms.Textarea(attrs={"rows": 3})
    )
    registration = text("Registration", 100, help_text="permit or registration number, where the law asks for one")


def locations() -> list[str]:
    return list(Location.objects.filter(closed=False).values_list("name", flat=True))
