"""The forms of orders and invoices."""

from collections.abc import Callable, Sequence

from django import forms
from django.utils.functional import cached_property

from inventory.buying.amounts import tax_of
from inventory.buying.billing import Group
from inventory.buying.models import Invoice
from inventory.buying.said import Billed
from inventory.containers.holdings import GRADES
from inventory.measures.days import said_day
from inventory.measures.number_fields import MoneyField, NumberField
from inventory.measures.quantity import parse_mass, parse_volume
from inventory.orders.actions import MOST, Wanted
from inventory.reference.kinds import KINDS, choices, is_oil
from inventory.reference.substances import UnknownSubstance, substance
from inventory.shop.forms import DayField, DueField, Lines, OnceForm, confirmation, note, text
from inventory.shop.models import Shop
from inventory.text.refusal import Refused

Choice = tuple[str, str]  # what the page sends, and its words
USUAL = "as usual"


class OrderForm(OnceForm):
    supplier = text("Supplier", required=True, list="suppliers", help_text="a new name is added to the suppliers")
    number = text("Order number", 60, help_text="blank: it goes by its own code")
    day = DayField(label="Day of the order")
    note = note("Note for the supplier")


class Priced(forms.Form):
    """A form with amounts. currency: what answers the code of the shop's currency."""

    def __init__(self, *args, currency: Callable[[], str], **kwargs):
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            if isinstance(field, MoneyField):
                field.currency = currency


class OrderLineForm(Priced):
    """So many equal containers."""

    template_name = "buying/_line.html"
    count = NumberField(label="Count", least=1, most=MOST, initial=1)
    kind = forms.ChoiceField(label="Kind", choices=[("", "choose"), *choices()])
    substance = text("Refrigerant or oil", 40, list="substances")
    net = text("Net each", 40)
    price = MoneyField(label="Price each", required=False)
    expected_on = DueField(label="Expected on", required=False)
    grade = forms.ChoiceField(label="Grade", required=False, choices=[("", USUAL), *((g, g) for g in GRADES)])

    def has_changed(self) -> bool:
        """How many is said beforehand, and is blank in a line that a button added: neither alone makes it a line."""
        untouched = self.data.get(self.add_prefix("count"), "").strip() in {"", "1"}
        return bool(set(self.changed_data) - ({"count"} if untouched else set()))

    def clean(self) -> dict:
        data = super().clean()
        kind = data.get("kind")
        data["is_oil"] = is_oil(kind)
        if data.get("substance"):
            try:
                data["substance"], data["is_oil"] = substance(data["substance"])
            except UnknownSubstance as unknown:
                self.add_error("substance", str(unknown))
        elif data.get("net") and kind:
            self.add_error("substance", "Name what is in it, e.g. R-134a or PAG 46.")
        try:
            read = parse_volume if data["is_oil"] else parse_mass
            data["net"] = read(data["net"]) if data.get("net") else 0
        except Refused as refused:
            self.add_error("net", refused.message)
        data["grade"] = data.get("grade") or (KINDS[kind].usual_grade if kind and not data["is_oil"] else "")
        return data

    @property
    def wanted(self) -> Wanted:
        """What the line says, once it is valid."""
        data = self.cleaned_data
        said = {name: data[name] for name in ("kind", "substance", "is_oil", "grade", "net", "count", "expected_on")}
        return Wanted(**said, price_minor=data["price"])


class PricedLines(Lines):
    """Lines with amounts: the shop's currency is asked for once, however many they are."""

    @cached_property
    def currency(self) -> str:
        return Shop.current().currency

    def get_form_kwargs(self, index: int | None) -> dict[str, object]:
        return {**super().get_form_kwargs(index), "currency": lambda: self.currency}

    @property
    def filled(self) -> list[forms.Form]:
        return [form for form in self.forms if form.has_changed()]


OrderLines = forms.formset_factory(OrderLineForm, PricedLines, extra=3, max_num=40, absolute_max=41, validate_max=True)


class SentForm(forms.Form):
    """That an order went to its supplier."""

    on = DayField(label="Sent on")


