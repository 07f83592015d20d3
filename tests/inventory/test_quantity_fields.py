"""Quantities in forms and in tables."""

from decimal import Decimal

import pytest
from django import forms
from django.core import serializers
from django.core.exceptions import ValidationError
from django.db import connection, models, transaction
from django.db.models import F, Sum
from django.forms.renderers import DjangoTemplates
from django.http import QueryDict
from django.test.utils import isolate_apps

from inventory.measures.fields import (
    MassField,
    MassFormField,
    QuantityFormField,
    VolumeField,
    VolumeFormField,
    WaterCapacityFormField,
)
from inventory.measures.units import MASS, POUNDS_AND_OUNCES, VOLUME


class WeighingForm(forms.Form):
    default_renderer = DjangoTemplates  # the site's own templates are not what is tested here

    gross = MassFormField()
    used = MassFormField(unit="oz", assume_unit=True, required=False)
    oil = VolumeFormField(required=False, allow_zero=False)
    water = WaterCapacityFormField(required=False)


def posted(form=WeighingForm, **data):
    query = QueryDict(mutable=True)
    query.update({name.replace("__", "-"): value for name, value in data.items()})
    return form(query)


# Form fields


def test_a_form_reads_quantities_as_whole_numbers():
    form = posted(gross="1 lb 2.5 oz", used="14.5 oz", oil="8 fl oz", water="27 L")
    assert form.is_valid(), form.errors
    assert form.cleaned_data == {"gross": 524_466, "used": 411_068, "oil": 236_588, "water": 27_000_000}
    assert all(type(value) is int for value in form.cleaned_data.values())


def test_a_refused_quantity_stands_at_its_field_and_what_was_typed_is_kept():
    form = posted(gross="1,250 g", used="14.5", oil="8 oz")
    assert form.errors.keys() == {"gross", "oil"}
    assert "write 1.25 g or 1250 g" in form.errors["gross"][0]
    assert form.errors.as_data()["gross"][0].code == "refused"
    assert "8 fl oz" in form.errors["oil"][0]
    assert 'value="1,250 g"' in str(form["gross"])
    assert 'value="14.5"' in str(form["used"])
    assert 'value="8 oz"' in str(form["oil"])


@pytest.mark.parametrize("blank", ["", "   ", "\u00a0"])
def test_a_blank_is_asked_for_where_required_and_nothing_elsewhere(blank):
    form = posted(gross=blank, used=blank)
    assert form.errors.keys() == {"gross"}
    assert "Type a quantity, e.g. 412 g" in form.errors["gross"][0]
    assert form.cleaned_data["used"] is None
    assert "e.g. 35 mL" in VolumeFormField().error_messages["required"]


def test_a_required_message_of_ones_own_is_kept():
    assert MassFormField(error_messages={"required": "Weigh it."}).error_messages["required"] == "Weigh it."


def test_zero_is_refused_where_it_means_nothing():
    form = posted(gross="0 g", oil="0 mL")
    assert form.errors.keys() == {"oil"}
    assert "must be more" in form.errors["oil"][0]


def test_a_bare_number_is_read_only_where_the_unit_stands_beside_the_field():
    form = posted(gross="412", used="14,5")
    assert form.errors.keys() == {"gross"}
    assert "has no unit" in form.errors["gross"][0]
    assert form.cleaned_data["used"] == 411_068


def test_a_negative_is_taken_only_where_it_is_asked_for():
    assert QuantityFormField(dimension=MASS, signed=True).clean("-5 g") == -5_000
    with pytest.raises(ValidationError, match="is negative"):
        QuantityFormField(dimension=MASS).clean("-5 g")


