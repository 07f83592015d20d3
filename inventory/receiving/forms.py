"""The forms of a delivery and of what the shop held before."""

from collections.abc import Sequence

from django import forms
from django.utils.functional import cached_property

from inventory.asking.asked import Asks
from inventory.containers.forms import LabelFields
from inventory.containers.holdings import GRADES
from inventory.containers.rows import LABEL
from inventory.correcting.again import LinesAgain
from inventory.measures.days import FIRST_MADE
from inventory.measures.fields import MassFormField, WaterCapacityFormField
from inventory.measures.number_fields import MoneyField, NumberField
from inventory.measures.pressure import parse_pressure
from inventory.measures.quantity import parse_mass, parse_volume
from inventory.parties.models import Party
from inventory.plausible.names import another_way
from inventory.receiving.actions import Arrival
from inventory.receiving.came import Book, numbers_in
from inventory.reference.kinds import KINDS, choices, is_oil
from inventory.reference.substances import UnknownSubstance, substance
from inventory.shop.forms import ActForm, DayField, DueField, Lines, add_refused, note, text
from inventory.text.refusal import Refused

MOST_LINES = 40  # of a delivery


class DeliveryForm(Asks, ActForm):
    supplier = text("Supplier", required=True, list="suppliers", help_text="a new name is added to the suppliers")
    supplier_address = text("Its address, where it is new", 500)
    document = text("Document", 200, help_text="the number on the delivery note or invoice")
    again = forms.BooleanField(label="This is another delivery under the same document number", required=False)
    day = DayField(label="Day of delivery")
    note = note()
    order = forms.CharField(required=False, max_length=40, widget=forms.HiddenInput)

    REST = ("supplier_address", "again", "note")  # folded away on the page

    def known(self, data: dict) -> dict[str, object]:
        suppliers = Party.objects.filter(role="supplier").values_list("name", flat=True)
        return {"supplier": another_way(data["supplier"], suppliers, "supplier")}

    @property
    def head_fields(self) -> list[forms.BoundField]:
        return [field for field in self.visible_fields() if field.name not in self.REST]

    @property
    def rest(self) -> list[forms.BoundField]:
        return [field for field in self.visible_fields() if field.name in self.REST]

    @property
    def says_rest(self) -> bool:
        """Whether anything that is folded away is filled in, is wrong, or is asked for."""
        return any(field.value() or field.errors for field in self.rest) or bool(self["document"].errors)


class OpeningForm(ActForm):
    day = DayField(label="Day of the count")
    note = note()

    @property
    def head_fields(self) -> list[forms.BoundField]:
        return self.visible_fields()


class LineForm(Asks, LabelFields):
    """A line of a delivery: a number of equal containers. book: what it is judged beside."""

    template_name = "inventory/_arrival.html"
    kind = forms.ChoiceField(label="Kind", choices=[("", "choose"), *choices()])
    substance = text("Refrigerant or oil", 40, help_text="e.g. R-134a or PAG 46", list="substances")
    grade = forms.ChoiceField(
        label="Grade", required=False, choices=[("", "as usual for the kind"), *((g, g) for g in GRADES)]
    )
    net = text("Net each", 40, help_text="e.g. 340 g, 30 lb or 250 mL; blank where they come empty")
    count = NumberField(label="Count", least=1, most=500, initial=1)
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

    MAIN = ("count", "kind", "substance", "net", "tare", "price", "location", "code", "supplier_number")

    def __init__(self, *args, book: Book, **kwargs):
        super().__init__(*args, **kwargs)
        self.book = book
        for name in ("price", "deposit"):
            self.fields[name].currency = lambda: book.currency
        self.order_fields(self.MAIN)

    def known(self, data: dict) -> dict[str, object]:
        return self.book.of_line(data)

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
    def main(self) -> list[forms.BoundField]:
        """What most lines say."""
        return [self[name] for name in self.MAIN]

    @property
    def rest(self) -> list[forms.BoundField]:
        """What few lines say."""
        return [field for field in self.visible_fields() if field.name not in {*self.MAIN, *LABEL, "DELETE"}]

    @property
    def of_label(self) -> list[forms.BoundField]:
        return [self[name] for name in LABEL]

    @property
    def says_rest(self) -> bool:
        """Whether anything of what few lines say is filled in, or is wrong."""
        fields = [field for field in (*self.rest, *self.of_label) if field.name != "grade" or field.errors]
        return any(field.value() or field.errors for field in fields)


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


class Judged:
    """Of lines that are read and judged beside what came before."""

    @cached_property
    def book(self) -> Book:
        return Book()

    def get_form_kwargs(self, index: int | None) -> dict[str, object]:
        return {**super().get_form_kwargs(index), "book": self.book}


class JudgedLines(Judged, Lines):
    """The lines of a delivery or of opening stock."""


class JudgedLinesAgain(Judged, LinesAgain):
    """The same, said again."""


LineFormSet = forms.formset_factory(
    LineForm, JudgedLines, extra=3, max_num=MOST_LINES, absolute_max=MOST_LINES + 1, validate_max=True
)
