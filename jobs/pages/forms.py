"""Forms of the job page: one small form a step, so that each saves by itself."""

import json
import re
import uuid
from collections.abc import Iterable, Sequence

from django import forms
from django.db import models
from django.utils.text import capfirst

from inventory.containers.models import Scale
from inventory.measures.fields import MassFormField, VolumeFormField, WholeQuantityField
from inventory.measures.number_fields import NumberField
from inventory.measures.numbers import read_number
from inventory.measures.quantity import show
from inventory.reference.refrigerants import refrigerants
from inventory.shop.forms import LOST, DayField, OnceForm
from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from jobs.drafts import fields
from jobs.drafts.actions import line_mark
from jobs.drafts.fields import FIGURE_OF, JobField, asked_in
from jobs.drafts.merge import marks
from jobs.drafts.models import CHARGE_WHY, RECOVER_WHY, Job, JobLine
from jobs.lines.posting import OIL_ACTIONS
from jobs.pages.sent import WEIGHTS, read_again, sent_field
from jobs.people.models import Person
from jobs.planning.hose import PHASES
from jobs.planning.oil_plan import parts
from jobs.planning.static_pressure import gauge_pa
from jobs.planning.vacuum import absolute_pa


def _note(label: str, help_text: str = "") -> forms.CharField:
    widget = forms.Textarea(attrs={"rows": 3, "autocomplete": "off"})
    return forms.CharField(label=label, required=False, max_length=2000, help_text=help_text, widget=widget)


def _text(label: str, most: int, help_text: str = "", **attrs: str) -> forms.CharField:
    widget = forms.TextInput(attrs={"autocomplete": "off", **attrs})
    return forms.CharField(label=label, required=False, max_length=most, help_text=help_text, widget=widget)


def _number(label: str, least: float, most: float, unit: str) -> NumberField:
    return NumberField(
        label=f"{label}, {unit}", required=False, least=least, most=most, places=3, unit=unit, as_float=True
    )


class TemperatureField(NumberField):
    """Degrees Celsius; a number that says °F is read in those, to a tenth of a degree Celsius."""

    inputmode = "text"

    def read(self, text: str) -> float:
        number = FAHRENHEIT.fullmatch(text.strip())
        if number is None:
            return super().read(re.sub(r"\s*°? ?[cC]$", "", text.strip()))
        degrees = read_number(number[1], self.style, signed=True)
        return super().read(str(round((degrees - 32) * 5 / 9, 1)))


FAHRENHEIT = re.compile(r"(.*\d)\s*°? ?[fF]")


def _temperature(label: str, least: float, most: float) -> TemperatureField:
    return TemperatureField(
        label=f"{label}, °C", required=False, least=least, most=most, places=3, unit="°C", as_float=True
    )


def _moment(label: str) -> forms.DateTimeField:
    return forms.DateTimeField(
        label=label,
        required=False,
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        input_formats=["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d %H:%M"],
        error_messages={"invalid": "Write day and time as 2026-03-02T09:30."},
    )


class Asking:
    """A form whose readings may be asked about (readings.py). doubts: those that are; sure_given: those that were, and
    are right as they were typed."""

    doubts = ()

    @property
    def sure_given(self) -> list[str]:
        return self.data.getlist("sure") if hasattr(self.data, "getlist") else []


# -- the steps: their fields come from the model and the table of fields ----------------------------------


def _asked(one: JobField) -> forms.Field:
    """The form field of a job's field, by the kind of its column."""
    column = Job._meta.get_field(one.name)
    label = one.label or capfirst(column.verbose_name)
    if one.name in CHOSEN:
        return CHOSEN[one.name](label)
    if isinstance(column, models.FloatField):
        if one.unit == "°C":
            return _temperature(label, one.least, one.most)
        return _number(label, one.least, one.most, one.unit)
    if isinstance(column, models.DateTimeField):
        return _moment(label)
    if isinstance(column, models.DateField):
        return DayField(label=label)
    if isinstance(column, models.TextField):
        return _note(label, column.help_text)
    if isinstance(column, WholeQuantityField):
        return column.formfield(label=label, assume_unit=True)
    if isinstance(column, models.CharField) and not column.choices:
        return _text(label, column.max_length, column.help_text)
    return column.formfield(label=label)


def _chosen(label: str, blank: str, choices: list[tuple[str, str]]) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, required=False, choices=[("", blank), *choices])


