"""Counting the stock of a place, and finding where the grams went."""

import datetime as dt
from collections.abc import Iterable

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from inventory.containers.actions import count as weigh_together
from inventory.containers.forms import CountForm
from inventory.containers.models import Container, Location
from inventory.containers.states import Reading
from inventory.counting import actions, causes, queries
from inventory.counting.forms import EntryForm, PeriodForm, ReasonForm, StartForm, TareForm
from inventory.counting.models import REASONS, Count, CountEntry
from inventory.counting.paper import Stands, count_sheet
from inventory.counting.whose import is_theirs
from inventory.ledger.models import Voucher, stands
from inventory.ledger.snapshot import one_moment
from inventory.measures.quantity import show
from inventory.paper.foot import Origin, foot
from inventory.shop.access import office
from inventory.shop.acting import act
from inventory.shop.back import back_of
from inventory.shop.clock import today
from inventory.shop.forms import add_refused, number_in
from inventory.text.refusal import Refused

MOST = 200  # containers on one page of a typed-in sheet; a larger place is counted one by one
CUSTOMERS = "customers"
HELD = 100  # of those that wait to be identified, as many are named at a place


@office
def counting(request: HttpRequest) -> HttpResponse:
    counts = Voucher.objects.filter(kind="count").order_by("-number").select_related("reversed_by")[:50]
    return render(
        request,
        "inventory/counting.html",
        {
            "places": Location.objects.filter(closed=False),
            "counts": counts,
            "open": Count.objects.filter(state="open").select_related("location"),
            "wanting": queries.without_reason().count(),
            "theirs": queries.without_reason(theirs=True).count(),
        },
    )


# -- one by one --------------------------------------------------------------------------------------------


@office
def count_start(request: HttpRequest, pk: int) -> HttpResponse:
    place = get_object_or_404(Location, pk=pk)
    found = Count.objects.filter(location=place, state="open").first()
    if found and request.method != "POST":
        return redirect("count", found.pk)
    form = StartForm(request.POST or None)
    if form.is_valid():
        data = form.cleaned_data
        try:
            made = actions.start_count(
                location=place, day=data["day"], scale=data["scale"], by=request.user.username, key=data["key"]
            )
        except Refused as refused:
            add_refused(form, refused)
        else:
            if made.key != data["key"]:
                messages.info(request, f"{made.started_by} began to count {place.name} already: go on with that count.")
            return redirect("count", made.pk)
    said = {
        "form": form,
        "heading": f"Count {place.name}",
        "back": reverse("counting"),
        "button": "Start",
        "lists": {},
        "hidden": [],
        "intro": "Weigh one container after the other. Nothing is posted before you post it.",
    }
    return render(request, "inventory/form.html", said, status=422 if form.errors else 200)


