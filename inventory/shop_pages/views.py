"""The shop's own page, and its rulebook."""

import datetime as dt
import re
from decimal import Decimal
from zoneinfo import available_timezones

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from inventory.containers.models import Container
from inventory.ledger.actions import writing
from inventory.measures.fields import MassFormField, VolumeFormField
from inventory.measures.money import decimals_of
from inventory.measures.number_fields import NumberField, number_of
from inventory.measures.numbers import written
from inventory.reference.rulebook import Rulebook, rulebooks
from inventory.reference.stricter import VALUES, objection, stricter
from inventory.reference.wording import sections
from inventory.shop.access import ROLES, everybody, owner
from inventory.shop.clock import today
from inventory.shop.forms import DueField, OldDayField
from inventory.shop.models import Shop
from inventory.shop_pages.actions import objection_to_zone, save_settings
from inventory.write_offs.queries import may_agree


def binding_some() -> list[Rulebook]:
    """The rulebooks that do not bind everybody."""
    return [book for book in rulebooks().values() if book.binds]


class ShopForm(forms.ModelForm):
    rulebook = forms.ChoiceField(label="Rulebook")
    second_factor_roles = forms.MultipleChoiceField(
        label="Second factor demanded of",
        required=False,
        choices=[(role, role.capitalize()) for role in ROLES],
        widget=forms.CheckboxSelectMultiple,
        help_text="Whoever has such a role and no second factor is led to set one up right after signing in.",
    )
    write_off_mg = MassFormField(
        label="Most refrigerant that one person writes off in a day",
        required=False,
        help_text="Beyond it a second person, of the office or an owner, says yes first. Blank: there is no limit.",
    )
    write_off_ul = VolumeFormField(label="Most oil that one person writes off in a day", required=False)
    # From the lowest shore to the highest mountain; a day of pumping; the pressure of the air.
    altitude_m = number_of(Shop, "altitude_m", least=-450, most=9_000, unit="metres")
    evacuation_minutes = number_of(Shop, "evacuation_minutes", least=0, most=1_440, unit="minutes")
    hold_minutes = number_of(Shop, "hold_minutes", least=0, most=1_440, unit="minutes")
    hold_most_micron = number_of(Shop, "hold_most_micron", least=1, most=760_000, unit="micron")
    test_minutes = number_of(Shop, "test_minutes", least=0, most=10_080, unit="minutes")
    test_most_percent = number_of(Shop, "test_most_percent", least=1, most=50, unit="%")
    oil_months = number_of(Shop, "oil_months", least=0, most=120, unit="months")
    lock_minutes = number_of(Shop, "lock_minutes", least=0, most=720, unit="minutes")

    class Meta:
        model = Shop
        fields = (
            "name",
            "address",
            "timezone",
            "rulebook",
            "altitude_m",
            "currency",
            "evacuation_minutes",
            "hold_minutes",
            "hold_most_micron",
            "test_minutes",
            "test_most_percent",
            "oil_months",
            "blind_counts",
            "company_certificate",
            "company_certificate_issuer",
            "company_certificate_from",
            "company_certificate_until",
            "second_factor_roles",
            "lock_minutes",
            "write_off_mg",
            "write_off_ul",
            "cost_formula",
        )
        labels = {"timezone": "Time zone, e.g. Europe/Dublin", "currency": "Currency, e.g. USD"}
        widgets = {"address": forms.Textarea(attrs={"rows": 3})}
        field_classes = {"company_certificate_from": OldDayField, "company_certificate_until": DueField}

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["rulebook"].choices = [(name, book.title) for name, book in rulebooks().items()]
        self.fields["rulebook"].help_text = " ".join(f"{book.title}: {book.binds[0]}" for book in binding_some())

    def clean(self):
        said = super().clean()
        for name in ("write_off_mg", "write_off_ul"):
            if said.get(name) is not None and may_agree() < 2:
                self.add_error(
                    name,
                    "Nobody but you could say yes. Enter a second person of the office, or another owner, under People "
                    "first; or leave it blank.",
                )
        return said

    def clean_currency(self) -> str:
        """Amounts are kept in the currency's smallest part, so that one of other decimals would change them all."""
        now, new = Shop.current().currency, self.cleaned_data["currency"].upper()
        if not re.fullmatch(r"[A-Z]{3}", new):
            raise forms.ValidationError("Write the three letters of the currency, e.g. USD.")
        amounts = Container.objects.exclude(price_minor=None, deposit_minor=None)
        if decimals_of(new) != decimals_of(now) and amounts.exists():
            raise forms.ValidationError(
                f"Prices are kept in {now}, with {decimals_of(now)} decimals, and {new} has {decimals_of(new)}: they "
                f"would all be other amounts. Leave it {now}, or name a currency with {decimals_of(now)} decimals."
            )
        return new

    def clean_timezone(self) -> str:
        zone = self.cleaned_data["timezone"]
        why = objection_to_zone(zone) if zone != self.initial.get("timezone") and zone in available_timezones() else ""
        if why:
            raise forms.ValidationError(why, code="sealed")
        return zone


