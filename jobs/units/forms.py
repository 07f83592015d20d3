"""Forms about customers, their premises and their units."""

from collections.abc import Sequence

from django import forms
from django.urls import reverse

from inventory.measures.fields import MassFormField, VolumeFormField
from inventory.measures.number_fields import NumberField
from inventory.measures.units import POUNDS_AND_OUNCES
from inventory.reference.refrigerants import refrigerants
from inventory.reference.rule import EQUIPMENT, USES
from inventory.shop.clock import today
from inventory.shop.forms import OldDayField, OnceForm
from jobs.people.models import Person
from jobs.units.models import YEARS, YES_NO, FullCharge, LeakRateMethod, UnitKind

# What only rules ask about a unit; the page folds it away where nothing of it is said.
OF_RULES = (
    "exactly",
    "use",
    "sealed",
    "leak_detection",
    "designed_for",
    "installed_on",
    "retired_on",
    "dwelling",
    "light_commercial",
    "process_share_percent",
    "process_shutdown",
    "open_drive",
    "military",
    "below_minus_50",
    "exemption_proof",
)
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


class PremisesForm(OnceForm):
    name = forms.CharField(
        label="Name",
        max_length=150,
        help_text="What the customer calls the place, e.g. Main street store.",
        error_messages={"required": "Type what the premises are called."},
    )
    address = forms.CharField(label="Address", required=False, widget=forms.Textarea(attrs={"rows": 3}))
    note = forms.CharField(label="Note", required=False, widget=forms.Textarea(attrs={"rows": 3}))


class MethodForm(OnceForm):
    """How the leak rates of all units of some premises are worked out, from a day on."""

    method = forms.ChoiceField(label="Method", choices=LeakRateMethod.METHODS, widget=forms.RadioSelect)
    from_day = OldDayField(label="From", initial=today)
    reason = forms.CharField(label="Why it changes", max_length=2000, widget=forms.Textarea(attrs={"rows": 3}))

    def __init__(self, *args, first: bool, **kwargs):
        """first: nothing was said before, so there is nothing to give a reason for."""
        super().__init__(*args, **kwargs)
        self.fields["method"].error_messages["required"] = "Choose annualizing or rolling average."
        if first:
            del self.fields["reason"]
        else:
            self.fields["reason"].error_messages["required"] = "Say why it changes; the reason is kept for good."


class FullChargeForm(OnceForm):
    """What a unit holds when it is full, from a day on."""

    how = forms.ChoiceField(label="Found by", choices=FullCharge.HOW, widget=forms.RadioSelect)
    mg = MassFormField(
        label="Full charge",
        required=False,
        assume_unit=True,
        allow_zero=False,
        help_text="Blank with a range: then it is the midpoint.",
    )
    range_least_mg = MassFormField(label="Least of the range", required=False, assume_unit=True, allow_zero=False)
    range_most_mg = MassFormField(label="Most of the range", required=False, assume_unit=True, allow_zero=False)
    from_day = OldDayField(label="From", initial=today)
    reason = forms.CharField(
        label="Why it is revised, and how it was found", max_length=2000, widget=forms.Textarea(attrs={"rows": 3})
    )

    def __init__(self, *args, person: Person, first: bool, **kwargs):
        """first: nothing was said before, so there is nothing to give a reason for."""
        super().__init__(*args, **kwargs)
        self.fields["how"].error_messages["required"] = "Say how the full charge was found."
        for name in ("mg", "range_least_mg", "range_most_mg"):
            show_unit(self.fields[name], person.mass_unit)
        reason = self.fields["reason"]
        reason.required = not first
        if first:
            reason.label = "How it was found"
        reason.error_messages["required"] = "Say why the full charge is revised; the reason is kept for good."

    def clean(self):
        """With a range, a figure that is its midpoint need not be typed, and none is taken."""
        said = super().clean()
        if said.get("how") == "range" and said.get("mg") is not None:
            self.add_error("mg", "With a range the full charge is its midpoint; leave this blank.")
        return said


def show_unit(field: MassFormField | VolumeFormField, unit: str) -> None:
    """The unit in which a field's quantity is shown and read, beside its label."""
    field.unit = unit
    field.label = f"{field.label} (lb and oz)" if unit == POUNDS_AND_OUNCES else f"{field.label} ({unit})"


