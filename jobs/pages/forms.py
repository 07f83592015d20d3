"""Forms of the job page: one small form a step, so that each saves by itself."""

import json
import uuid
from collections.abc import Iterable, Sequence

from django import forms

from inventory.containers.models import Scale
from inventory.measures.fields import MassFormField, VolumeFormField
from inventory.measures.quantity import show
from inventory.reference.refrigerants import refrigerants
from inventory.shop.forms import LOST, DayField
from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from jobs.drafts.actions import line_mark
from jobs.drafts.merge import marks
from jobs.drafts.models import LEAK_RESULTS, Job, JobLine
from jobs.lines.posting import OIL_ACTIONS
from jobs.people.models import Person
from jobs.planning.hose import PHASES
from jobs.planning.oil_plan import parts
from jobs.planning.static_pressure import gauge_pa
from jobs.planning.vacuum import absolute_pa


def _note(label: str, rows: int = 2) -> forms.CharField:
    return forms.CharField(
        label=label, required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": rows, "autocomplete": "off"})
    )


def _text(label: str, most: int, help_text: str = "", **attrs: str) -> forms.CharField:
    widget = forms.TextInput(attrs={"autocomplete": "off", **attrs})
    return forms.CharField(label=label, required=False, max_length=most, help_text=help_text, widget=widget)


def _number(label: str, least: float, most: float, unit: str) -> forms.FloatField:
    sentence = f"Write a number from {least:g} to {most:g} {unit}."
    return forms.FloatField(
        label=f"{label}, {unit}", required=False, min_value=least, max_value=most, localize=False,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        # These two are completed with the limit, so that a percent sign of their own is written twice.
        error_messages={"invalid": sentence, **dict.fromkeys(("min_value", "max_value"), sentence.replace("%", "%%"))},
    )  # fmt: skip


def _moment(label: str) -> forms.DateTimeField:
    return forms.DateTimeField(
        label=label,
        required=False,
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        input_formats=["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d %H:%M"],
        error_messages={"invalid": "Write day and time as 2026-03-02T09:30."},
    )


class StepForm(forms.Form):
    """Fields of a draft that save together. shown: the marks of what the page showed, so that nobody's work is
    overwritten unseen."""

    shown = forms.JSONField(widget=forms.HiddenInput, error_messages={"required": LOST, "invalid": LOST})

    # Kept with a field, worked out from it.
    DERIVED: dict[str, str] = {}

    def __init__(self, *args, job: Job, person: Person, **kwargs):
        self.job, self.person = job, person
        names = [name for name in self.base_fields if name != "shown"]
        recorded = {name: getattr(job, name) for name in (*names, *self.DERIVED.values())}
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
    day = DayField(label="Day of the work")
    substance = forms.ChoiceField(label="Refrigerant on the label", required=False)
    charge_min_mg = MassFormField(label="Least charge on the label", required=False, assume_unit=True)
    charge_max_mg = MassFormField(label="Most charge on the label", required=False, assume_unit=True)
    complaint = _note("What the customer says")

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["substance"].choices = [("", "not known yet"), *((name, name) for name in refrigerants())]

    def clean(self) -> dict:
        data = super().clean()
        least, most = data.get("charge_min_mg"), data.get("charge_max_mg")
        if least is not None and most is not None and least > most:
            self.add_error("charge_min_mg", "The least charge is more than the most; turn the two round.")
        return data


class IdentifyForm(StepForm):
    identified_as = _text("Refrigerant found", 40, "As the identifier says, e.g. R-134a, mixed or unknown.")
    identified_how = _text("Identified how", 80, "Identifier, label, service record.")
    purity_percent = _number("Purity", 0, 100, "%")


class RepairForm(StepForm):
    system_opened = forms.BooleanField(label="The system was open", required=False)
    parts = forms.MultipleChoiceField(
        label="Parts replaced", required=False, widget=forms.CheckboxSelectMultiple, choices=lambda: parts().items()
    )  # fmt: skip
    compressor_drained_ul = VolumeFormField(
        label="Oil drained from the old compressor", required=False, assume_unit=True
    )
    accumulator_drained_ul = VolumeFormField(
        label="Oil drained from the old accumulator", required=False, assume_unit=True
    )  # fmt: skip
    repairs = _note("Repairs", 3)
    leak_result = forms.ChoiceField(label="Leak check", choices=LEAK_RESULTS)
    leak_method = _text("Method", 80)
    leak_detector = _text("Detector", 80)


class EvacuateForm(StepForm):
    evacuation_started = _moment("Pump started")
    evacuation_ended = _moment("Pump stopped")
    vacuum_said = _text("Vacuum reached", 30, "e.g. 500 micron, 0.7 mbar or 28.9 inHg")
    hold_started = _moment("Hold started")
    hold_start_said = _text("Reading at its start", 30)
    hold_ended = _moment("Hold ended")
    hold_end_said = _text("Reading at its end", 30)

    DERIVED = {"vacuum_said": "vacuum_pa", "hold_start_said": "hold_start_pa", "hold_end_said": "hold_end_pa"}

    def clean(self) -> dict:
        data = super().clean()
        altitude = Shop.current().altitude_m
        for said, pascal in self.DERIVED.items():
            data[pascal] = None
            if data.get(said):
                try:
                    data[pascal] = absolute_pa(data[said], altitude)
                except Refused as refused:
                    self.add_error(said, refused.message)
        for start, end in (("evacuation_started", "evacuation_ended"), ("hold_started", "hold_ended")):
            if data.get(start) and data.get(end) and data[end] < data[start]:
                self.add_error(end, "This lies before the start; check the two times.")
        return data


