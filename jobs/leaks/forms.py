"""The form of one thing that happened about the leaks of a unit; what it asks depends on what happened."""

import datetime as dt

from django import forms

from inventory.measures.days import said_day
from inventory.measures.fields import MassFormField
from inventory.releases.causes import CAUSES
from inventory.shop.clock import zone
from inventory.shop.forms import DayField, DueField, OnceForm, note, text
from jobs.drafts.models import Job
from jobs.people.models import Person

WHO = ("person", "person_said", "certificate")
# What is asked of each kind of event besides its day, time, visit and note.
ASKED = {
    "inspection": ("method", "places", *WHO),
    "release": ("cause", "released_mg", "places", *WHO),
    "repair": ("evacuated", "places", "parts", *WHO),
    "initial-test": ("passed", "method", "places", *WHO),
    "follow-up-test": ("passed", "all_leaks", "method", "places", *WHO),
    "extension-granted": ("until",),
}
OFTEN = ("kind", "day", "time", "job", "note", "key")


def _yes_no(label: str, help_text: str = "") -> forms.TypedChoiceField:
    """A question that must be answered: nothing is ticked before."""
    return forms.TypedChoiceField(
        label=label,
        choices=[("yes", "yes"), ("no", "no")],
        coerce=lambda said: said == "yes",
        empty_value=None,
        widget=forms.RadioSelect,
        help_text=help_text,
        error_messages={"required": "Say yes or no."},
    )


class LeakEventForm(OnceForm):
    """kind comes with the address; the fields that do not fit it are left out."""

    day = DayField(label="Day")
    time = forms.TimeField(
        label="Time of day",
        required=False,
        help_text="Where it is known; it tells the order of what happened on one day.",
        widget=forms.TimeInput(attrs={"type": "time", "autocomplete": "off"}, format="%H:%M"),
        error_messages={"invalid": "Write the time as 14:05."},
    )
    passed = _yes_no("The test was passed")
    all_leaks = _yes_no(
        "It shows all identified leaks of the unit repaired",
        "Only such a test begins the rolling average anew (40 CFR 82.152, leak rate).",
    )
    evacuated = _yes_no(
        "The unit was evacuated or opened for it",
        "The follow-up test is due by it (40 CFR 82.157(e)(2), 84.106(e)(2)).",
    )
    until = DueField(label="Granted until")
    cause = forms.ChoiceField(
        label="Cause",
        choices=[("", "choose"), *CAUSES.items()],
        error_messages={"required": "Choose the cause; where none of these was it, choose something else."},
    )
    released_mg = MassFormField(
        label="So much got out",
        required=False,
        help_text="with its unit, e.g. 300 g; say in the note how it was weighed or estimated. Blank: nobody knows.",
    )
    method = text("Tested by", 80, required=True, help_text="e.g. electronic detector, soap solution")
    places = forms.CharField(
        label="Places",
        required=False,
        max_length=5000,
        help_text="Where it was looked, and where a leak was found or repaired.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    parts = forms.CharField(
        label="Parts, and what was done to each",
        required=False,
        max_length=5000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    person = forms.ModelChoiceField(
        label="Done by", required=False, queryset=Person.objects.none(), empty_label="somebody else"
    )
    person_said = text("Who else", 150, help_text="Where somebody did it who does not work here: name and company.")
    certificate = text("Certificate", 200, help_text="Blank: those of the person that were valid on the day.")
    job = forms.ModelChoiceField(label="Visit", required=False, queryset=Job.objects.none(), empty_label="none of ours")
    note = note()

    def __init__(self, *args, kind: str, jobs: list[Job], **kwargs):
        """kind: of LeakEvent.KINDS. jobs: the visits of the unit that may be named."""
        super().__init__(*args, **kwargs)
        self.kind = kind
        for name in set(self.fields) - set(OFTEN) - set(ASKED.get(kind, ())):
            del self.fields[name]
        if "person" in self.fields:
            here = Person.objects.filter(is_active=True).exclude(role__in=["office", "inspector"])
            self.fields["person"].queryset = here.order_by("name")
        if kind == "follow-up-test":  # one that failed shows nothing
            self.fields["all_leaks"].required = False
        visits = self.fields["job"]
        visits.queryset = Job.objects.filter(pk__in=[one.pk for one in jobs])
        visits.choices = [("", visits.empty_label), *((one.pk, f"{one.title} of {said_day(one.day)}") for one in jobs)]

    def said(self) -> dict[str, object]:
        """What the action is told, once the form is valid. A test that failed shows no leak repaired."""
        data = {name: value for name, value in self.cleaned_data.items() if name != "time"}
        time = self.cleaned_data.get("time")
        data["at"] = dt.datetime.combine(data["day"], time, zone()) if time is not None else None
        if data.get("passed") is False and data.get("all_leaks") is None:
            data.pop("all_leaks", None)
        return {"kind": self.kind, **data}


class VoidForm(OnceForm):
    reason = forms.CharField(
        label="Why it is void",
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Say why it is void; it stays readable with that reason."},
    )
