"""Counting the stock of a place, and finding where the grams went."""

import datetime as dt

from django.contrib import messages
from django.db.models import Count as Counted
from django.db.models import Max
from django.http import HttpRequest, HttpResponse, JsonResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_POST

from inventory.containers.actions import count as weigh_together
from inventory.containers.forms import CountForm
from inventory.containers.models import Location
from inventory.counting import actions, entering, queries
from inventory.counting.forms import ReasonForm, SessionForm, StartForm
from inventory.counting.models import REASONS, Count, CountEntry
from inventory.counting.said import totals
from inventory.ledger.models import Voucher
from inventory.scales.sending import scales_said
from inventory.shop.access import office
from inventory.shop.back import back_of
from inventory.shop.forms import add_refused, number_in
from inventory.text.refusal import Refused

MOST = 200  # containers on one page of a typed-in sheet; a larger place is counted one by one
CUSTOMERS = "customers"


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
    here = {"code": request.GET.get("code", "")[:60]}
    form = _session_form(request, shown, request.POST or None, initial=here)
    if form.is_valid():
        data = form.cleaned_data
        if data["gross"] is None and not form.next_code and "seen" not in request.POST:  # its weight comes next
            return redirect(f"{reverse('count', args=[pk])}?{urlencode({'code': data['code'].strip()})}")
        scale = actions.Scale.objects.filter(code=data["scale"]).first() if data["scale"] else None
        given = {name: data[name] for name in ("code", "gross", "sure", "since")}
        given |= {"raw": data["gross_raw"], "sure_of": form.confirmed.get("gross", "")}
        try:
            entry = entering.enter_beside(count_id=shown.pk, by=request.user.username, scale=scale, **given)
        except Refused as refused:
            if isinstance(refused, entering.Questioned):
                form.ask()
            add_refused(form, refused)
        else:
            messages.success(request, f"{entry.container.code} is {'seen' if entry.is_seen else 'counted'}.")
            after = f"?{urlencode({'code': form.next_code})}" if form.next_code else ""
            return redirect(reverse("count", args=[shown.pk]) + after)
    return _count_page(request, shown, form, 422 if form.errors else 200)


def _session_form(request: HttpRequest, shown: Count, data: QueryDict | None = None, **more: object) -> SessionForm:
    scales = list(actions.Scale.objects.filter(retired=False))
    return SessionForm(data, person=request.user, count=shown, scales=scales, blind=request.shop.blind_counts, **more)


@office
def count_state(request: HttpRequest, pk: int) -> HttpResponse:
    """What changes when anybody enters something: a page that differs from it is shown anew."""
    shown = get_object_or_404(Count, pk=pk)
    said = shown.entries.aggregate(last=Max("at"), many=Counted("id"))
    return JsonResponse({"mark": _mark(shown.state, said["many"], said["last"])})


def _mark(state: str, many: int, last: dt.datetime | None) -> str:
    return f"{state} {many} {last.isoformat() if last else ''}"


def _count_page(request: HttpRequest, shown: Count, form: SessionForm, status: int, **more: object) -> HttpResponse:
    """What the book says is hidden, where the shop counts so, until nothing is left to count; of what is read, until
    somebody wants to post it: a difference is given its reason by whoever sees it. What is left stays hidden then."""
    judged = actions.judge(shown) if shown.state == "open" else []
    done = list(shown.entries.select_related("container")) if shown.state != "open" else []
    heads = [_under(shown, judged, done, theirs) for theirs in (False, True)]
    left = sum(one["left_count"] for one in heads)
    latest = max((one.entry.at for one in judged), default=shown.started_at)
    hidden = request.shop.blind_counts and bool(left)
    asked = "order" in more or any(one.entry.reason for one in judged)
    said = {
        "count": shown,
        "form": form,
        "scales": scales_said(form.scales),
        "seen": [one for one in judged if one.entry.is_seen],
        "blind": hidden and not asked,
        "left_blind": hidden,
        "rest_known": bool(left) and not request.shop.blind_counts,
        "rest": left,
        "since": form.data.get("since") or latest.isoformat(),
        "mark": _mark(shown.state, len(judged), latest if judged else None),
        "note": shown.note,
        "heads": [one for one in heads if not one["theirs"] or one["judged"] or one["left"] or one["entries"]],
        "held": queries.held_here(shown.location) if shown.state == "open" else [],
        "elsewhere": [one for one in judged if one.elsewhere],
        "reasons": REASONS.items(),
        "wanting": [one for one in judged if one.outside and not one.entry.reason],
        "error": "" if shown.is_open else " ".join(form.non_field_errors()),  # its form is not there any more
        **more,
    }
    return render(request, "inventory/count_session.html", said, status=status)


