"""What the forms of every room share."""

import datetime as dt
import uuid
from collections.abc import Mapping, Sequence

from django import forms

from inventory.measures.days import FIRST_ENTRY, FIRST_MADE, objection
from inventory.shop.clock import today
from inventory.shop.once import AlreadyRecorded, SentAgain, recorded
from inventory.shop.who import request_at_hand
from inventory.text.refusal import Refused

LOST = "This form has lost its number. Open the page again and enter it once more; nothing was recorded."


NO_PLACE = "Of this form it cannot be read which entry it came after. Open the page again, and enter it once more."


class OnceForm(forms.Form):
    """A form that is recorded once, however often it arrives.

    `key` is made when the empty form is shown and stays through every correction of it, so a double tap, a
    reload or a second try after a lost answer brings the same key. Pass `form.cleaned_data["key"]` to the
    action, which answers a known key with what it recorded the first time. With a ModelForm, name this first.

    Of other content under a used key (`once.py`) the form is shown again with what was typed, under a fresh key:
    `posts_anew`, which its button says by `anew` (`{% saves form "Save" %}`).
    """

    key = forms.UUIDField(
        widget=forms.HiddenInput, initial=uuid.uuid4, error_messages={"required": LOST, "invalid": LOST}
    )
    posts_anew = False
    anew = "Post as a new entry"

    def full_clean(self) -> None:
        """What is wrong with a form matters less than that it was recorded already."""
        super().full_clean()
        if self.is_bound and self.errors:
            tell_if_recorded(self)

    def post_anew(self, refused: AlreadyRecorded) -> None:
        """Say that another content was recorded under this key, and take another one."""
        if self.posts_anew:
            return
        self.add_error(None, refused.html)
        self.data = self.data.copy()
        self.data[self.add_prefix("key")] = str(uuid.uuid4())
        self.errors_heading, self.posts_anew = "Not saved a second time:", True


def tell_if_recorded(form: OnceForm) -> None:
    """Of a form that is shown again for its faults, or those of its lines: say so where it was recorded already with
    other content. Raises SentAgain where it was with the same."""
    try:
        sent = recorded()
    except AlreadyRecorded as refused:
        form.post_anew(refused)
    else:
        if sent is not None:
            raise SentAgain(sent, request_at_hand())


class Questioned:
    """Of a form whose input is questioned once where it looks like a slip. Its field `sure` is a `confirmation`."""

    def ask(self) -> None:
        """Show the box; whoever ticks it says that the input is right."""
        self.fields["sure"].widget = forms.CheckboxInput()


class DayInput(forms.DateInput):
    """The browser's own date picker; where it has none, a text field that takes 2026-03-02."""

    input_type = "date"

    def __init__(self, attrs: dict | None = None):
        super().__init__({"autocomplete": "off", **(attrs or {})}, format="%Y-%m-%d")


class DayField(forms.DateField):
    """A day of the shop's calendar, today unless told otherwise (`initial=None` leaves it empty). first: the earliest
    that can be meant (`days.py`); None: any, where nothing is entered. That it has come, the action says."""

    widget = DayInput
    due = False
    default_error_messages = {
        "required": "Enter the day, such as 2026-03-02.",
        "invalid": "This is no day of the calendar; write it as 2026-03-02.",
    }

    def __init__(self, *, first: dt.date | None = FIRST_ENTRY, **kwargs: object):
        self.first = first
        kwargs.setdefault("initial", today)
        super().__init__(**kwargs)

    def validate(self, value: dt.date | None) -> None:
        super().validate(value)
        said = objection(value, self.first, today(), due=self.due) if value and self.first else ""
        if said:
            raise forms.ValidationError(said, code="no such day")


class OldDayField(DayField):
    """When something was made, installed or issued, which may be long ago; blank unless told otherwise."""

    def __init__(self, **kwargs: object):
        super().__init__(**{"first": FIRST_MADE, "initial": None, **kwargs})


class DueField(DayField):
    """When something ends or falls due; blank unless told otherwise."""

    due = True

    def __init__(self, **kwargs: object):
        super().__init__(**{"initial": None, **kwargs})


class ActForm(OnceForm):
    """A form of an act on containers. `follows` is shown where its place among others of its day has to be asked."""

    follows = forms.IntegerField(
        label="It came after",
        required=False,
        min_value=0,
        widget=forms.HiddenInput,
        error_messages={"invalid": NO_PLACE, "min_value": NO_PLACE},
    )

    def ask_order(self, choices: Sequence[tuple[int, str]]) -> None:
        """Ask after which other act of its day this one came; the last one is offered."""
        self.fields["follows"].widget = forms.Select(choices=choices)
        self.data = self.data.copy()
        self.data["follows"] = str(choices[-1][0])

    def head(self, by: str) -> dict[str, object]:
        """What every entry says, as the verbs want it; once the form is valid."""
        data = self.cleaned_data
        said = {name: data[name] for name in ("day", "document", "note") if name in data}
        return {**said, "by": by, "key": str(data["key"]), "follows": data.get("follows")}


def number_in(data: Mapping[str, str], name: str) -> int | None:
    """A whole number that a form sent along; None where there is none."""
    said = data.get(name, "")
    return int(said) if said.isascii() and said.isdigit() and len(said) < 19 else None


class Lines(forms.BaseFormSet):
    """The lines of an entry."""

    default_error_messages = {
        "missing_management_form": "The form did not arrive whole. Open the page anew, and enter it again.",
        "too_many_forms": "At most %(num)d lines fit in one form: post these, and enter the rest in another.",
    }


def add_refused(form: forms.BaseForm, refused: Refused) -> None:
    """Show a refusal in the form: at its field where the form shows that field, else above all of them."""
    if isinstance(refused, AlreadyRecorded) and isinstance(form, OnceForm):
        form.post_anew(refused)
        return
    field = refused.field
    if hasattr(refused, "choices") and isinstance(form, ActForm):
        form.ask_order(refused.choices)
    shown = field in form.fields and not form.fields[field].widget.is_hidden
    form.add_error(field if shown else None, refused.message)


def text(label: str, most: int = 200, *, required: bool = False, help_text: str = "", **attrs: str) -> forms.CharField:
    widget = forms.TextInput(attrs={"autocomplete": "off", **attrs})
    return forms.CharField(label=label, max_length=most, required=required, help_text=help_text, widget=widget)


def confirmation(label: str) -> forms.BooleanField:
    """The box by which questioned input is confirmed; not shown before it is asked for."""
    return forms.BooleanField(label=label, required=False, widget=forms.HiddenInput)


def note(label: str = "Note") -> forms.CharField:
    return forms.CharField(label=label, max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": 2}))