def _yes_no(label: str, help_text: str) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, required=False, choices=[("", "not decided"), *YES_NO], help_text=help_text)


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
    premises = forms.CharField(
        label="Premises",
        max_length=150,
        required=False,
        help_text="Where it stands with the customer, e.g. Main street store. New ones are entered by their name.",
        widget=_plain(list="premises-choices"),
    )
    kind = forms.ChoiceField(label="Kind", choices=UnitKind.choices, initial=UnitKind.VEHICLE)
    exactly = forms.ChoiceField(
        label="More exactly",
        required=False,
        choices=[("", "the usual case of its kind"), *(pair for pair in EQUIPMENT.items() if "/" in pair[0])],
        help_text="Rules differ for these; choosing one chooses the kind too.",
    )
    use = forms.ChoiceField(label="Used as", required=False, choices=[("", "not said"), *USES.items()])
    sealed = forms.BooleanField(label="Hermetically sealed, and labelled so", required=False)
    dwelling = forms.BooleanField(label="In a dwelling", required=False)
    leak_detection = forms.BooleanField(label="Has a leak detection system", required=False)
    designed_for = forms.ChoiceField(label="Designed for", required=False)
    installed_on = OldDayField(label="Installed on", required=False)
    retired_on = OldDayField(label="Retired on", required=False)
    light_commercial = _yes_no(
        "Residential or light commercial A/C or heat pump",
        "No refrigeration, no chiller, no vehicle: 40 CFR 84.106(a)(3)(ii).",
    )
    process_share_percent = NumberField(
        label="Share of its capacity for an industrial process, %",
        required=False,
        least=0,
        most=100,
        help_text="From 50 % on it counts as industrial process refrigeration (40 CFR 82.152).",
    )
    process_shutdown = forms.BooleanField(label="A repair needs an industrial process shutdown", required=False)
    open_drive = _yes_no("Compressor driven from outside", "An open shaft with a seal, as on a belt.")
    bound = _yes_no("One of the systems that the rulebook binds", "")
    military = forms.BooleanField(label="Military equipment", required=False)
    below_minus_50 = forms.BooleanField(label="Cools products below -50 °C", required=False)
    exemption_proof = forms.CharField(
        label="What shows that it is military or below -50 °C",
        required=False,
        help_text="A paper, its number and date.",
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    make = forms.CharField(label="Make", max_length=60, required=False, widget=_plain())
    model = forms.CharField(label="Model", max_length=60, required=False, widget=_plain())
    year = NumberField(
        label="Model year",
        required=False,
        least=YEARS[0],
        most=YEARS[1],
        sentence=f"Write a year from {YEARS[0]} to {YEARS[1]} with four digits, e.g. 2019.",
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
    ports = forms.CharField(
        label="Where the service ports are",
        max_length=200,
        required=False,
        help_text="For whoever comes next, e.g. low side at the firewall, high side behind the headlamp.",
        widget=_plain(),
    )
    note = forms.CharField(label="Note", required=False, widget=forms.Textarea(attrs={"rows": 3}))

    def __init__(self, *args, person: Person, beside: int | None = None, binds: Sequence[str] = (), **kwargs):
        """person: whose units are shown. beside: the id of the unit that is being changed. binds: whom the rulebook
        binds, where that is not everybody; else nothing is asked about that."""
        super().__init__(*args, **kwargs)
        if binds:
            self.fields["bound"].help_text = " ".join(binds)
        else:
            del self.fields["bound"]
        for name, blank in (("refrigerant", "not known yet"), ("designed_for", "what is in it")):
            known = list(refrigerants())
            kept = self.initial.get(name)
            if kept and kept not in known:  # from an older log
                known.append(kept)
            self.fields[name].choices = [("", blank), *((code, code) for code in known)]
        for name in CHARGES:
            show_unit(self.fields[name], person.mass_unit)
        show_unit(self.fields["oil_amount_ul"], person.volume_unit)
        self._ask_while_typing(beside)

    @property
    def of_rules(self) -> bool:
        """Whether anything is filled in that only the rules ask about."""
        return any(self[name].value() or self[name].errors for name in OF_RULES)

    def clean(self):
        said = super().clean()
        if said.get("exactly"):
            said["kind"], _, said["exactly"] = said["exactly"].partition("/")
        return said

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
        self.fields["premises"].widget.attrs |= {
            "hx-get": reverse("premises-choices"),
            "hx-include": "#id_customer",
            "hx-trigger": "focus, input changed delay:300ms",
            "hx-target": "#premises-choices",
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
