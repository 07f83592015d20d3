"""Enough for next week, and what it costs."""

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from inventory.containers.models import Location
from inventory.costing.formulas import FORMULAS
from inventory.ledger.models import Substance
from inventory.measures.money import show_money
from inventory.measures.months import add_months
from inventory.measures.quantity import parse_mass, parse_volume
from inventory.shop.access import everybody, office
from inventory.shop.clock import today
from inventory.shop.forms import text
from inventory.supply import costs as of_stock
from inventory.supply import queries
from inventory.supply.actions import set_reorder_point
from inventory.text.refusal import Refused


class ReorderForm(forms.Form):
    substance = forms.ModelChoiceField(label="Refrigerant or oil", queryset=Substance.objects.order_by("code"))
    location = forms.ModelChoiceField(
        label="At", queryset=Location.objects.filter(closed=False), required=False, empty_label="the whole shop"
    )
    least = text("Buy more under", 40, help_text="e.g. 5 kg or 2 L; blank takes the reorder point away")

    def clean(self) -> dict:
        data = super().clean()
        if data.get("least") and data.get("substance"):
            try:
                data["least"] = (parse_volume if data["substance"].is_oil else parse_mass)(data["least"])
            except Refused as refused:
                self.add_error("least", refused.message)
            else:
                if not data["least"]:
                    self.add_error("least", "Write more than nothing, or leave it blank.")
        return data


@everybody
def enough(request: HttpRequest) -> HttpResponse:
    may = request.user.role in {"office", "owner"}
    form = ReorderForm(request.POST or None) if may else None
    if form is not None and form.is_valid():
        set_reorder_point(**form.cleaned_data)
        messages.success(request, "Saved.")
        return redirect("enough")
    said = {"rows": queries.supplies(today()), "form": form, "weeks": queries.WEEKS}
    return render(request, "inventory/enough.html", said, status=422 if form is not None and form.errors else 200)


LOSSES = of_stock.LOST


@office
def costs(request: HttpRequest) -> HttpResponse:
    last = today()
    first = add_months(last.replace(day=1), -11)
    currency = request.shop.currency
    value_now = of_stock.stock_value(last)
    value = [(*row[:3], show_money(row[3], currency), row[4]) for row in value_now]
    months = [
        (
            month,
            [(cls.word.capitalize(), show_money(row.get(int(cls), (0, 0))[0], currency)) for cls in LOSSES],
            show_money(sum(cell[0] for cell in row.values()), currency),
            any(cell[1] for cell in row.values()),
        )
        for month, row in reversed(of_stock.losses_by_month(first, last).items())
    ]
    said = {
        "value": value,
        "total": show_money(sum(row[3] for row in value_now), currency),
        "months": months,
        "classes": [cls.word for cls in LOSSES],
        "formula": FORMULAS[request.shop.cost_formula],
    }
    return render(request, "inventory/costs.html", said)