# Fields that are chosen from a list that the program keeps.
CHOSEN = {
    "substance": lambda label: forms.ChoiceField(
        label=label, required=False, choices=lambda: [("", "not known yet"), *((name, name) for name in refrigerants())]
    ),
    "recover_why": lambda label: _chosen(label, "for the work", RECOVER_WHY),
    "charge_why": lambda label: _chosen(label, "not said: it counts as making up a leak", CHARGE_WHY),
    "parts": lambda label: forms.MultipleChoiceField(
        label=label, required=False, widget=forms.CheckboxSelectMultiple, choices=lambda: parts().items()
    ),
}
# What a reading comes to as absolute pressure in Pa, by the kind of its gauge.
GAUGES = {"vacuum": absolute_pa, "pressure": gauge_pa}


class StepForm(Asking, forms.Form):
    """Fields of a draft that save together: those that the table of fields gives to `step`. shown: the marks of what
    the page showed, so that nobody's work is overwritten unseen."""

    step = ""
    shown = forms.JSONField(widget=forms.HiddenInput, error_messages={"required": LOST, "invalid": LOST})

    def __init__(self, *args, job: Job, person: Person, **kwargs):
        self.job, self.person = job, person
        names = [one.name for one in asked_in(self.step)]
        figures = [FIGURE_OF[name] for name in names if name in FIGURE_OF]
        recorded = {name: getattr(job, name) for name in (*names, *figures)}
        self.recorded = recorded
        super().__init__(*args, initial={**recorded, "shown": marks(recorded)}, **kwargs)
        for field in self.fields.values():
            if isinstance(field, MassFormField):
                field.unit = person.mass_unit
            elif isinstance(field, VolumeFormField):
                field.unit = person.volume_unit

    def clean_shown(self) -> dict[str, str]:
        shown = self.cleaned_data["shown"]
        if not isinstance(shown, dict):
            raise forms.ValidationError(LOST)
        return shown

    def clean(self) -> dict:
        data = super().clean()
        asked = asked_in(self.step)
        self._read([one for one in asked if one.gauge], data)
        for one in asked:
            start, end = data.get(one.behind), data.get(one.name)
            if one.tap and start and end and end < start:
                self.add_error(one.name, "This lies before the start; check the two times.")
        return data

    def _read(self, readings: list[JobField], data: dict[str, object]) -> None:
        """Refuse what is no reading, and keep the figure of those of which it is wanted."""
        altitude = Shop.current().altitude_m if readings else 0
        for one in readings:
            pascal = None
            if data.get(one.name):
                unit = self.data.get(f"{one.gauge}_unit", "")[:10]
                if unit and data[one.name].strip()[-1:].isdigit():  # the unit that stands beside it
                    data[one.name] = f"{data[one.name].strip()} {unit}"[:30]
                try:
                    pascal = GAUGES[one.gauge](data[one.name], altitude)
                except Refused as refused:
                    self.add_error(one.name, refused.message)
            if one.name in FIGURE_OF:
                data[FIGURE_OF[one.name]] = pascal

    def changes(self) -> dict[str, object]:
        return {name: value for name, value in self.cleaned_data.items() if name != "shown"}

    def beside(self, job: Job, clashes: Iterable[str]) -> None:
        """Say at each field that two people wrote what is recorded now, and take that as seen."""
        now = type(self)(job=job, person=self.person)
        for name in clashes:
            if name in self.fields:
                self.add_error(name, f"Recorded meanwhile: {now.written(name)}.")
        self.data = self.data.copy()
        self.data["shown"] = json.dumps(now.initial["shown"])

    def written(self, name: str) -> str:
        """A recorded value as the field would show it."""
        value, field = self.initial[name], self.fields[name]
        if value in (None, "", []):
            return "nothing"
        if isinstance(value, bool):
            return "yes" if value else "no"
        if isinstance(field, (MassFormField, VolumeFormField)):
            return show(value, field.unit)
        if isinstance(value, list):
            return ", ".join(str(dict(field.choices).get(one, one)) for one in value)
        return str(field.widget.format_value(self[name].value())).replace("T", " ")


class StartForm(StepForm):
    """The label's least is not more than its most."""

    def clean(self) -> dict:
        data = super().clean()
        least, most = data.get("charge_min_mg"), data.get("charge_max_mg")
        if least is not None and most is not None and least > most:
            self.add_error("charge_min_mg", "The least charge is more than the most; turn the two round.")
        return data


