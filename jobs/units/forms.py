"""Forms about customers and units."""

from django import forms
from django.urls import reverse

from inventory.measures.fields import MassFormField, VolumeFormField
from inventory.measures.units import POUNDS_AND_OUNCES
from inventory.reference.refrigerants import refrigerants
from inventory.reference.rule import EQUIPMENT
from inventory.shop.forms import OnceForm
from jobs.people.models import Person
from jobs.units.models import YEARS, UnitKind

CHARGES = ("charge_min_mg", "charge_nominal_mg", "charge_max_mg")


class SearchForm(forms.Form):
    text = forms.CharField(
        max_length=100,
        required=False,
        widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off"}),
    )

    def __init__(self, *args, label: str, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["text"].label = label


class CustomerForm(OnceForm):
    name = forms.CharField(label="Name", max_length=150, error_messages={"required": "Type the customer's name."})
    phone = forms.CharField(label="Phone", max_length=40, required=False, widget=forms.TextInput(attrs={"type": "tel"}))
    address = forms.CharField(label="Address", required=False, widget=forms.Textarea(attrs={"rows": 3}))
    note = forms.CharField(label="Note", required=False, widget=forms.Textarea(attrs={"rows": 3}))


def _capitals(**attrs: str) -> forms.TextInput:
    return forms.TextInput(
        attrs={"autocapitalize": "characters", "autocomplete": "off", "spellcheck": "false", **attrs}
    )


def _plain(**attrs: str) -> forms.TextInput:
    return forms.TextInput(attrs={"autocomplete": "off", **attrs})


class UnitForm(OnceForm):
    """One refrigerant circuit. Nothing but something to tell it by is required: the rest can follow."""

    plate = forms.CharField(label="Plate", max_length=20, required=False, widget=_capitals())
    name = forms.CharField(
        label="Description",
        max_length=150,
        required=False,
        help_text="What the shop calls it, where the plate does not say enough.",
        widget=_plain(),
    )
    vin = forms.CharField(label="VIN", max_length=40, required=False, widget=_capitals())
    customer = forms.CharField(
        label="Customer",
        max_length=170,
        required=False,
        help_text="A name that is not known yet becomes a new customer.",
        widget=_plain(list="customer-choices"),
    )
    kind = forms.ChoiceField(label="Kind", choices=UnitKind.choices, initial=UnitKind.VEHICLE)
    exactly = forms.ChoiceField(
        label="More exactly",
        required=False,
        choices=[("", "the usual case of its kind"), *(pair for pair in EQUIPMENT.items() if "/" in pair[0])],
        help_text="Rules differ for these; choosing one chooses the kind too.",
    )
    sealed = forms.BooleanField(label="Hermetically sealed, and labelled so", required=False)
    dwelling = forms.BooleanField(label="In a dwelling", required=False)
    leak_detection = forms.BooleanField(label="Has a leak detection system", required=False)
    make = forms.CharField(label="Make", max_length=60, required=False, widget=_plain())
    model = forms.CharField(label="Model", max_length=60, required=False, widget=_plain())
    year = forms.IntegerField(
        label="Model year",
        required=False,
        min_value=YEARS[0],
        max_value=YEARS[1],
        widget=forms.NumberInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        error_messages={"invalid": "Write the year with four digits, e.g. 2019."},
    )
    refrigerant = forms.ChoiceField(label="Refrigerant", required=False)
    charge_min_mg = MassFormField(label="Least charge", required=False, assume_unit=True, allow_zero=False)
    charge_nominal_mg = MassFormField(label="Nominal charge", required=False, assume_unit=True, allow_zero=False)
    charge_max_mg = MassFormField(label="Most charge", required=False, assume_unit=True, allow_zero=False)
    label_confirmed = forms.BooleanField(label="Charge read from this unit's own label", required=False)
    oil = forms.CharField(
        label="Oil",
        max_length=40,
        required=False,
        help_text="Family and grade, e.g. PAG 46.",
        widget=_plain(list="oil-choices", autocapitalize="characters"),
    )
    oil_amount_ul = VolumeFormField(label="Oil in the system", required=False, assume_unit=True, allow_zero=False)
    high_voltage_compressor = forms.BooleanField(label="High-voltage electric compressor", required=False)
    note = forms.CharField(label="Note", required=False, widget=forms.Textarea(attrs={"rows": 3}))

    def __init__(self, *args, person: Person, beside: int | None = None, **kwargs):
        """person: whose units are shown. beside: the id of the unit that is being changed."""
        super().__init__(*args, **kwargs)
        known = list(refrigerants())
        kept = self.initial.get("refrigerant")
        if kept and kept not in known:  # from an older log
            known.append(kept)
        self.fields["refrigerant"].choices = [("", "not known yet"), *((code, code) for code in known)]
        for name in CHARGES:
            self._show_unit(name, person.mass_unit)
        self._show_unit("oil_amount_ul", person.volume_unit)
        self._ask_while_typing(beside)

    @property
    def of_rules(self) -> bool:
        """Whether anything is filled in that only the rules ask about."""
        return any(self[name].value() for name in ("exactly", "sealed", "dwelling", "leak_detection"))

    def clean(self):
        said = super().clean()
        if said.get("exactly"):
            said["kind"], _, said["exactly"] = said["exactly"].partition("/")
        return said

    def _show_unit(self, name: str, unit: str) -> None:
        field = self.fields[name]
        field.unit = unit
        field.label = f"{field.label} (lb and oz)" if unit == POUNDS_AND_OUNCES else f"{field.label} ({unit})"

    def _ask_while_typing(self, beside: int | None) -> None:
        """Parts of the page that answer while the form is filled; without scripts the form works as well."""
        query = f"?beside={beside}" if beside else ""
        self.fields["vin"].widget.attrs |= {
            "hx-get": reverse("unit-vin") + query,
            "hx-include": "#id_year",
            "hx-trigger": "change",
            "hx-target": "#vin-notices",
        }
        self.fields["customer"].widget.attrs |= {
            "hx-get": reverse("customer-choices"),
            "hx-trigger": "input changed delay:300ms",
            "hx-target": "#customer-choices",
            "hx-sync": "this:replace",
        }
        for name in ("make", "model", "year", "refrigerant"):
            self.fields[name].widget.attrs |= {
                "hx-get": reverse("unit-suggestion") + query,
                "hx-include": "#id_make, #id_model, #id_year, #id_refrigerant",
                "hx-trigger": "change",
                "hx-target": "#suggestion",
                "hx-sync": "#suggestion:replace",
            }
