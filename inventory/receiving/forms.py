"""The forms of a delivery and of what the shop held before."""

import re
from collections.abc import Callable, Sequence

from django import forms
from django.utils.functional import cached_property

from inventory.containers.forms import LabelFields
from inventory.containers.holdings import GRADES
from inventory.containers.rows import LABEL
from inventory.correcting.again import LinesAgain
from inventory.measures.days import FIRST_MADE
from inventory.measures.fields import MassFormField, WaterCapacityFormField
from inventory.measures.number_fields import MoneyField, NumberField
from inventory.measures.pressure import parse_pressure
from inventory.measures.quantity import parse_mass, parse_volume
from inventory.receiving.actions import Arrival
from inventory.reference.kinds import KINDS, choices, is_oil
from inventory.reference.substances import UnknownSubstance, substance
from inventory.shop.forms import ActForm, DayField, DueField, Lines, add_refused, note, text
from inventory.shop.models import Shop
from inventory.text.refusal import Refused


class DeliveryForm(ActForm):
    supplier = text("Supplier", required=True, list="suppliers", help_text="a new name is added to the suppliers")
    supplier_address = text("Its address, where it is new", 500)
    document = text("Document", 200, help_text="the number on the delivery note or invoice")
    again = forms.BooleanField(label="This is another delivery under the same document number", required=False)
    day = DayField(label="Day of delivery")
    note = note()


class OpeningForm(ActForm):
    day = DayField(label="Day of the count")
    note = note()


class LineForm(LabelFields):
    """A line of a delivery: a number of equal containers."""

    template_name = "inventory/_arrival.html"
    kind = forms.ChoiceField(label="Kind", choices=[("", "choose"), *choices()])
    substance = text("Refrigerant or oil", 40, help_text="e.g. R-134a or PAG 46", list="substances")
    grade = forms.ChoiceField(
        label="Grade", required=False, choices=[("", "as usual for the kind"), *((g, g) for g in GRADES)]
    )
    net = text("Net each", 40, help_text="e.g. 340 g, 30 lb or 250 mL; blank where they come empty")
    count = NumberField(label="How many", least=1, most=500, initial=1)
    tare = MassFormField(label="Tare each", required=False, help_text="blank: taken at the first weighing")
    code = text("First code", 60, help_text="blank: the next free ones")
    supplier_number = text("Supplier's number", 500 * 61, help_text="as marked on it; of several, commas between")
    water_capacity = WaterCapacityFormField(label="Water capacity", required=False)
    test_pressure = text("Test pressure", 20, help_text="as stamped on it, e.g. 48 bar or 700 psi")
    stamped_most = MassFormField(
        label="Most that is stamped on it", required=False, help_text="net, where its stamp or label names one"
    )
    retest_due = DueField(label="Retest due", required=False, first=FIRST_MADE)
    location = text("Where to", 100, list="locations")
    price = MoneyField(label="Price each", required=False)
    deposit = MoneyField(label="Deposit each", required=False, help_text="for a cylinder that goes back")

    def __init__(self, *args, currency: Callable[[], str], **kwargs):
        """currency: what answers the code of the shop's currency."""
        super().__init__(*args, **kwargs)
        for name in ("price", "deposit"):
            self.fields[name].currency = currency

    def has_changed(self) -> bool:
        """Whether anybody said anything in it. How many is said beforehand, and is blank in a line that a button added:
        neither alone makes it a line."""
        untouched = self.data.get(self.add_prefix("count"), "").strip() in {"", "1"}
        return bool(set(self.changed_data) - ({"count"} if untouched else set()))

    def clean(self) -> dict:
        data = super().clean()
        data["is_oil"] = is_oil(data.get("kind"))
        if data.get("substance"):
            try:
                data["substance"], data["is_oil"] = substance(data["substance"])
            except UnknownSubstance as unknown:
                self.add_error("substance", str(unknown))
        elif data.get("net") and data.get("kind"):
            self.add_error("substance", "Name what is in it, e.g. R-134a or PAG 46.")
        if data.get("net"):
            try:
                data["net"] = (parse_volume if data["is_oil"] else parse_mass)(data["net"])
            except Refused as refused:
                self.add_error("net", refused.message)
        else:
            data["net"] = 0
        data["test_pressure"] = self._pressure(data.get("test_pressure"))
        data["grade"] = data.get("grade") or (KINDS[data["kind"]].usual_grade if data.get("kind") else "")
        return data

    def _pressure(self, typed: str | None) -> int | None:
        try:
            return parse_pressure(typed) if typed else None
        except Refused as refused:
            self.add_error("test_pressure", refused.message)
            return None

    @property
    def of_container(self) -> list[forms.BoundField]:
        """Its fields without those of the label."""
        return [field for field in self.visible_fields() if field.name not in LABEL]

    @property
    def of_label(self) -> list[forms.BoundField]:
        return [self[name] for name in LABEL]

    @property
    def says_label(self) -> bool:
        """Whether anything of the label is filled in, or is wrong."""
        return any(field.value() or field.errors for field in self.of_label)


def numbers_in(typed: str) -> tuple[str, ...]:
    """Suppliers' numbers as they are typed, pasted or scanned one after another."""
    return tuple(one for one in (part.strip() for part in re.split(r"[,;\n]", typed)) if one)


def arrival_of(data: dict) -> Arrival:
    """What a line says, once it is valid."""
    return Arrival(
        kind=data["kind"],
        substance=data.get("substance", ""),
        is_oil=data["is_oil"],
        grade=data["grade"],
        net=data["net"],
        count=data["count"],
        location=data["location"],
        code=data["code"],
        supplier_numbers=numbers_in(data["supplier_number"]),
        tare_mg=data["tare"],
        water_capacity_mg=data["water_capacity"],
        test_pressure_kpa=data["test_pressure"],
        stamped_most_mg=data["stamped_most"],
        retest_due=data["retest_due"],
        price_minor=data["price"],
        deposit_minor=data["deposit"] or None,
        **{name: data[name] for name in LABEL},
    )


def refuse_line(form: forms.Form, lines: forms.BaseFormSet, filled: Sequence[forms.Form], refused: Refused) -> None:
    """Show what a delivery was refused for: at its line where it names one of those that are filled in."""
    number = getattr(refused, "line", None)
    if number is None:
        add_refused(form, refused)
        return
    line, field = filled[number], {"container": "code", "quantity": "net"}.get(refused.field, refused.field)
    line.add_error(field if field in line.fields else None, refused.message)
    form.add_error(None, f"Line {lines.forms.index(line) + 1}: {refused.message}")


class Priced:
    """Of lines that name prices: the shop's currency, asked for once however many they are."""

    @cached_property
    def currency(self) -> str:
        return Shop.current().currency

    def get_form_kwargs(self, index: int | None) -> dict[str, object]:
        return {**super().get_form_kwargs(index), "currency": lambda: self.currency}


class PricedLines(Priced, Lines):
    """The lines of a delivery or of opening stock."""


class PricedLinesAgain(Priced, LinesAgain):
    """The same, said again."""


LineFormSet = forms.formset_factory(LineForm, PricedLines, extra=3, max_num=40, absolute_max=41, validate_max=True)
