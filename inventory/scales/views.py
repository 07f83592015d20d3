"""Pages about scales: the register, and their checks."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from inventory.containers.models import Scale
from inventory.scales.actions import CheckMade, Plate, check_scale, save_scale
from inventory.scales.forms import CheckForm, ScaleForm
from inventory.scales.queries import doubtful_weighings, overdue
from inventory.shop.access import office
from inventory.shop.acting import act
from inventory.shop.clock import today


@office
def scales(request: HttpRequest) -> HttpResponse:
    due = set(overdue(today()).values_list("pk", flat=True))
    rows = [(scale, scale.pk in due) for scale in Scale.objects.all()]
    return render(request, "inventory/scales.html", {"rows": rows})


@office
def scale(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(Scale, pk=pk)
    doubtful = doubtful_weighings().filter(scale=shown).select_related("container").order_by("-day", "-id")
    said = {"scale": shown, "checks": shown.checks.all()[:100], "doubtful": doubtful[:100], "count": doubtful.count()}
    return render(request, "inventory/scale.html", said)


@office
def scale_check(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(Scale, pk=pk)
    form = CheckForm(request.POST or None)

    def do(data: dict) -> None:
        said = {name: value for name, value in data.items() if name != "key"}
        check = CheckMade(**{**said, "note": form.told})
        check_scale(scale=shown, check=check, by=request.user.username, key=data["key"])

    return act(
        request,
        form,
        do,
        heading=f"Check scale {shown.code}",
        back=reverse("scale", args=[shown.pk]),
        intro="Put a mass that is known on it. The largest error in service is that of OIML R 76-1, class III, with "
        "the scale's smallest step as its interval.",
        done="The check is kept.",
    )


@office
def scale_edit(request: HttpRequest, code: str = "") -> HttpResponse:
    shown = get_object_or_404(Scale, code=code) if code else None
    fields = ("code", "readability_mg", "capacity_mg", "checked_until", "usual", "span_ppm")
    form = ScaleForm(request.POST or None, initial={name: getattr(shown, name) for name in fields} if shown else None)
    if shown:
        form.fields["code"].disabled = True

    def do(data: dict) -> None:
        plate = Plate(data["readability_mg"], data["capacity_mg"], data["span_ppm"])
        save_scale(
            scale=shown,
            code=data["code"],
            plate=plate,
            checked_until=data["checked_until"],
            usual=data["usual"],
        )

    return act(
        request,
        form,
        do,
        back=reverse("places"),
        heading=f"Scale {code}" if code else "New scale",
        done="The scale is saved.",
    )
