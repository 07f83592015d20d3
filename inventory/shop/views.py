"""The shop's own page."""

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from inventory.reference.rulebook import rulebooks
from inventory.shop.access import owner
from inventory.shop.models import Shop


class ShopForm(forms.ModelForm):
    rulebook = forms.ChoiceField(label="Rulebook")

    class Meta:
        model = Shop
        fields = (
            "name", "address", "timezone", "rulebook", "altitude_m", "currency", "evacuation_minutes", "hold_minutes",
            "hold_most_micron", "oil_months",
        )  # fmt: skip
        labels = {"timezone": "Time zone, e.g. Europe/Dublin", "currency": "Currency, e.g. USD"}
        widgets = {"address": forms.Textarea(attrs={"rows": 3})}

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["rulebook"].choices = [(name, book.title) for name, book in rulebooks().items()]


@owner
def settings(request: HttpRequest) -> HttpResponse:
    form = ShopForm(request.POST or None, instance=Shop.current())
    if form.is_valid():
        form.save()
        messages.success(request, "The shop's settings are saved.")
        return redirect("settings")
    said = {
        "form": form, "heading": "The shop", "button": "Save", "lists": {}, "hidden": [],
        "intro": "Days are cut in the shop's time zone. The rulebook says what signing asks for; check local rules.",
    }  # fmt: skip
    return render(request, "inventory/form.html", said, status=422 if form.errors else 200)
