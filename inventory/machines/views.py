"""Pages of the register of machines."""

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from inventory.attachments.queries import attachments_of
from inventory.containers.models import Container
from inventory.ledger.actions import writing
from inventory.machines.actions import CheckMade, check_machine, recycle
from inventory.machines.forms import RecycleForm, standards
from inventory.machines.models import Machine
from inventory.machines.queries import statement_of
from inventory.reference.kinds import with_trait
from inventory.shop.access import office
from inventory.shop.acting import act
from inventory.shop.clock import today
from inventory.shop.forms import DayField, DueField, OldDayField, OnceForm, text


class MachineForm(forms.ModelForm):
    class Meta:
        model = Machine
        fields = (
            "make",
            "model",
            "serial",
            "made_on",
            "standards",
            "refrigerants",
            "does",
            "used_on",
            "container",
            "statement_by",
            "statement_sent_on",
            "statement_to",
            "statement_copy",
            "note",
            "retired_on",
        )
        widgets = {
            "standards": forms.TextInput(attrs={"list": "standards"}),
        }
        field_classes = dict.fromkeys(("made_on", "retired_on", "statement_sent_on"), OldDayField)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["used_on"].choices = [("", "not said"), *Machine.USED_ON]
        self.fields["standards"].help_text = "as its plate names them; several with commas between them"
        self.fields["statement_by"].help_text = "the owner or a responsible officer, where the law asks for a statement"
        self.fields["container"].queryset = Container.objects.filter(kind__in=with_trait("recycles"), void=False)


class CheckForm(OnceForm):
    day = DayField(label="Day")
    passed = forms.TypedChoiceField(
        label="Result", choices=[("yes", "passed"), ("no", "failed")], coerce=lambda value: value == "yes"
    )
    next_due = DueField(label="Next check due", required=False)
    note = text("What was checked, and found", 300)


@office
def machines(request: HttpRequest) -> HttpResponse:
    return render(request, "inventory/machines.html", {"machines": Machine.objects.select_related("container")})


@office
def machine(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(Machine.objects.select_related("container"), pk=pk)
    said = {
        "machine": shown,
        "statement": statement_of(shown, request.shop.rules, request.shop, today()),
        "checks": shown.checks.all()[:100],
        "files": attachments_of(f"machine:{pk}"),
        "subject": f"machine:{pk}",
    }
    return render(request, "inventory/machine.html", said)


@office
def machine_edit(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    shown = get_object_or_404(Machine, pk=pk) if pk else None
    form = MachineForm(request.POST or None, instance=shown)
    if form.is_valid():
        with writing():
            return redirect("machine", form.save().pk)
    said = {
        "form": form,
        "heading": str(shown) if shown else "New machine",
        "back": reverse("machines"),
        "button": "Save",
        "lists": {"standards": standards()},
        "hidden": [],
        "intro": "",
    }
    return render(request, "inventory/form.html", said, status=422 if form.errors else 200)


@office
def machine_check(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(Machine, pk=pk)

    def do(data: dict) -> None:
        check = CheckMade(**{name: value for name, value in data.items() if name != "key"})
        check_machine(machine=shown, check=check, by=request.user.username, key=data["key"])

    return act(
        request,
        CheckForm(request.POST or None),
        do,
        heading=f"Check {shown}",
        back=reverse("machine", args=[pk]),
        done="The check is kept.",
    )


@office
def recycled(request: HttpRequest, code: str) -> HttpResponse:
    shown = get_object_or_404(Container, code=code, void=False)

    form = RecycleForm(request.POST or None)

    def do(data: dict) -> None:
        said = {name: data[name] for name in ("machine", "standard", "labelled")}
        recycle(code=code, **said, **form.head(request.user.username))

    return act(
        request,
        form,
        do,
        heading=f"{code} was recycled",
        back=reverse("container", args=[code]),
        done=f"{code} now holds recycled refrigerant.",
        lists={"standards": standards()},
        intro=f"It holds {shown.grade} refrigerant. Follow the machine's manual; local rules say what may be charged.",
    )