def _under(shown: Count, judged: list[actions.Judged], done: list[CountEntry], theirs: bool) -> dict[str, object]:
    """What stands on a count's page under the head of the shop's own, or of customers': read, and not yet."""
    left = queries.uncounted(shown, theirs)
    ours = [one for one in judged if bool(one.entry.container.kept_for) == theirs]
    ours.sort(key=lambda one: not (one.outside and not one.entry.reason))  # what wants something comes first
    return {
        "theirs": theirs,
        "judged": ours,
        "totals": totals((one.entry.container, one.reading) for one in ours if one.reading),
        "left": left[:300],
        "left_count": left.count(),
        "entries": [one for one in done if bool(one.container.kept_for) == theirs],
    }


def _session_act(request: HttpRequest, pk: int, do) -> HttpResponse:
    shown = get_object_or_404(Count.objects.select_related("location", "scale"), pk=pk)
    try:
        do(shown)
    except Refused as refused:
        return _count_page(request, shown, _session_form(request, shown), 422, error=refused.message)
    return redirect(back_of(request) or reverse("count", args=[pk]))


@office
@require_POST
def count_reason(request: HttpRequest, pk: int) -> HttpResponse:
    form = ReasonForm(request.POST)
    data = form.cleaned_data if form.is_valid() else {"reason": "", "note": ""}
    code = request.POST.get("code", "")[:60]
    return _session_act(request, pk, lambda shown: entering.give_reason(count_id=shown.pk, code=code, **data))


@office
@require_POST
def count_remove(request: HttpRequest, pk: int) -> HttpResponse:
    code = request.POST.get("code", "")[:60]
    return _session_act(request, pk, lambda shown: entering.take_out(count_id=shown.pk, code=code))


@office
@require_POST
def count_rest(request: HttpRequest, pk: int) -> HttpResponse:
    """All that is left was seen as expected; of a blind count nobody can say so."""
    return _session_act(request, pk, lambda shown: entering.see_rest(count_id=shown.pk, by=request.user.username))


@office
@require_POST
def count_note(request: HttpRequest, pk: int) -> HttpResponse:
    note = request.POST.get("note", "")[:2000]
    return _session_act(request, pk, lambda shown: entering.keep_note(count_id=shown.pk, note=note))


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
        entering.keep_note(count_id=shown.pk, note=note)
        shown.refresh_from_db()
        said = {"error": refused.message, "order": getattr(refused, "choices", None), "note": note}
        return _count_page(request, shown, _session_form(request, shown), 422, **said)
    messages.success(request, f"The count is posted as voucher {number}.")
    return redirect(back_of(request) or reverse("voucher", args=[number]))


@office
def count_place(request: HttpRequest, pk: int) -> HttpResponse:
    """A sheet that was written by hand, typed in at once."""
    place = get_object_or_404(Location, pk=pk)
    ours, theirs = (queries.to_count(place, whose).order_by("code")[:MOST] for whose in (False, True))
    containers = [*ours, *theirs][:MOST]
    form = CountForm(request.POST or None, containers=containers, person=request.user)
    form.blind = request.shop.blind_counts
    said, hidden = [], False
    if form.is_valid():
        data = form.cleaned_data
        try:
            if "post" in request.POST:
                return _typed_in(request, place, form)
            head = form.head(request.user.username)
            hidden = request.shop.blind_counts and len(form.readings()) < len(containers)
            _, said = (
                ((), ())
                if hidden
                else weigh_together(readings=form.readings(), scale=data["scale"], preview=True, **head)
            )
        except Refused as refused:
            add_refused(form, refused)
    by_code = {container.code: container for container in containers}
    heads = [
        {
            "theirs": theirs,
            "readings": [form[f"gross-{one.code}"] for one in containers if bool(one.kept_for) == theirs],
            "said": [(r, by_code[r.code].is_oil) for r in said if bool(by_code[r.code].kept_for) == theirs],
            "totals": totals((by_code[r.code], r) for r in said if bool(by_code[r.code].kept_for) == theirs),
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
            "hidden": hidden,
            "heads": [one for one in heads if one["readings"]],
            "held": queries.held_here(place),
            "plain": [form[name] for name in ("scale", "day", "follows", "note") if not form[name].is_hidden],
        },
        status=422 if form.errors else 200,
    )


def _typed_in(request: HttpRequest, place: Location, form: CountForm) -> HttpResponse:
    """All readings of a sheet into a count, and posted where nothing wants a reason."""
    data = form.cleaned_data
    scale = actions.Scale.objects.filter(code=data["scale"]).first() if data["scale"] else None
    head = form.head(request.user.username) | {"sure": form.sure()}
    made = actions.type_in(location=place, scale=scale, readings=form.readings(), **head)
    if made.state != "posted":
        messages.warning(request, "Some readings are more than weighing can explain: give each a reason, then post.")
        return redirect("count", made.pk)
    messages.success(request, f"The count is posted as voucher {made.voucher_id}.")
    return redirect("voucher", made.voucher_id)