class CameForm(forms.Form):
    """Which delivery was for an order. deliveries: choices."""

    delivery = forms.TypedChoiceField(label="Delivery", coerce=int)

    def __init__(self, *args, deliveries: Sequence[tuple[int, str]], **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["delivery"].choices = [("", "choose"), *deliveries]


class WhyForm(forms.Form):
    why = text("Why", 300, required=True)


class InvoiceForm(OnceForm, Priced):
    """The head of an invoice or credit note."""

    kind = forms.ChoiceField(label="It is", choices=Invoice.KINDS)
    number = text("Its number", 60, required=True)
    day = DayField(label="Day on the paper")
    shipping = MoneyField(label="Shipping", required=False)
    tax_percent = NumberField(label="Tax, %", least=0, most=100, places=3, required=False)
    tax = MoneyField(
        label="Tax", required=False, help_text="blank: as the rate has it, of goods, shipping and all else but deposits"
    )
    total = MoneyField(label="Total on the paper", required=True)
    credits = forms.TypedChoiceField(label="Credits the invoice", required=False, coerce=int, empty_value=None)
    shipment = forms.TypedChoiceField(label="Credits what was sent back", required=False, coerce=int, empty_value=None)
    note = note()
    why = text("Why it is corrected", 300, required=True)
    sure = confirmation("The paper is so: keep it")

    def __init__(self, *args, credited: Sequence[Choice], shipments: Sequence[Choice], revises: bool, **kwargs):
        """credited: the supplier's invoices, shipments: what went to it, as choices. revises: whether it takes another
        one's place."""
        super().__init__(*args, **kwargs)
        self.fields["credits"].choices = [("", "none"), *credited]
        self.fields["shipment"].choices = [("", "nothing"), *shipments]
        if not revises:
            del self.fields["why"]

    HEAD = ("kind", "number", "day", "total", "why", "sure")  # the rest stands below the lines

    @property
    def head_fields(self) -> list[forms.BoundField]:
        return [field for field in self.visible_fields() if field.name in self.HEAD]

    @property
    def rest(self) -> list[forms.BoundField]:
        return [field for field in self.visible_fields() if field.name not in self.HEAD]

    def ask(self) -> None:
        """Show the box that keeps what was asked about."""
        self.fields["sure"].widget = forms.CheckboxInput()

    def amounts(self, lines: Sequence[Billed]) -> dict[str, object]:
        """Shipping, tax and total, as the action wants them; once the form is valid."""
        data = self.cleaned_data
        shipping, percent, tax = data["shipping"] or 0, data["tax_percent"], data["tax"]
        if tax is None:
            taxed = shipping + sum(line.count * line.price_minor for line in lines if line.about != "deposit")
            tax = tax_of(taxed, percent) if percent is not None else 0
        return {"shipping_minor": shipping, "tax_minor": tax, "tax_percent": percent, "total_minor": data["total"]}


class InvoiceLineForm(Priced):
    """A line of an invoice. of: what came and is not billed yet, or something else."""

    ABOUT = [("goods", "goods"), ("deposit", "deposit"), ("other", "something else")]

    template_name = "buying/_line.html"
    count = NumberField(label="Count", least=0, most=MOST, required=False)
    about = forms.ChoiceField(label="For", choices=ABOUT)
    of = forms.ChoiceField(label="What came", required=False)
    called = text("Or what it is", 200)
    price = MoneyField(label="Price each", required=False)

    def __init__(self, *args, groups: Sequence[Group], **kwargs):
        super().__init__(*args, **kwargs)
        self.groups = {group.key: group for group in groups}
        self.fields["of"].choices = [("", "none of these"), *_by_delivery(groups)]

    @property
    def is_left_out(self) -> bool:
        """Whether the row says nothing: what came without a count or a price, or a blank one."""
        of, called, count, price = (
            self.data.get(self.add_prefix(name), "").strip() for name in ("of", "called", "count", "price")
        )
        if count and not count.strip("0"):
            return True
        return not (count and price) if of else not (called or count or price)

    def clean(self) -> dict:
        data = super().clean()
        if self.is_left_out:
            return data
        if not data.get("of") and not data.get("called") and "called" not in self.errors:
            self.add_error("called", "Choose what came, or write what it is.")
        for name, wanted in (("count", "Write how many, or 0 to leave the line out."), ("price", "Write its price.")):
            if data.get(name) is None and name not in self.errors:
                self.add_error(name, wanted)
        return data

    @property
    def billed(self) -> Billed:
        """What the line says, once it is valid."""
        data = self.cleaned_data
        group = self.groups.get(data["of"])
        about, what = data["about"], {}
        if group is not None:
            what = {"sort": group.sort, "is_oil": group.is_oil, "codes": tuple(group.codes)}
        return Billed(about, data["count"], data["price"], called=data["called"], **what)


def _by_delivery(groups: Sequence[Group]) -> list[tuple[str, list[tuple[str, str]]]]:
    """The choices of what came, e.g. `24 × can R-134a virgin 340 g, 3 Mar 2026`, below the delivery of each."""
    found: dict[str, list[tuple[str, str]]] = {}
    for group in groups:
        number, document, day = group.voucher.number, group.voucher.document, said_day(group.voucher.day)
        delivery = ", ".join(filter(None, (f"voucher {number}", document)))
        found.setdefault(delivery, []).append((group.key, f"{len(group.codes)} × {group.words}, {day}"))
    return list(found.items())


class InvoiceLinesOf(PricedLines):
    @property
    def filled(self) -> list[forms.Form]:
        return [form for form in self.forms if form.has_changed() and not form.is_left_out]


InvoiceLines = forms.formset_factory(
    InvoiceLineForm, InvoiceLinesOf, extra=3, max_num=60, absolute_max=61, validate_max=True
)