class CheckForm(StepForm):
    ambient_c = _number("Ambient temperature", -40, 70, "°C")
    vent_c = _number("Vent temperature", -40, 70, "°C")
    humidity_percent = _number("Relative humidity", 0, 100, "%")
    static_said = _text("Pressure at rest", 30, "Before the work or long after it, both sides alike, e.g. 5.9 bar")
    low_side_said = _text("Low side", 30, "e.g. 2.1 bar or 30 psi")
    high_side_said = _text("High side", 30, "e.g. 13 bar or 190 psi")
    note = _note("Note on the job", 3)

    DERIVED = {"static_said": "static_pa"}

    def clean(self) -> dict:
        data = super().clean()
        data["static_pa"] = None
        altitude = Shop.current().altitude_m
        for name in ("low_side_said", "high_side_said", "static_said"):
            if data.get(name):
                try:
                    pressure = gauge_pa(data[name], altitude)
                except Refused as refused:
                    self.add_error(name, refused.message)
                else:
                    data |= {"static_pa": pressure} if name == "static_said" else {}
        return data


STEPS: dict[str, type[StepForm]] = {
    "start": StartForm, "identify": IdentifyForm, "repair": RepairForm, "evacuate": EvacuateForm, "check": CheckForm,
}  # fmt: skip


class LineForm(forms.Form):
    """One entry of a job. key: made with the empty form; the same entry arriving twice counts once. shown: the mark
    of the line as the page had it, blank for a new one.

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
    note = _text("Note", 300)

    def __init__(
        self, *args, action: str, person: Person, scales: list[Scale], line: JobLine | None = None,
        choices: Sequence[tuple[str, str]] | None = None, place: str = "", **kwargs,
    ):  # fmt: skip
        initial = {"action": action, "key": uuid.uuid4()}
        if line is not None:
            initial |= {
                "key": line.key, "container": line.container.code if line.container else "", "before": line.before,
                "after": line.after, "quantity": line.quantity, "note": line.note,
                "scale": line.scale.code if line.scale else "", "shown": line_mark(line),
            }  # fmt: skip
        place = place or f"{action}-{line.key.hex[:12] if line else 'new'}"
        super().__init__(*args, initial=initial, auto_id=f"{place}-%s", **kwargs)
        self.of_oil = action in OIL_ACTIONS
        if self.of_oil:
            self.fields["quantity"] = VolumeFormField(label="Quantity", required=False, assume_unit=True)
        for name in ("before", "after", "quantity"):
            field = self.fields[name]
            field.unit = person.volume_unit if self.of_oil and name == "quantity" else person.mass_unit
            field.label = f"{field.label}, {field.unit}"
        self.fields["scale"].choices = [("", "usual scale"), *((scale.code, scale.code) for scale in scales)]
        self.fields["container"].widget.attrs |= {
            "autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false",
        }  # fmt: skip
        for name in (*_unused(action), *(["pick"] if choices is None else [])):
            self.fields.pop(name, None)
        if "pick" in self.fields:
            self.offer(choices)

    # Beside the figures, where one field is shown alone: its name.
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
        return [field for field in self.visible_fields() if field.name != self.asked]

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
        return data


def _unused(action: str) -> tuple[str, ...]:
    if action in {"line-loss", "oil-drain"}:
        return ("pick", "container", "scale", "before", "after")
    if action == "oil-add":
        return ("scale", "before", "after")
    return ()


PHOTOS_SHOW = ("label", "gauges", "leak", "part", "other")


class PhotoForm(forms.Form):
    """A photo of a job, taken from its page. key: the same photo arriving twice is kept once."""

    key = forms.UUIDField(widget=forms.HiddenInput, initial=uuid.uuid4, error_messages={"required": LOST})
    title = forms.ChoiceField(
        label="It shows", choices=[(one, one) for one in ("label", "gauges", "leak", "part", "other")]
    )
    file = forms.FileField(
        label="Photo", widget=forms.FileInput(attrs={"accept": "image/*", "capture": "environment"}),
        error_messages={"required": "Take a photo, or choose one."},
    )  # fmt: skip
    chosen = forms.BooleanField(label="On the job sheet, too", required=False)


class HoseForm(forms.Form):
    """A hose that was not cleared: what it holds is offered as the line loss."""

    length_m = _number("Length", 0.05, 20, "m")
    inner_diameter_mm = _number("Inner diameter", 1, 30, "mm")
    phase = forms.ChoiceField(label="It was", choices=list(PHASES.items()))

    def __init__(self, *args, **kwargs):
        super().__init__(*args, auto_id="hose-%s", initial={"length_m": "1.8", "inner_diameter_mm": "4.8"}, **kwargs)
        for name in ("length_m", "inner_diameter_mm"):
            self.fields[name].required = True


class StartJobForm(forms.Form):
    """Which technician does it; the unit is chosen on the page before."""

    key = forms.UUIDField(widget=forms.HiddenInput, initial=uuid.uuid4, error_messages={"required": LOST})
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
    note = _note("What was wrong", 3)
    note.required = True
