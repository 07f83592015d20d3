"""An entry said again: the form by which it was entered, filled in with what was said, and the reason beside it.

Each room that enters a kind of voucher registers how its form is filled in again (`register`, in the floor's apps.py):
one line a kind. The pages of `views.py` do the rest, the same for all.
"""

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from django import forms

from inventory.containers.events import Event, Op, read
from inventory.ledger.actions import writing
from inventory.ledger.models import Voucher
from inventory.shop.forms import ActForm, Lines, add_refused
from inventory.text.refusal import Refused

MANY = 500  # lines of an entry at most


@dataclass(frozen=True)
class Said:
    """What a voucher said."""

    voucher: Voucher

    @cached_property
    def detail(self) -> dict:
        return json.loads(self.voucher.detail)

    @cached_property
    def event(self) -> Event:
        return read(self.detail["event"])

    def ops(self, *verbs: str) -> list[Op]:
        return [op for op in self.event.ops if op.verb in verbs]

    def codes(self, verb: str) -> list[str]:
        return list(dict.fromkeys(op.code for op in self.ops(verb)))


class Again:
    """An entry that is said again. A kind names its form, what it is filled in with, and the verb that posts it.

    form: the form by which such an entry is made. rows: of its lines, where it has such. person: who corrects it, on
    whose units the form depends."""

    form_class: type[ActForm]
    rows_class: type[Lines] | None = None
    row_title = "Line"

    def __init__(self, said: Said, person, data=None):
        self.said, self.person = said, person
        self.form = self.form_class(data, initial={"day": said.event.on, **self.initial()}, **self.form_more())
        self.form.fields["why"] = WhyForm().fields["why"]
        self.rows = None
        if self.rows_class is not None:
            filled = {} if data is not None else {"initial": self.lines()}
            self.rows = self.rows_class(data, prefix="line", form_kwargs=self.row_more(), **filled)
        if data is not None:
            self._not_asked_again()

    def _not_asked_again(self) -> None:
        """What stands there was asked about when it was entered (inventory/asking)."""
        self.form.before = self.form.initial
        for row, line in zip(self.rows or (), self.lines(), strict=False):
            row.before = line

    # -- what a kind says of itself -----------------------------------------------------------------

    @classmethod
    def enters(cls, said: Said) -> bool:
        """Whether an entry of its kind was made with this form."""
        return True

    @classmethod
    def may(cls, said: Said, person) -> bool:
        """Whether a person may post such an entry, and so correct this one."""
        return person.role in {"office", "owner"}

    def initial(self) -> dict[str, object]:
        """What the form's fields held."""
        return {}

    def form_more(self) -> dict[str, object]:
        """What the form is made with besides."""
        return {}

    def lines(self) -> list[dict[str, object]]:
        """What each line held."""
        return []

    def row_more(self) -> dict[str, object]:
        """What the form of a line is made with besides."""
        return {}

    def lists(self) -> dict[str, Sequence[str]]:
        """Suggestions for text fields, by the id that their field names."""
        return {}

    def say(self, data: dict, head: dict) -> int:
        """Post it with the verb that such entries are posted with; returns the voucher's number. data: of the valid
        form."""
        raise NotImplementedError

    # -- the same for all ---------------------------------------------------------------------------

    def is_valid(self) -> bool:
        valid = self.form.is_valid()  # both are looked at, so that all faults are shown at once
        return valid and (self.rows is None or self.rows.is_valid())

    @property
    def has_errors(self) -> bool:
        return bool(self.form.errors or (self.rows is not None and self.rows.total_error_count()))

    def post(self) -> int:
        """The voucher that takes the place of the one that was said. Raises Refused."""
        voucher, data = self.said.voucher, self.form.cleaned_data
        head = {"document": voucher.document, "note": voucher.note, **self.form.head(self.person.username)}
        head |= {"done_by": voucher.done_by, "corrects": voucher.number, "why": data["why"]}
        with writing():  # a new supplier belongs to the entry that names it
            return self.say(data, head)

    def standing_rows(self) -> Iterator[forms.Form]:
        """The lines that are filled in and not taken off; once they are valid."""
        for row in self.rows:
            if row.has_changed() and not row.cleaned_data.get("DELETE"):
                yield row

    def refuse(self, refused: Refused) -> None:
        """Show a refusal where it belongs."""
        add_refused(self.form, refused)


class WhyForm(forms.Form):
    """What every correction is asked besides."""

    why = forms.CharField(
        label="What was wrong",
        max_length=2000,
        help_text="the error in a whole sentence; it is kept with the reversal",
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Say what was wrong; the reason is kept with the reversal."},
    )


class LinesAgain(Lines):
    """Lines that were entered, each of which may be taken off, and one more to fill in."""

    def add_fields(self, form: forms.Form, index: int | None) -> None:
        super().add_fields(form, index)
        if "DELETE" in form.fields:
            form.fields["DELETE"].label = "Take this line off"


def lines_of(form: type[forms.Form], most: int = MANY, formset: type[LinesAgain] = LinesAgain) -> type[Lines]:
    """The lines of an entry that is said again, each with this form. most: how many at most."""
    more = {
        "extra": 1,
        "can_delete": True,
        "can_delete_extra": False,
        "max_num": most,
        "absolute_max": most + 1,
        "validate_max": True,
    }
    return forms.formset_factory(form, formset=formset, **more)


class CodesField(forms.CharField):
    """Codes of containers, one a line; cleaned to a list, each once."""

    def __init__(self, **kwargs: object):
        super().__init__(max_length=MANY * 61, **{"widget": forms.Textarea(attrs={"rows": 3}), **kwargs})
        self.help_text = self.help_text or "codes, one a line"

    def prepare_value(self, value: object) -> object:
        return "\n".join(value) if isinstance(value, list) else value

    def to_python(self, value: object) -> list[str]:
        codes = [code.strip() for code in super().to_python(value).splitlines()]
        return list(dict.fromkeys(filter(None, codes)))


# -- which kinds there are -------------------------------------------------------------------------------

kinds: dict[str, list[type[Again]]] = {}
elsewhere: dict[str, Callable[[Voucher, object], str]] = {}  # kind to the address where it is corrected, "" for nobody


def register(kind: str, again: type[Again]) -> None:
    """How an entry of a kind is corrected. Of several ways the one registered last that made the entry counts."""
    kinds.setdefault(kind, []).append(again)


def way_of(said: Said) -> type[Again] | None:
    """The form by which an entry was made; None where none is known."""
    if "event" not in said.detail:
        return None
    return next((one for one in reversed(kinds.get(said.voucher.kind, [])) if one.enters(said)), None)