@office
def count(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(Count.objects.select_related("location", "scale", "voucher"), pk=pk)
    form = EntryForm(request.POST or None, person=request.user, initial={"code": request.GET.get("code", "")[:60]})
    if form.is_valid():
        data = form.cleaned_data
        scale = actions.Scale.objects.filter(code=data["scale"]).first() if data["scale"] else None
        try:
            entry = actions.enter(
                count_id=shown.pk,
                code=data["code"],
                gross=data["gross"],
                by=request.user.username,
                scale=scale,
                sure=data["sure"],
            )
        except Refused as refused:
            if isinstance(refused, actions.Questioned):
                form.ask()
            add_refused(form, refused)
        else:
            messages.success(request, f"{entry.container.code} is counted.")
            return redirect("count", shown.pk)
    return _count_page(request, shown, form, 422 if form.errors else 200)


def _count_page(request: HttpRequest, shown: Count, form: EntryForm, status: int, **more: object) -> HttpResponse:
    judged = actions.judge(shown) if shown.state == "open" else []
    done = list(shown.entries.select_related("container")) if shown.state != "open" else []
    heads = [_under(shown, judged, done, theirs) for theirs in (False, True)]
    said = {
        "count": shown,
        "form": form,
        "heads": [one for one in heads if not one["theirs"] or one["judged"] or one["left"] or one["entries"]],
        "held": _held(shown.location) if shown.state == "open" else [],
        "elsewhere": [one for one in judged if one.elsewhere],
        "reasons": REASONS.items(),
        "wanting": [one for one in judged if one.outside and not one.entry.reason],
        **more,
    }
    return render(request, "inventory/count_session.html", said, status=status)


def _under(shown: Count, judged: list[actions.Judged], done: list[CountEntry], theirs: bool) -> dict[str, object]:
    """What stands on a count's page under the head of the shop's own, or of customers': read, and not yet."""
    left = queries.uncounted(shown, theirs)
    ours = [one for one in judged if bool(one.entry.container.kept_for) == theirs]
    return {
        "theirs": theirs,
        "judged": ours,
        "totals": _totals((one.entry.container, one.reading) for one in ours if one.reading),
        "left": left[:300],
        "left_count": left.count(),
        "entries": [one for one in done if bool(one.container.kept_for) == theirs],
    }


def _totals(readings: Iterable[tuple[Container, Reading]]) -> list[dict[str, object]]:
    """By substance what was read in all, what the book says of it, and the difference; mg, of oils uL."""
    found: dict[str, dict] = {}
    for container, reading in readings:
        if container.substance is not None:
            start = {"substance": container.substance, "book": 0, "net": 0, "difference": 0}
            row = found.setdefault(container.substance.code, start)
            for name in ("book", "net", "difference"):
                row[name] += getattr(reading, name)
    return [found[code] for code in sorted(found)]


def _held(place: Location) -> list[Container]:
    return list(queries.held_at(place)[:HELD])


def _session_act(request: HttpRequest, pk: int, do) -> HttpResponse:
    shown = get_object_or_404(Count.objects.select_related("location", "scale"), pk=pk)
    try:
        do(shown)
    except Refused as refused:
        return _count_page(request, shown, EntryForm(person=request.user), 422, error=refused.message)
    return redirect(back_of(request) or reverse("count", args=[pk]))


@office
@require_POST
def count_reason(request: HttpRequest, pk: int) -> HttpResponse:
    form = ReasonForm(request.POST)
    data = form.cleaned_data if form.is_valid() else {"reason": "", "note": ""}
    code = request.POST.get("code", "")[:60]
    return _session_act(request, pk, lambda shown: actions.give_reason(count_id=shown.pk, code=code, **data))


@office
@require_POST
def count_remove(request: HttpRequest, pk: int) -> HttpResponse:
    code = request.POST.get("code", "")[:60]
    return _session_act(request, pk, lambda shown: actions.take_out(count_id=shown.pk, code=code))


@office
@require_POST
def count_abandon(request: HttpRequest, pk: int) -> HttpResponse:
    return _session_act(request, pk, lambda shown: actions.abandon(count_id=shown.pk, by=request.user.username))


@office
@require_POST
def count_post(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(Count.objects.select_related("location", "scale"), pk=pk)
    note, follows = request.POST.get("note", "")[:2000], number_in(request.POST, "follows")
    try:
        number = actions.post_count(count_id=shown.pk, by=request.user.username, note=note, follows=follows)
    except Refused as refused:
        shown.refresh_from_db()
        said = {"error": refused.message, "order": getattr(refused, "choices", None), "note": note}
        return _count_page(request, shown, EntryForm(person=request.user), 422, **said)
    messages.success(request, f"The count is posted as voucher {number}.")
    return redirect(back_of(request) or reverse("voucher", args=[number]))


@office
def count_paper(request: HttpRequest, pk: int) -> HttpResponse:
    """The sheet to print and write on."""
    place = get_object_or_404(Location, pk=pk)
    with one_moment():
        stands = Stands(queries.to_count(place), queries.to_count(place, theirs=True), _held(place))
        paper = foot(f"Count of {place.name}", Origin(request.user.name, timezone.now()), place="container")
    answer = HttpResponse(count_sheet(place.name, stands, paper, request.user), content_type="application/pdf")
    answer["Content-Disposition"] = 'inline; filename="count.pdf"'
    return answer


@office
def count_place(request: HttpRequest, pk: int) -> HttpResponse:
    """A sheet that was written by hand, typed in at once."""
    place = get_object_or_404(Location, pk=pk)
    ours, theirs = (queries.to_count(place, whose).order_by("code")[:MOST] for whose in (False, True))
    containers = [*ours, *theirs][:MOST]
    form = CountForm(request.POST or None, containers=containers, person=request.user)
    said = []
    if form.is_valid():
        data = form.cleaned_data
        try:
            if "post" in request.POST:
                return _typed_in(request, place, form)
            head = form.head(request.user.username)
            _, said = weigh_together(readings=form.readings(), scale=data["scale"], preview=True, **head)
        except Refused as refused:
            add_refused(form, refused)
    by_code = {container.code: container for container in containers}
    heads = [
        {
            "theirs": theirs,
            "readings": [form[f"gross-{one.code}"] for one in containers if bool(one.kept_for) == theirs],
            "said": [(r, by_code[r.code].is_oil) for r in said if bool(by_code[r.code].kept_for) == theirs],
            "totals": _totals((by_code[r.code], r) for r in said if bool(by_code[r.code].kept_for) == theirs),
        }
        for theirs in (False, True)
    ]
    return render(
        request,
        "inventory/count.html",
        {
            "place": place,
            "form": form,
            "containers": containers,
            "said": said,
            "heads": [one for one in heads if one["readings"]],
            "held": _held(place),
            "plain": [form[name] for name in ("scale", "day", "follows", "note") if not form[name].is_hidden],
        },
        status=422 if form.errors else 200,
    )


def _typed_in(request: HttpRequest, place: Location, form: CountForm) -> HttpResponse:
    """All readings of a sheet into a count, and posted where nothing wants a reason."""
    data = form.cleaned_data
    scale = actions.Scale.objects.filter(code=data["scale"]).first() if data["scale"] else None
    head = form.head(request.user.username)
    made = actions.type_in(location=place, scale=scale, readings=form.readings(), **head)
    if made.state != "posted":
        messages.warning(request, "Some readings are more than weighing can explain: give each a reason, then post.")
        return redirect("count", made.pk)
    messages.success(request, f"The count is posted as voucher {made.voucher_id}.")
    return redirect("voucher", made.voucher_id)


# -- where the grams went ----------------------------------------------------------------------------------


def period_of(request: HttpRequest) -> tuple[PeriodForm, dt.date, dt.date]:
    """The period that an address asks for; the last 92 days where it asks for none."""
    last = today()
    first = last - dt.timedelta(days=92)
    asked = request.GET if request.GET.keys() & {"first", "last"} else None
    form = PeriodForm(asked, initial={"first": first, "last": last})
    if form.is_valid():
        first, last = form.cleaned_data["first"] or first, form.cleaned_data["last"] or last
    return form, first, max(first, last)


@office
def differences(request: HttpRequest) -> HttpResponse:
    """What weighing could not explain, each with its reason; grouped, and what the groups look like. Of the shop's own,
    or, asked for, of customers' gas."""
    form, first, last = period_of(request)
    theirs = request.GET.get("whose") == CUSTOMERS
    found = queries.differences(first, last, theirs)
    if request.GET.get("open"):
        if "first" not in request.GET:  # whatever their age: the notice that leads here counts them all
            oldest = queries.without_reason(theirs=theirs).order_by("day").first()
            first = min(first, oldest.day) if oldest else first
            found = queries.differences(first, last, theirs)
        found = found.filter(reason=None)
    page = Paginator(found, 50).get_page(request.GET.get("page"))
    key = request.GET.get("by") if request.GET.get("by") in queries.KEYS else "container"
    said = {
        "form": form,
        "first": first,
        "last": last,
        "page": page,
        "by": key,
        "keys": queries.KEYS,
        "groups": queries.grouped(key, first, last, theirs),
        "reasons": REASONS,
        "patterns": causes.patterns(list(queries.seen(first, last, theirs).values())),
        "unexplained": [] if theirs else queries.unexplained(first, last),
        "theirs": theirs,
        "open": request.GET.get("open"),
    }
    return render(request, "inventory/differences.html", said)


@office
def difference(request: HttpRequest, pk: int) -> HttpResponse:
    """One difference: what lies between the two weighings that bound it, what it looks like, and why it was."""
    shown = get_object_or_404(
        queries.explained().select_related("container__substance", "container__location", "scale", "voucher"), pk=pk
    )
    form = ReasonForm(request.POST or None, initial={"reason": shown.reason, "note": shown.reason_note})
    if form.is_valid():
        try:
            actions.explain(weighing_id=shown.pk, by=request.user.username, **form.cleaned_data)
        except Refused as refused:
            add_refused(form, refused)
        else:
            messages.success(request, "The reason is kept.")
            return redirect(back_of(request) or reverse("difference", args=[shown.pk]))
    earlier = queries.weighing_before(shown)
    theirs = is_theirs(shown)
    seen = queries.seen(shown.day - dt.timedelta(days=92), max(shown.day, today()), theirs)
    known = causes.patterns(list(seen.values()))
    said = {
        "weighing": shown,
        "theirs": theirs,
        "earlier": earlier,
        "between": queries.between(shown, earlier),
        "form": form,
        "nearby": queries.at_that_time(shown, earlier)[:20],
        "likely": causes.of_one(seen[shown.pk], known) if shown.pk in seen else [],
        "explanations": shown.explanations.all(),
        "changes": shown.container.tare_changes.filter(stands("voucher__"))[:5],
    }
    return render(request, "inventory/difference.html", said, status=422 if form.errors else 200)


@office
def tare(request: HttpRequest, code: str) -> HttpResponse:
    shown = get_object_or_404(Container, code=code, void=False)
    form = TareForm(request.POST or None)
    now = show(shown.tare_mg, request.user.mass_unit) if shown.tare_mg else "not known"
    return act(
        request,
        form,
        lambda data: actions.correct_tare(code=code, tare_mg=data["tare_mg"], **form.head(request.user.username)),
        heading=f"Tare of {code}",
        back=reverse("container", args=[code]),
        done="The tare is changed.",
        intro=f"It is {now} by the book. The new one holds from the next weighing on.",
    )
