"""The site's own field drawing against Django's templates: the same markup, everything escaped."""

import re

import pytest
from django import forms
from django.forms.renderers import DjangoTemplates

from shopledger.templatetags.renderer import DRAWN, Renderer

EVIL = '"><script>alert(1)</script>&'


class Everything(forms.Form):
    text = forms.CharField(
        label=EVIL, help_text=EVIL, widget=forms.TextInput(attrs={"data-x": EVIL, "autofocus": True})
    )
    number = forms.IntegerField(required=False)
    hidden = forms.CharField(widget=forms.HiddenInput, initial=EVIL)
    day = forms.DateField(required=False)
    moment = forms.DateTimeField(required=False)
    password = forms.CharField(widget=forms.PasswordInput)
    email = forms.EmailField()
    box = forms.BooleanField(label="Box", initial=True)
    area = forms.CharField(widget=forms.Textarea, initial=EVIL)
    choice = forms.ChoiceField(choices=[("", "none"), (EVIL, EVIL), ("Group", [("b", "B")])], initial=EVIL)


def squeezed(html):
    return re.sub(r"\s+", " ", re.sub(r">\s+", ">", re.sub(r"\s+<", "<", html))).strip()


@pytest.mark.parametrize("name", list(Everything.base_fields))
def test_widgets_are_drawn_as_django_draws_them(name):
    ours, django = Everything(renderer=Renderer())[name], Everything(renderer=DjangoTemplates())[name]
    assert squeezed(str(ours)) == squeezed(str(django))


def test_nothing_typed_becomes_markup():
    form = Everything({"text": EVIL, "area": EVIL, "choice": EVIL}, renderer=Renderer())
    page = str(form)
    assert "<script>" not in page
    assert 'class="field faulty"' in page and "aria-invalid" in page


def test_every_widget_that_is_drawn_is_compared():
    used = {field.widget.template_name for field in Everything.base_fields.values()}
    assert {name for name in DRAWN if "/widgets/" in name} - used == {"django/forms/widgets/input.html"}
