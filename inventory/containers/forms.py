"""Forms about containers, places and scales."""

from collections.abc import Mapping

from django import forms

from inventory.asking.asked import Asks
from inventory.containers.holdings import GRADES
from inventory.containers.models import Container, Location, Scale
from inventory.containers.vessels import amount_of, called, counted_of, scale_called, weight_of
from inventory.measures.fields import MassFormField, VolumeFormField
from inventory.parties.forms import PartyField
from inventory.parties.models import Party
from inventory.plausible.expected import Known
from inventory.reference.gas_rules import LABELS
from inventory.reference.oils import common_oils
from inventory.reference.refrigerants import refrigerants
from inventory.shop.forms import ActForm, DayField, OnceForm, Questioned, confirmation, note, text


def substances() -> list[str]:
    return [*refrigerants(), *(oil.code for oil in common_oils())]


class LabelFields(forms.Form):
    """What the label of a container says of how its content was worked on: of `rows.LABEL`."""

    label_says = forms.ChoiceField(
        label="Its label says", required=False, choices=[("", "nothing of this"), *((said, said) for said in LABELS)]
    )
    batch = text("Batch", 60, help_text="of reclaimed gas, as the label names it")
    facility = text("Reclaimed by", 200, help_text="name and address of the facility, as the label names them")
    label_statement = forms.BooleanField(label="It states how much virgin gas it holds at most", required=False)


class RelabelForm(LabelFields, OnceForm):
    """What a container's label says now."""

    supplier_number = text("Its supplier's number", 60, help_text="the number by which its supplier knows it")
    field_order = ("key", "supplier_number")


class MoveForm(ActForm):
    to_location = text("To", 100, required=True, list="locations")
    day = DayField(label="Day")


class RegradeForm(ActForm):
    grade = forms.ChoiceField(label="Grade", choices=[(grade, grade) for grade in GRADES])
    day = DayField(label="Day")
    note = note("Note: by which machine, to which standard")


class WeighForm(Asks, Questioned, ActForm):
    """gross is a volume for a bottle of oil."""

    scale = forms.ChoiceField(label="Scale", required=False)
    day = DayField(label="Day")
    note = note()
    sure = confirmation("It is right: post the difference")

    def __init__(self, *args, container: Container, person, among: list[tuple[str, str]] | None = None, **kwargs):
        """among: the scales to choose from; whoever makes many such forms asks once."""
        super().__init__(*args, **kwargs)
        if container.is_oil:
            del self.fields["scale"]
            field = VolumeFormField(label="Volume left", unit=person.volume_unit, assume_unit=True)
        else:
            self.fields["scale"].choices = scales() if among is None else among
            field = MassFormField(label="Gross weight", unit=person.mass_unit, assume_unit=True)
        field.label = f"{field.label}, {field.unit}"
        self.fields = {"key": self.fields["key"], "gross": field, **self.fields}
        self.container = container

    def known(self, data: dict) -> Mapping[str, Known | None]:
        return {"gross": weight_of(self.container, data.get("scale", ""))}

    @classmethod
    def label_of(cls, name: str) -> str:
        return "Gross weight, or volume left" if name == "gross" else ""


def scales() -> list[tuple[str, str]]:
    return [("", "usual scale"), *((scale.code, scale.code) for scale in Scale.objects.filter(retired=False))]


class DecantForm(Asks, ActForm):
    """source: the code of the container that is left, where no field asks for it."""

    into = text("Into", 60, required=True, list="fillable")
    scale = forms.ChoiceField(label="Scale", required=False)
    before = MassFormField(label="Weight before", required=False, assume_unit=True)
    after = MassFormField(label="Weight after", required=False, assume_unit=True)
    quantity = MassFormField(label="Or the quantity", required=False, assume_unit=True)
    day = DayField(label="Day")

    def __init__(self, *args, person, source: str = "", **kwargs):
        super().__init__(*args, **kwargs)
        self.source = source
        self.fields["scale"].choices = scales()
        for name in ("before", "after", "quantity"):
            self.fields[name].unit = person.mass_unit
            self.fields[name].label += f", {person.mass_unit}"

    def known(self, data: dict) -> Mapping[str, Known | None]:
        code = data.get("source", self.source)
        left = called([code]).get(code)
        return {"before": weight_of(left, data.get("scale", "")), "quantity": amount_of(left)}


class CountForm(Asks, ActForm):
    scale = forms.ChoiceField(label="Scale", required=False)
    day = DayField(label="Day")
    note = note()

    def __init__(self, *args, containers: list[Container], person, **kwargs):
        super().__init__(*args, **kwargs)
        self.containers = {f"gross-{one.code}": one for one in containers}
        self.fields["scale"].choices = scales()
        for container in containers:
            made = VolumeFormField if container.is_oil else MassFormField
            unit = person.volume_unit if container.is_oil else person.mass_unit
            self.fields[f"gross-{container.code}"] = made(
                label=f"{container.code}, {unit}", unit=unit, assume_unit=True, required=False
            )

    @classmethod
    def label_of(cls, name: str) -> str:
        return name.removeprefix("gross-") if name.startswith("gross-") else ""

    def known(self, data: dict) -> Mapping[str, Known | None]:
        scale = scale_called(data["scale"])
        return {name: counted_of(one, scale) for name, one in self.containers.items() if data.get(name) is not None}

    def sure(self) -> dict[str, str]:
        """By container, what was asked about and is right as it was typed."""
        return {name.removeprefix("gross-"): text for name, text in self.confirmed.items()}

    def readings(self) -> dict[str, int]:
        return {
            name.removeprefix("gross-"): value
            for name, value in self.cleaned_data.items()
            if name.startswith("gross-") and value is not None
        }


class RetireForm(ActForm):
    """asks: how the containers must end, where a rule says it; without, nothing is asked of whom they go to."""

    residue_into = text(
        "What is left goes into", 60, help_text="blank: it is lost and counted as heel loss", list="fillable"
    )
    taken_by = PartyField(label="Taken over by", queryset=Party.objects.all(), required=False)
    statement = forms.BooleanField(label="A certified technician evacuated them and stated it", required=False)
    day = DayField(label="Day")

    PROOF = ("taken_by", "statement")

    def __init__(self, *args, asks: str = "", **kwargs):
        super().__init__(*args, **kwargs)
        if asks:
            self.fields["taken_by"].help_text = f"Say {asks}. Attach the paper to the voucher."
        else:
            for name in self.PROOF:
                del self.fields[name]

    def proof(self) -> dict[str, object]:
        """How the containers ended, as `retire` wants it; once the form is valid."""
        party = self.cleaned_data.get("taken_by")
        return {"taken_by": party.code if party else "", "statement": self.cleaned_data.get("statement", False)}


class LeakCheckForm(OnceForm):
    """A check of one or many containers, all with the same result."""

    day = DayField(label="Day")
    leaks = forms.TypedChoiceField(
        label="Result", choices=[("no", "no leak found"), ("yes", "it leaks")], coerce=lambda value: value == "yes"
    )
    note = text("With what, and what was found", 300)


def locations() -> list[str]:
    return list(Location.objects.filter(closed=False).values_list("name", flat=True))