def _step_form(step: str) -> type[StepForm]:
    columns = {one.name: _asked(one) for one in asked_in(step)}
    return type(f"{step.capitalize()}Step", (BASES.get(step, StepForm),), {"step": step, **columns})


BASES = {"start": StartForm}
STEPS: dict[str, type[StepForm]] = {step: _step_form(step) for step in fields.STEPS}


# -- entries, photos, and the rest ------------------------------------------------------------------------


class LineForm(Asking, forms.Form):
    """One entry of a job. key: made with the empty form; the same entry arriving twice counts once. shown: the mark
    of the line as the page had it, blank for a new one. before_raw, after_raw: what the scale sent, of a weight that
    was read from it; when the form is valid, what is kept of that.

    choices: (code, words) of the containers to pick from, None for an entry that has one; a code that is typed or
    scanned comes before the one picked. place: what the ids on the page begin with.
    """

    key = forms.UUIDField(widget=forms.HiddenInput, error_messages={"required": LOST, "invalid": LOST})
    action = forms.CharField(widget=forms.HiddenInput)
    shown = forms.CharField(widget=forms.HiddenInput, required=False, max_length=12)
    pick = forms.CharField(label="Container", required=False, max_length=60, widget=forms.Select)
    container = forms.CharField(label="Container", required=False, max_length=60)
    scale = forms.ChoiceField(label="Scale", required=False)
    before = MassFormField(label="Weight before", required=False, assume_unit=True)
    after = MassFormField(label="Weight after", required=False, assume_unit=True)
    quantity = MassFormField(label="Quantity", required=False, assume_unit=True)
    before_raw = sent_field()
    after_raw = sent_field()
    note = _text("Note", 300)

    def __init__(
        self,
        *args,
        action: str,
        person: Person,
        scales: list[Scale],
        line: JobLine | None = None,
        choices: Sequence[tuple[str, str]] | None = None,
        **kwargs,
    ):
        initial = {"action": action, "key": uuid.uuid4()}
        if line is not None:
            initial |= {
                "key": line.key,
                "container": line.container.code if line.container else "",
                "before": line.before,
                "after": line.after,
                "quantity": line.quantity,
                "note": line.note,
                "scale": line.scale.code if line.scale else "",
                "shown": line_mark(line),
            }
        place = f"{action}-{line.key.hex[:12] if line else 'new'}"
        super().__init__(*args, initial=initial, auto_id=f"{place}-%s", **kwargs)
        self.of_oil = action in OIL_ACTIONS
        if self.of_oil:
            self.fields["quantity"] = VolumeFormField(label="Quantity", required=False, assume_unit=True)
        for name in ("before", "after", "quantity"):
            field = self.fields[name]
            field.unit = person.volume_unit if self.of_oil and name == "quantity" else person.mass_unit
            field.label = f"{field.label}, {field.unit}"
        for name in WEIGHTS:
            self.fields[name].widget.attrs["data-weight"] = name
        self.known_scales = scales
        self.fields["scale"].choices = [("", "usual scale"), *((scale.code, scale.code) for scale in scales)]
        self.fields["container"].widget.attrs |= {
            "autocomplete": "off",
            "autocapitalize": "characters",
            "spellcheck": "false",
        }
        for name in (*_unused(action), *(["pick"] if choices is None else [])):
            self.fields.pop(name, None)
        if "pick" in self.fields:
            self.offer(choices)

    # Where one field is shown alone: its name.
    asked = ""

    @property
    def faulty_elsewhere(self) -> bool:
        """Whether anything is wrong that does not stand at the field asked for."""
        return bool(set(self.errors) - {self.asked})

    @property
    def asked_field(self) -> forms.BoundField:
        return self[self.asked]

    @property
    def unasked(self) -> list[forms.BoundField]:
        shown = {self.asked, "pick", *(["container"] if "pick" in self.fields else [])}
        return [field for field in self.visible_fields() if field.name not in shown]

    @property
    def of_any_container(self) -> bool:
        """Whether it may still be another container: none stands on the scale yet."""
        return self.asked != "after"

    @property
    def says_more(self) -> bool:
        """Whether any of what is seldom needed is filled in or faulty."""
        seldom = [self[name] for name in ("quantity", "scale", "note")]
        return any(field.errors for field in seldom) or bool(self["quantity"].value() or self["note"].value())

    def offer(self, choices: Sequence[tuple[str, str]]) -> None:
        """Containers to pick from."""
        self.fields["pick"].widget.choices = [("", "choose a container"), *choices]
        self.fields["container"].label = "or its code, typed or scanned"

    def clean(self) -> dict:
        data = super().clean()
        picked = data.pop("pick", "")
        if "container" in self.fields:
            data["container"] = data.get("container") or picked
        read_again(self, data, self.known_scales)
        return data


