"""Forms of a count."""

from collections.abc import Iterable, Mapping

from django import forms

from inventory.asking.asked import Asks
from inventory.containers.models import Container, Scale
from inventory.containers.vessels import counted_of
from inventory.counting.models import REASONS, Count
from inventory.measures.fields import MassFormField
from inventory.measures.quantity import parse_mass, parse_volume
from inventory.plausible.expected import Known
from inventory.plausible.judging import Answer, judge
from inventory.plausible.typed import Typed
from inventory.scales.sent import read_again, sent_field
from inventory.shop.forms import ActForm, DayField, OnceForm, Questioned, confirmation, text
from inventory.text.refusal import Refused

NO_LETTERS = "0123456789.,'+- \u00a0\u2009\u202f"  # what a number is written with


class StartForm(OnceForm):
    day = DayField(label="Day")
    scale = forms.ModelChoiceField(
        label="Scale",
        required=False,
        queryset=Scale.objects.filter(retired=False),
        empty_label="usual scale",
        to_field_name="code",
    )


class EntryForm(Asks, Questioned, forms.Form):
    """One reading: which container, what it shows. For oil a volume, or a weight with its unit and the bottle's tare
    taken off by whoever weighs."""

    code = text("Container", 60, required=True, list="uncounted", autocapitalize="characters", spellcheck="false")
    gross = text("It shows", 60, required=True, inputmode="decimal")
    scale = forms.ChoiceField(label="Scale", required=False)
    sure = confirmation("It is right, keep it")

    def __init__(self, *args, person, among: list[tuple[str, str]] | None = None, called=None, scales=(), **kwargs):
        """Whoever makes many such forms asks once. among: the scales to choose from. called: the containers, as
        `containers_called` has them. scales: all that a reading may be of."""
        super().__init__(*args, **kwargs)
        self.person, self.called, self.scales = person, called, scales
        self.fields["scale"].choices = among or [("", "as the count"), *((one.code, one.code) for one in scales)]
        self.container: Container | None = None
        self.fields["gross"].unit = person.mass_unit
        self.fields["gross"].help_text = f"gross in {person.mass_unit}; of oil what is left in {person.volume_unit}"

    def clean(self) -> dict:
        data = super().clean()
        if "code" in data and "gross" in data:
            code = data["code"].strip()
            self.container = (containers_called([code]) if self.called is None else self.called).get(code)
            try:
                data["gross"] = self._read(data["gross"], self.container)
            except Refused as refused:
                self.add_error("gross", refused.message)
        return data

    def known(self, data: dict) -> Mapping[str, Known | Answer | None]:
        gross = data.get("gross")
        code = data.get("scale") or ""
        scale = next((one for one in self.scales if (one.code == code if code else one.usual)), None)
        what = counted_of(self.container, scale) if gross is not None else None
        if what is not None and self.container.is_oil:  # which may be typed as a weight
            return {"gross": judge(Typed.quantity(gross, "mL"), what)}
        return {"gross": what}

    def _read(self, typed: str, container: Container | None) -> int:
        oil = container is not None and container.is_oil
        unit = self.person.volume_unit if oil else self.person.mass_unit
        if not any(letter.isalpha() for letter in typed):
            typed = f"{typed} {unit}"
        if not oil:
            return parse_mass(typed)
        try:
            return parse_volume(typed)
        except Refused:
            if not _is_mass(typed):
                raise
            return oil_volume(parse_mass(typed), container.substance.code)


class SessionForm(EntryForm):
    """A reading at a count under way. Where a code is read instead of a weight, the container before it was seen and
    not weighed, and that code is the next one's; where nothing is, the container's weight is still to come."""

    since = forms.DateTimeField(required=False, widget=forms.HiddenInput)
    gross_raw = sent_field()

    def __init__(self, *args, count: Count, blind: bool, **kwargs):
        super().__init__(*args, **kwargs)
        self.count, self.blind = count, blind
        self.fields["gross"].required = False
        usual = count.scale.code if count.scale else ""
        self.fields["gross"].widget.attrs |= {"data-weight": "gross", "data-scale": usual, "data-codes": "uncounted"}
        self.next_code = ""

    def clean(self) -> dict:
        data = super().clean()
        data["scale"] = data.get("scale") or (self.count.scale.code if self.count.scale else "")
        if self.container is not None and self.container.is_oil and data.get("gross_raw"):
            self.add_error("gross", "Of oil enter what is left as a volume: a scale reads it with its bottle.")
        read_again(self, data, self.scales, ["gross"])
        return data

    def clean_sure(self) -> bool:
        """Of what the action asks. What is asked of the weight itself is answered under the same name."""
        return "on" in self.data.getlist("sure")

    def _read(self, typed: str, container: Container | None) -> int | None:
        if not typed:
            return None
        named = containers_called([typed.strip()]).get(typed.strip())
        if named is None:
            return super()._read(typed, container)
        self.next_code = named.code
        return None


def _is_mass(typed: str) -> bool:
    """Whether the unit that is typed behind a number is one of mass."""
    try:
        return parse_mass(f"1 {typed.lstrip(NO_LETTERS)}") > 0
    except Refused:
        return False


def containers_called(codes: Iterable[str]) -> dict[str, Container]:
    """The containers of these codes, by code, with all that is asked of them here."""
    found = Container.objects.filter(code__in=list(codes), void=False).select_related("substance", "account")
    return {one.code: one for one in found}


def oil_volume(net_mg: int, code: str) -> int:
    """The volume in uL of a net weight of oil, by its family's density. Raises Refused where that is not known."""
    from inventory.reference.oils import UnknownOil, parse_oil

    try:
        density = parse_oil(code).density_kg_l  # kg/L is mg/uL
    except UnknownOil:
        raise Refused(f"The density of {code} is not known here; give what is left as a volume.", "gross") from None
    return int((net_mg / density).to_integral_value())


class ReasonForm(forms.Form):
    reason = forms.ChoiceField(label="Reason", choices=[("", "choose"), *REASONS.items()])
    note = text("Note", 300)


class ReasonOfForm(ReasonForm):
    """The same, for one container of a count under way."""

    code = forms.CharField(widget=forms.HiddenInput)


class TareForm(ActForm):
    tare_mg = MassFormField(label="Tare as found", allow_zero=False)
    note = text("How it was found", 300, required=True, help_text="e.g. weighed empty before it was scrapped")


class PeriodForm(forms.Form):
    first = DayField(label="From", required=False, first=None)
    last = DayField(label="Through", required=False, first=None)
