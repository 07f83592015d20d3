"""How a form asks whether what was typed can be, before anything is recorded.

Any form asks by being `Asks`, named before its other bases, and by saying in `known(data)` what is known of each field
of valid data: a `Known` of inventory/plausible, or an `Answer` that was found otherwise (`names.py` there).

    class GasForm(Asks, ActForm):
        def known(self, data):
            return {"net": Net(data["kind"])}

Nothing else is needed: a doubt is an error of its field, so `is_valid()` is false and the form is shown again with what
was typed, the question, a button for each reading that may be meant and a box that says it is right as it was typed
(`_doubt` in shopledger/templatetags/renderer.py). What cannot be has no such box. `ActForm.head()` takes along what was
confirmed, and `Recorder` keeps it in the voucher, under `sure`. Where a form has lines, add those of the lines:

    head = form.head(by) | {"sure": confirmed(form, *rows)}

What stood there before (a correction) is not asked about again: set `before` to it, by field, as `initial` has it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from django import forms
from django.http import QueryDict

from inventory.measures.units import POUNDS_AND_OUNCES
from inventory.plausible.expected import Known
from inventory.plausible.judging import CANNOT, Answer, judge, read
from inventory.plausible.typed import Typed
from inventory.shop.forms import OnceForm, tell_if_recorded
from inventory.text.refusal import Refused

SURE = "sure"  # what a page sends along for a reading that was asked about and is right: `before 412 kg`
SETTLED = "settle"  # and for one that was meant otherwise: `before 412 g`
LONG = 300  # characters of a text that is asked about, at most
NOTHING: Mapping[str, object] = MappingProxyType({})
KEPT = "as it was typed"


@dataclass(frozen=True)
class Doubt:
    """What is asked about, or cannot be. field: as the form names it; answer: what was made of it; name: of the field
    as the page sends it, where that is another (a line's)."""

    field: str
    answer: Answer
    name: str = ""

    @property
    def sent(self) -> str:
        return self.name or self.field

    @property
    def meant(self) -> list[tuple[str, str]]:
        """The readings that may be meant instead: (what the page sends, words)."""
        typed = self.answer.typed.text
        others = [one for one in self.answer.readings if one.text != typed]
        return [(f"{self.sent} {one.text}", one.text) for one in others]

    @property
    def may_be_right(self) -> bool:
        return self.answer.answer != CANNOT

    @property
    def sure(self) -> str:
        return f"{self.sent} {self.answer.typed.text}"


def settled(data: QueryDict) -> QueryDict:
    """What was posted, with the reading in place that was tapped instead of the one typed."""
    field, _, text = data.get(SETTLED, "").partition(" ")
    if not text or field not in data:
        return data
    data = data.copy()
    data[field] = text[:LONG]
    return data


def doubts(
    form: forms.Form, known: Mapping[str, Known | Answer | None], shown: Mapping[str, object] = NOTHING
) -> list[Doubt]:
    """What is to be asked of a form whose fields could be read. known: by field; shown: what each had before, which is
    not asked about again."""
    sure = _sure_of(form)
    found, form.confirmed = [], {}
    for name, what in known.items():
        value = form.cleaned_data.get(name)
        if what is None or value in (None, "") or value == shown.get(name):
            continue
        answer = what if isinstance(what, Answer) else judge(_typed(form, name, value, what), what)
        if answer.fits:
            continue
        doubt = Doubt(name, answer, form.add_prefix(name))
        if doubt.may_be_right and doubt.sure in sure:
            # A text may be a name: those stay outside the ledger.
            form.confirmed[name] = KEPT if isinstance(what, Answer) else answer.typed.text
        else:
            found.append(doubt)
    return found


def _sure_of(form: forms.Form) -> set[str]:
    return set(form.data.getlist(SURE)) if hasattr(form.data, "getlist") else set()


def _typed(form: forms.Form, name: str, value: object, what: Known) -> Typed:
    """The reading as its field took it; pounds and ounces together are told in ounces. What stands beside the field and
    is no unit of it, as the field does not take it, counts as the field's own."""
    sent = form.add_prefix(name)
    text = value if isinstance(value, str) else str(form.data.get(sent, "")).strip()
    field = form.fields[name]
    beside = form.data.get(f"{sent}-unit", "")
    if beside != POUNDS_AND_OUNCES and beside.lower() not in what.symbols:
        beside = ""
    unit = beside or getattr(field, "unit", "") or form.data.get("unit", "")
    try:
        return read(text, what, "" if unit == POUNDS_AND_OUNCES else unit)
    except Refused:
        if type(value) is not int:
            raise
        return Typed.quantity(value, "oz" if "oz" in what.symbols else "mL")


def ask(form: forms.Form, found: Sequence[Doubt]) -> None:
    """Put what is asked into the form, where it stands at its fields."""
    form.doubts = found
    for doubt in found:
        form.add_error(doubt.field, doubt.answer.said)


def confirmed(*filled: forms.Form) -> dict[str, str]:
    """What was asked and is right as it was typed, for the voucher: by the label of its field, and its line."""
    found = {}
    for form in filled:
        where = f" of line {int(form.prefix.rsplit('-', 1)[-1]) + 1}" if form.prefix else ""
        for name, text in getattr(form, "confirmed", {}).items():
            found[f"{form.fields[name].label}{where}"] = text
    return found


class Asks:
    """Of a form that asks about what was typed. doubts: what is asked about now; confirmed: by field, what was asked
    about and is right; before: by field, what stood there, which is not asked about again. blind: why something is
    asked may name what the book has, and is not told."""

    doubts: Sequence[Doubt] = ()
    asks_at_fields = True
    before: Mapping[str, object] = NOTHING
    blind = False

    def __init__(self, data: QueryDict | None = None, *args: object, **kwargs: object):
        super().__init__(settled(data) if hasattr(data, "getlist") else data, *args, **kwargs)
        self.confirmed: dict[str, str] = {}

    def known(self, data: dict) -> Mapping[str, Known | Answer | None]:
        """By field what is known of it, once all could be read."""
        return {}

    def full_clean(self) -> None:
        super().full_clean()
        if not self.is_bound or self.errors or not self.cleaned_data:
            return
        known = {name: what for name, what in self.known(self.cleaned_data).items() if not self._stood(name)}
        found = doubts(self, known)
        if self.blind:
            found = [replace(one, answer=replace(one.answer, why="", right="Read it again.")) for one in found]
        ask(self, found)
        if self.doubts and isinstance(self, OnceForm):
            tell_if_recorded(self)

    def _stood(self, name: str) -> bool:
        if name not in self.before:
            return False
        field = self.fields[name]
        sent = field.widget.value_from_datadict(self.data, self.files, self.add_prefix(name))
        return not field.has_changed(self.before[name], sent)

    @property
    def sure_given(self) -> list[str]:
        """What was confirmed before of its fields, to be sent along again."""
        names = {self.add_prefix(name) for name in self.fields}
        return sorted(said for said in _sure_of(self) if said.partition(" ")[0] in names)

    def head(self, by: str) -> dict[str, object]:
        return {**super().head(by), "sure": confirmed(self)}