@pytest.mark.parametrize("unit", ["mg", "g", "kg", "oz", "lb", POUNDS_AND_OUNCES])
@pytest.mark.parametrize("assume_unit", [False, True])
def test_a_form_shown_and_sent_back_unchanged_changes_nothing(unit, assume_unit):
    class Form(forms.Form):
        default_renderer = DjangoTemplates
        net = MassFormField(unit=unit, assume_unit=assume_unit)

    for kept in (0, 1, 411_068, 524_466, 2_000_000_000):
        shown = Form(initial={"net": kept})["net"].value()
        form = posted(Form, net=shown)
        form.initial = {"net": kept}
        assert form.is_valid(), form.errors
        assert form.cleaned_data["net"] == kept
        assert not form.has_changed()
        assert (unit in shown) != assume_unit or unit == POUNDS_AND_OUNCES


def test_a_changed_quantity_is_noticed():
    form = posted(gross="413 g")
    form.initial = {"gross": 412_000}
    assert form.has_changed()
    form = posted(gross="nonsense")
    form.initial = {"gross": 412_000}
    assert form.has_changed()


def test_the_unit_can_be_chosen_for_one_form_alone():
    form, other = WeighingForm(initial={"gross": 411_068}), WeighingForm(initial={"gross": 411_068})
    form.fields["gross"].unit = "oz"
    assert form["gross"].value() == "14.5 oz"
    assert 'data-unit="oz"' in str(form["gross"])
    assert other["gross"].value() == "411.068 g"
    assert 'data-unit="g"' in str(other["gross"])


def test_a_unit_of_another_dimension_is_an_error_of_the_programmer():
    for make in (
        lambda: MassFormField(unit="mL"),
        lambda: VolumeFormField(unit="oz"),
        lambda: QuantityFormField(dimension=VOLUME, unit=POUNDS_AND_OUNCES),
    ):
        with pytest.raises(ValueError, match="no unit"):
            make()


def test_the_input_names_its_unit_and_asks_for_the_keys_that_are_needed():
    html = {name: str(WeighingForm()[name]) for name in ("gross", "used", "oil", "water")}
    assert 'type="text"' in html["gross"] and 'data-unit="g"' in html["gross"]
    assert 'inputmode="text"' in html["gross"]  # its unit must be typed, and decimal keys have no letters
    assert 'inputmode="decimal"' in html["used"] and 'data-unit="oz"' in html["used"]
    assert 'data-unit="mL"' in html["oil"] and 'data-unit="kg"' in html["water"]
    both = MassFormField(unit=POUNDS_AND_OUNCES, assume_unit=True)
    assert both.widget.attrs["inputmode"] == "text"


def test_a_page_opened_before_its_reader_chose_other_units_is_read_in_the_units_it_showed():
    page = str(WeighingForm()["used"])
    assert '<input type="hidden" name="used-unit" value="oz">' in page
    form = posted(gross="1 kg", used="14.5", used__unit="oz")
    form.fields["used"].unit = "g"
    assert form.is_valid(), form.errors
    assert form.cleaned_data["used"] == 411_068
    assert form["used"].value() == "14.5 oz"  # beside the new unit, the number alone would mean another quantity


def test_a_unit_sent_that_is_none_of_the_dimension_is_not_followed():
    form = posted(gross="1 kg", used="14.5", used__unit="stone")
    assert form.is_valid(), form.errors
    assert form.cleaned_data["used"] == 411_068
    form = posted(gross="1", gross__unit="kg")
    assert "has no unit" in form.errors["gross"][0]


def test_only_a_field_with_its_unit_in_sight_sends_it():
    assert "hidden" not in str(WeighingForm()["gross"])


def test_markup_in_a_quantity_is_shown_as_text():
    form = posted(gross='5 "><script>alert(1)</script>')
    assert not form.is_valid()
    assert "<script>" not in str(form)


def test_a_disabled_field_keeps_its_value():
    field = MassFormField(disabled=True)
    assert field.clean(412_000) == 412_000


# Model fields


