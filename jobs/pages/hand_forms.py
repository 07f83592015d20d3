"""Forms beside a draft: who works on it, who takes it over, and where the unit's service ports are."""

from django import forms

from inventory.shop.forms import OnceForm
from jobs.drafts.hands import NOTE
from jobs.people.models import Person


class PersonField(forms.ModelChoiceField):
    """Somebody who works here and does jobs."""

    def __init__(self, *, label: str, required: str):
        super().__init__(
            queryset=Person.objects.none(), label=label, empty_label="choose", error_messages={"required": required}
        )


def does_jobs() -> list[Person]:
    """Those who do jobs, by name: asked once for a page."""
    return list(Person.objects.filter(is_active=True).exclude(role__in=["office", "inspector"]).order_by("name"))


class Among:
    """Of a form that names one of those who do jobs. people: offered; the action says who may not."""

    chosen = ""

    def __init__(self, *args, people: list[Person], **kwargs):
        super().__init__(*args, **kwargs)
        field = self.fields[self.chosen]
        field.queryset = Person.objects.filter(pk__in=[one.pk for one in people])
        field.choices = [("", "choose"), *((one.pk, one.name) for one in people)]


class HandForm(Among, OnceForm):
    """A colleague who works on the job too."""

    chosen, anew = "person", "Add them all the same"
    person = PersonField(label="Colleague", required="Choose who works on it with you.")


class HandOverForm(Among, OnceForm):
    """Who takes the job over."""

    chosen, anew = "to", "Hand it over"
    to = PersonField(label="To", required="Choose who takes it over.")
    note = forms.CharField(
        label="What they should know",
        required=False,
        max_length=NOTE,
        widget=forms.Textarea(attrs={"rows": 2, "autocomplete": "off"}),
    )


class PortsForm(OnceForm):
    """Where the service ports of the unit are: for whoever comes next."""

    anew = "Save this instead"
    ports = forms.CharField(
        label="Where the service ports are",
        required=False,
        max_length=200,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
