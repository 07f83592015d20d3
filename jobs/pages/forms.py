"""Forms of the steps of a job: one small form each, so that each saves by itself."""

import json
from collections.abc import Iterable

from django import forms
from django.db import models
from django.utils.text import capfirst

from inventory.measures.fields import MassFormField, VolumeFormField, WholeQuantityField
from inventory.measures.quantity import show
from inventory.reference.refrigerants import refrigerants
from inventory.shop.forms import LOST, DayField
from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from jobs.drafts import fields
from jobs.drafts.fields import FIGURE_OF, JobField, asked_in
from jobs.drafts.merge import marks
from jobs.drafts.models import CHARGE_WHY, RECOVER_WHY, Job
from jobs.pages.form_fields import (
    Asking,
    gauge_field,
    moment_field,
    note_field,
    number_field,
    temperature_field,
    text_field,
)
from jobs.people.models import Person
from jobs.planning.oil_plan import parts
from jobs.planning.pressure_test import MEDIA, check_medium
from jobs.planning.static_pressure import gauge_pa
from jobs.planning.vacuum import absolute_pa

# -- the steps: their fields come from the model and the table of fields ----------------------------------


def _asked(one: JobField) -> forms.Field:
    """The form field of a job's field, by the kind of its column."""
    column = Job._meta.get_field(one.name)
    label = one.label or capfirst(column.verbose_name)
    if one.name in CHOSEN:
        return CHOSEN[one.name](label)
    if isinstance(column, models.FloatField):
        if one.unit == "°C":
            return temperature_field(label)
        return number_field(label, one.least, one.most, one.unit)
    if isinstance(column, models.DateTimeField):
        return moment_field(label)
    if isinstance(column, models.DateField):
        return DayField(label=label)
    if isinstance(column, models.TextField):
        return note_field(label, column.help_text)
    if isinstance(column, WholeQuantityField):
        return column.formfield(label=label, assume_unit=True)
    if one.gauge:
        return gauge_field(label, column.max_length, column.help_text, one.gauge)
    if isinstance(column, models.CharField) and not column.choices:
        return text_field(label, column.max_length, column.help_text)
    return column.formfield(label=label)


def _chosen(label: str, blank: str, choices: list[tuple[str, str]]) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, required=False, choices=[("", blank), *choices])


# Fields that are chosen from a list that the program keeps.
CHOSEN = {
    "substance": lambda label: forms.ChoiceField(
        label=label, required=False, choices=lambda: [("", "not known yet"), *((name, name) for name in refrigerants())]
    ),
    "test_medium": lambda label: _chosen(label, "not said", list(MEDIA.items())),
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


class PressureTestForm(StepForm):
    """Nothing is tested with what explodes or burns. What is read when the test pressure is reached is asked first,
    and what is read at the end after it."""

    BEGINS, ENDS = ("test_medium", "test_other", "test_start_said", "test_start_c"), ("test_end_said", "test_end_c")

    @property
    def asked_now(self) -> list[forms.BoundField]:
        return [self[name] for name in (self.ENDS if self.recorded["test_started"] else self.BEGINS)]

    @property
    def beside_it(self) -> list[forms.BoundField]:
        """Times, and what is asked earlier or later."""
        now = {field.name for field in self.asked_now}
        return [field for field in self.visible_fields() if field.name not in now]

    @property
    def faulty_beside(self) -> bool:
        return any(field.errors for field in self.beside_it)

    def clean(self) -> dict:
        data = super().clean()
        try:
            check_medium(data.get("test_medium", ""), data.get("test_other", ""))
        except Refused as refused:
            self.add_error(refused.field, refused.message)
        return data


def _step_form(step: str) -> type[StepForm]:
    columns = {one.name: _asked(one) for one in asked_in(step)}
    return type(f"{step.capitalize()}Step", (BASES.get(step, StepForm),), {"step": step, **columns})


BASES = {"start": StartForm, "test": PressureTestForm}
STEPS: dict[str, type[StepForm]] = {step: _step_form(step) for step in fields.STEPS}