@pytest.fixture
def probe(db):
    """A table with one column of each kind, made for the test and gone after it."""
    with isolate_apps():

        class Probe(models.Model):
            mass = MassField()
            volume = VolumeField(null=True, blank=True)

            class Meta:
                app_label = "inventory"
                db_table = "measures_probe"

            def __str__(self):
                return f"{self.mass}"

        with connection.cursor() as cursor:
            key = "bigserial PRIMARY KEY" if connection.vendor == "postgresql" else "integer PRIMARY KEY"
            mass, volume = (Probe._meta.get_field(name).db_type(connection) for name in ("mass", "volume"))
            cursor.execute(f"CREATE TABLE measures_probe (id {key}, mass {mass} NOT NULL, volume {volume} NULL)")
        yield Probe


def test_a_row_keeps_whole_numbers(probe):
    probe.objects.create(mass=411_068, volume=236_588)
    probe.objects.create(mass=-1)
    assert list(probe.objects.order_by("pk").values_list("mass", "volume")) == [(411_068, 236_588), (-1, None)]
    assert probe.objects.filter(mass__gt=411_067, volume__isnull=False).count() == 1


@pytest.mark.parametrize("value", [1.9, 2.0, "2", Decimal("2"), True, b"2"])
def test_what_is_not_an_int_never_reaches_the_table(probe, value):
    row = probe.objects.create(mass=1)
    for attempt in (
        lambda: probe.objects.create(mass=value),
        lambda: probe.objects.bulk_create([probe(mass=value)]),
        lambda: probe.objects.update(mass=value),
        lambda: probe.objects.filter(mass=value).count(),
        lambda: probe(pk=row.pk, mass=value).save(),
    ):
        with pytest.raises(TypeError, match="whole number"), transaction.atomic():
            attempt()
    assert list(probe.objects.values_list("mass", flat=True)) == [1]


def test_sums_and_differences_are_whole_numbers_too(probe):
    probe.objects.bulk_create([probe(mass=3, volume=1), probe(mass=4, volume=2)])
    total = probe.objects.aggregate(total=Sum("mass"), left=Sum(F("mass") - F("volume")))
    assert total == {"total": 7, "left": 4}
    assert all(type(value) is int for value in total.values())
    probe.objects.update(mass=F("mass") + 1)
    assert probe.objects.aggregate(total=Sum("mass"))["total"] == 9


def test_a_row_goes_through_a_fixture_unchanged(probe):
    row = probe.objects.create(mass=411_068, volume=None)
    text = serializers.serialize("json", [row])
    assert '"mass": 411068' in text
    field = probe._meta.get_field("mass")
    assert field.to_python(field.value_to_string(row)) == 411_068


@pytest.mark.parametrize("value", [1.9, "1.9", "1e3", "", "412 g", True, Decimal("2"), "\uff11"])
def test_full_clean_refuses_what_is_not_an_int(probe, value):
    with pytest.raises(ValidationError) as caught:
        probe(mass=value).full_clean()
    assert "mass" in caught.value.message_dict


def test_full_clean_takes_an_int(probe):
    row = probe(mass=5)
    row.full_clean()
    assert row.mass == 5


def test_a_model_form_shows_and_reads_quantities(probe):
    class ProbeForm(forms.ModelForm):
        class Meta:
            model = probe
            fields = ["mass", "volume"]

    form = ProbeForm({"mass": "14.5 oz", "volume": ""})
    assert type(form.fields["mass"]) is MassFormField
    assert type(form.fields["volume"]) is VolumeFormField
    assert not form.fields["volume"].required
    assert form.is_valid(), form.errors
    assert form.save().mass == 411_068
    assert probe.objects.get().volume is None


@pytest.mark.parametrize("field", [MassField, VolumeField])
def test_a_migration_names_the_field_by_its_own_path(field):
    _, path, args, kwargs = field(null=True).deconstruct()
    assert path == f"inventory.measures.fields.{field.__name__}"
    assert (args, kwargs) == ([], {"null": True})
