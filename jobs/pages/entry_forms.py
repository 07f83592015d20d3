"""Forms of a job beside its steps: entries, the vacuum, photos, a signature; what begins a job and corrects one."""

import uuid
from collections.abc import Sequence

from django import forms

from inventory.containers.models import Scale
from inventory.measures.fields import MassFormField, VolumeFormField
from inventory.scales.sent import read_again, sent_field
from inventory.shop.forms import LOST, OnceForm
from inventory.text.refusal import Refused
from jobs.drafts.actions import line_mark
from jobs.drafts.models import JobLine
from jobs.lines.posting import OIL_ACTIONS
from jobs.pages.form_fields import Asking, note_field, number_field, text_field
from jobs.people.models import Person
from jobs.planning.hose import PHASES
from jobs.planning.vacuum import absolute_pa

WEIGHTS = ("before", "after")  # fields that a scale is read into


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
    note = text_field("Note", 300)

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
    def beside(self) -> str:
        """The unit that stands beside what is asked, in which the scale shows it; blank for none."""
        return getattr(self.asked_field.field, "unit", "")

    @property
    def unasked(self) -> list[forms.BoundField]:
        shown = {self.asked, "pick", *(["container"] if "pick" in self.fields else [])}
        return [field for field in self.visible_fields() if field.name not in shown]

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
        read_again(self, data, self.known_scales, WEIGHTS)
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

    reading = text_field("Vacuum", 30)
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

    name = text_field("Name of who signs", 100)
    file = forms.FileField(
        label="Signature", required=False, widget=forms.FileInput(attrs={"accept": "image/png", "hidden": True})
    )


class HoseForm(forms.Form):
    """A hose that was not cleared: what it holds is offered as the line loss."""

    length_m = number_field("Length", 0.05, 20, "m")
    inner_diameter_mm = number_field("Inner diameter", 1, 30, "mm")
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
    note = note_field("What was wrong")
    note.required = True