@owner
def settings(request: HttpRequest) -> HttpResponse:
    form = ShopForm(request.POST or None, instance=Shop.current())
    if form.is_valid():
        follows = save_settings(form)
        messages.success(request, "The shop's settings are saved.")
        if follows:
            messages.warning(request, follows)
        for sentence in form.instance.rules.binds:
            messages.warning(request, sentence)
        return redirect("settings")
    said = {
        "form": form,
        "heading": "The shop",
        "button": "Save",
        "lists": {},
        "hidden": [],
        "record": form.instance,
        "more": [
            ("The rulebook, rule by rule, and the shop's own figures", reverse("rulebook")),
            *((f"{book.title}: whom it binds", reverse("rulebook-bound", args=[book.name])) for book in binding_some()),
        ],
        "intro": "Days are cut in the shop's time zone. The rulebook says what signing asks for; check local rules.",
    }
    return render(request, "inventory/form.html", said, status=422 if form.errors else 200)


class OwnFiguresForm(forms.Form):
    """Figures that the shop keeps stricter than its rulebook."""

    def __init__(self, *args, shop: Shop, **kwargs):
        super().__init__(*args, **kwargs)
        self.shop = shop
        for name, value in VALUES.items():
            whole = value.attribute in {"years", "months"}
            kept = shop.own_figures.get(name)
            self.fields[name] = NumberField(
                label=value.label,
                required=False,
                least=0,
                most=value.most,
                places=0 if whole else 2,
                sentence=value.bounds,
                initial=None if kept is None else Decimal(kept),
            )

    @classmethod
    def label_of(cls, name: str) -> str:
        return VALUES[name].label if name in VALUES else ""

    def clean(self):
        said = super().clean()
        book, day = rulebooks()[self.shop.rulebook], today()
        for name in VALUES:
            figure = said.get(name)
            why = objection(book, name, Decimal(figure), day) if figure is not None else None
            if why:
                self.add_error(name, why)
        return said

    def save(self) -> None:
        kept = {name: written(Decimal(figure)) for name, figure in self.cleaned_data.items() if figure is not None}
        self.shop.own_figures = kept
        with writing():
            self.shop.save()


@everybody
def rulebook_page(request: HttpRequest) -> HttpResponse:
    """A rulebook as it applies on a day: the shop's, or another to look at before it is chosen."""
    shop = Shop.current()
    name = request.GET.get("name", "")
    own = name in {"", shop.rulebook} or name not in rulebooks()
    try:
        day = dt.date.fromisoformat(request.GET.get("day", ""))
    except ValueError:
        day = today()
    form = None
    if request.user.role == "owner" and own:
        form = OwnFiguresForm(request.POST or None, shop=shop)
        if form.is_valid():
            form.save()
            messages.success(request, "The shop's own figures are saved.")
            return redirect("rulebook")
    book = stricter(rulebooks()[shop.rulebook], shop.own_figures) if own else rulebooks()[name]
    said = {
        "book": book,
        "day": day,
        "form": form,
        "sections": list(sections(book, day)),
        "bound": binding_some(),
        "others": [(one, found.title) for one, found in rulebooks().items()],
    }
    return render(request, "inventory/rulebook.html", said, status=422 if form is not None and form.errors else 200)


@everybody
def rulebook_bound(request: HttpRequest, book: str) -> HttpResponse:
    """A rulebook that does not bind everybody: whom, and what it asks of them today."""
    found = next((one for one in binding_some() if one.name == book), None)
    if found is None:
        raise Http404
    said = {"book": found, "own": request.shop.rulebook == book, "sections": list(sections(found, today()))}
    return render(request, "inventory/rulebook_bound.html", said)
