"""Every number of every form is read by the one reader; no field leaves it to the browser, which drops a comma."""

import argparse
import importlib
import pkgutil
import re
from decimal import Decimal
from pathlib import Path

import pytest
from django import forms
from django.core.exceptions import ValidationError

from inventory.measures.fields import QuantityFormField
from inventory.measures.number_fields import MoneyField, NumberField, TypedNumberField
from inventory.shop.models import Shop
from inventory.shop_pages.views import OwnFiguresForm
from shopledger.management.plain import whole_option

ROOT = Path(__file__).resolve().parents[1]
FLOORS = ("inventory", "jobs", "shopledger")


def form_classes():
    """All forms that the program has, also those that are made from a table."""
    for floor in FLOORS:
        for found in pkgutil.walk_packages([str(ROOT / floor)], f"{floor}."):
            if ".migrations" not in found.name and "management.commands" not in found.name:
                importlib.import_module(found.name)
    todo, seen = [forms.BaseForm], set()
    while todo:
        for one in todo.pop().__subclasses__():
            if one not in seen:
                seen.add(one)
                todo.append(one)
    # One that is made from a table calls itself Django's; what it is made of is ours.
    ours = [one for one in seen if any(base.__module__.split(".")[0] in FLOORS for base in one.__mro__)]
    # Two rooms may have a form of the same name, and what is collected has one order in every process.
    return sorted(ours, key=lambda one: (one.__qualname__, one.__module__))


def fields():
    """(form, name, field) of each, those included that a form adds when it is made."""
    for form in form_classes():
        for name, field in form.base_fields.items():
            yield form, name, field
    for name, field in OwnFiguresForm(shop=Shop()).fields.items():
        yield OwnFiguresForm, name, field


FIELDS = [(form.__qualname__, name, field) for (form, name), field in {f[:2]: f[2] for f in fields()}.items()]
NUMBERS = [
    pytest.param(field, id=f"{form}.{name}") for form, name, field in FIELDS if isinstance(field, TypedNumberField)
]
QUANTITIES = [
    pytest.param(field, id=f"{form}.{name}") for form, name, field in FIELDS if isinstance(field, QuantityFormField)
]


def test_the_forms_are_found():
    assert {"LineForm.count", "LineForm.price", "LineForm.deposit", "ScaleForm.span_ppm", "UnitForm.year"} <= {
        param.id for param in NUMBERS
    }
    assert {"ShopForm.altitude_m", "CheckStep.ambient_c", "OwnFiguresForm.leak_check_months"} <= {
        param.id for param in NUMBERS
    }
    assert len(NUMBERS) > 15 and len(QUANTITIES) > 15


def test_no_visible_field_leaves_a_number_to_the_browser_or_to_the_framework():
    frameworks = (forms.IntegerField, forms.DecimalField, forms.FloatField)
    left = [
        f"{form}.{name}"
        for form, name, field in FIELDS
        if isinstance(field.widget, forms.NumberInput) or (isinstance(field, frameworks) and not field.widget.is_hidden)
    ]
    assert left == []


def test_no_page_has_a_number_field_of_the_browser():
    for path in [*(ROOT / "templates").rglob("*.html"), *(ROOT / "shopledger/static").rglob("*.js")]:
        assert not re.search(r"type=[\"']?number|type\s*=\s*[\"']number", path.read_text(encoding="utf-8")), path


@pytest.mark.parametrize("field", NUMBERS)
def test_each_number_field_reads_as_the_table_says(field):
    if isinstance(field, MoneyField):
        field.currency = lambda: "USD"
        assert [field.clean(text) for text in ("9,80", "1 250", "1'250.5", "0")] == [980, 125_000, 125_050, 0]
    else:
        for text, number in (("9,80", Decimal("9.8")), ("1 250", Decimal(1250)), ("1.0", Decimal(1))):
            fits = field.least <= number <= field.most and (field.places or number == int(number))
            try:
                assert Decimal(str(field.clean(text))) == number and fits
            except ValidationError as refused:
                assert not fits and field.sentence in refused.messages[0]
    with pytest.raises(ValidationError, match=r'"1,250" can be 1.25 or 1250: write 1.25 or 1250'):
        field.clean("1,250")
    for text in ("much", "1e3", "\u0665", "1.2.3", "5.", "nan", "9" * 61):
        with pytest.raises(ValidationError) as caught:
            field.clean(text)
        assert caught.value.messages[0].endswith(".")
    attrs = field.widget.attrs
    assert field.widget.input_type == "text" and attrs["inputmode"] in {"decimal", "numeric", "text"}
    assert (attrs["inputmode"] == "text") == (isinstance(field, NumberField) and field.least < 0)


@pytest.mark.parametrize("field", QUANTITIES)
def test_each_quantity_field_reads_as_the_table_says(field):
    unit = field.kind.default_unit
    assert field.clean(f"9,80 {unit}") == field.clean(f"9.8 {unit}")
    assert field.clean(f"1 250 {unit}") == field.clean(f"1250 {unit}")
    with pytest.raises(ValidationError, match=f"can be 1.25 {unit} or 1250 {unit}"):
        field.clean(f"1,250 {unit}")


def test_a_number_comes_back_as_it_was_typed_and_a_kept_one_as_it_is():
    class Form(forms.Form):
        share = NumberField(least=-10, most=100, places=2, unit="%", required=False)
        price = MoneyField(required=False)

    typed = Form({"share": "1,250", "price": "9,80"})
    typed.fields["price"].currency = lambda: "USD"
    assert 'value="1,250"' in str(typed["share"]) and 'value="9,80"' in str(typed["price"])
    assert typed.fields["share"].clean("-1,5") == Decimal("-1.5")
    for text in ("much", "-10.5", "5.", "1e9"):
        with pytest.raises(ValidationError, match=r"Write a number from -10 to 100 %\."):
            typed.fields["share"].clean(text)
    with pytest.raises(ValidationError, match=r'"1.255" has more decimals than are taken, 2 decimals at most. Write a'):
        typed.fields["share"].clean("1.255")
    kept = Form(initial={"share": Decimal("12.50"), "price": 125_000})
    kept.fields["price"].currency = lambda: "USD"
    assert (kept["share"].value(), kept["price"].value()) == ("12.5", "1250.00")
    sent = Form({"share": "12,5", "price": "1 250"}, initial=kept.initial)
    sent.fields["price"].currency = lambda: "USD"
    assert sent.is_valid() and not sent.has_changed()


def test_a_number_on_the_command_line_is_read_alike():
    assert [whole_option(text) for text in ("30", "1 250", "-1", "+7", "30.0")] == [30, 1250, -1, 7, 30]
    for text, said in (("1_0", "separators"), ("1,250", "can be 1.25 or 1250"), ("2.5", "no whole number")):
        with pytest.raises(argparse.ArgumentTypeError, match=said):
            whole_option(text)
    for text in ("\u0663", "ten", "", "1e3", "inf"):  # int() reads the first as 3
        with pytest.raises(argparse.ArgumentTypeError):
            whole_option(text)