def _unused(action: str) -> tuple[str, ...]:
    of_weights = (*WEIGHTS, *(f"{name}_raw" for name in WEIGHTS))
    if action in {"line-loss", "oil-drain"}:
        return ("pick", "container", "scale", *of_weights)
    if action == "oil-add":
        return ("scale", *of_weights)
    return ()


PHOTOS_SHOW = ("label", "gauges", "scale", "leak", "part", "other")


class VacuumForm(Asking, forms.Form):
    """A reading of a vacuum gauge and its unit, which stands beside it; one that is typed along counts instead.
    Cleaned to `said`, as it is kept, and `pascal`, absolute."""

    reading = _text("Vacuum", 30)
    unit = forms.CharField(max_length=10)

    def __init__(self, *args, altitude_m: int, **kwargs):
        self.altitude_m = altitude_m
        super().__init__(*args, auto_id="vacuum-%s", **kwargs)
        self.fields["reading"].required = True
        self.fields["reading"].error_messages["required"] = "Type what the gauge shows."

    def clean(self) -> dict:
        data = super().clean()
        typed = data.get("reading", "").strip()
        if typed:
            data["said"] = f"{typed} {data.get('unit', '')}".strip() if typed[-1].isdigit() else typed
            try:
                data["pascal"] = absolute_pa(data["said"], self.altitude_m)
            except Refused as refused:
                self.add_error("reading", refused.message)
        return data


class PhotoForm(OnceForm):
    """A photo of a job, taken from its page. key: the same photo arriving twice is kept once. proves: the reading that
    it was taken of (jobs/drafts/photo_proofs.py), blank where none."""

    title = forms.ChoiceField(label="It shows", choices=[(one, one) for one in PHOTOS_SHOW])
    proves = forms.CharField(widget=forms.HiddenInput, required=False, max_length=60)
    file = forms.FileField(
        label="Photo",
        widget=forms.FileInput(attrs={"accept": "image/*", "capture": "environment"}),
        error_messages={"required": "Take a photo, or choose one."},
    )
    chosen = forms.BooleanField(label="On the job sheet, too", required=False)


class SignatureForm(OnceForm):
    """What a customer signs on the glass, with the name of who signs. file: blank where the typed name is all."""

    anew = "Keep another signature"

    name = _text("Name of who signs", 100)
    file = forms.FileField(
        label="Signature", required=False, widget=forms.FileInput(attrs={"accept": "image/png", "hidden": True})
    )


class HoseForm(forms.Form):
    """A hose that was not cleared: what it holds is offered as the line loss."""

    length_m = _number("Length", 0.05, 20, "m")
    inner_diameter_mm = _number("Inner diameter", 1, 30, "mm")
    phase = forms.ChoiceField(label="It was", choices=list(PHASES.items()))

    def __init__(self, *args, **kwargs):
        super().__init__(*args, auto_id="hose-%s", initial={"length_m": 1.8, "inner_diameter_mm": 4.8}, **kwargs)
        for name in ("length_m", "inner_diameter_mm"):
            self.fields[name].required = True


class StartJobForm(OnceForm):
    """Which technician does it; the unit is chosen on the page before."""

    anew = "Start a new job"

    technician = forms.ModelChoiceField(queryset=Person.objects.none(), label="Technician")

    def __init__(self, *args, person: Person, **kwargs):
        super().__init__(*args, **kwargs)
        if person.role == "technician":
            del self.fields["technician"]
        else:
            here = Person.objects.filter(is_active=True).exclude(role__in=["office", "inspector"]).order_by("name")
            self.fields["technician"].queryset = here
            self.fields["technician"].choices = list(self.fields["technician"].choices)  # asked once, drawn many times


class CorrectForm(forms.Form):
    note = _note("What was wrong")
    note.required = True
