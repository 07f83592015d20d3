"""The walk through a month, up to its mass balance and its seal: what is open is done where it stands."""

import datetime as dt
import re
from collections.abc import Mapping, Sequence

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import urlencode

from inventory.counting.models import Count
from inventory.counting.queries import unexplained
from inventory.counting.said import Found, found_so_far
from inventory.ledger.queries import last_seal
from inventory.ledger.snapshot import one_moment
from inventory.shop.access import office
from inventory.shop.acting import act
from inventory.shop.back import BACK
from inventory.shop.clock import today
from shopledger.monthend.actions import leave_open
from shopledger.monthend.forms import USUAL_WHY, LeaveForm
from shopledger.monthend.here import Doing, Here, Standing
from shopledger.monthend.queries import SHOWN, Step, steps
from shopledger.reporting.cells import shown
from shopledger.reporting.output import make
from shopledger.reporting.periods import month
from shopledger.reporting.report import Period
from shopledger.reports.registry import REPORTS
from shopledger.reports.usage import NotBalanced
from shopledger.sealing.forms import HandedForm, SealForm
from shopledger.sealing.queries import not_handed_out, would_seal

SEALED = "seal"  # where the walk goes on once the days are sealed


def _asked(request: HttpRequest) -> Period:
    """The month that the address names, else the one that ended last; once that is sealed, the one that runs."""
    asked = re.fullmatch(r"(\d{4})-(0[1-9]|1[0-2])", request.GET.get("month", ""), re.ASCII)
    if asked and int(asked[1]) >= 1900:
        return month(dt.date(int(asked[1]), int(asked[2]), 1))
    running, sealed = month(today()), last_seal()
    return running if sealed and sealed.through >= running.eve else month(running.eve)


@office
def month_end(request: HttpRequest) -> HttpResponse:
    """What is open in a month, each with the form that mends it; the mass balance; the seal and its receipt."""
    # Judging a count tries what posting it would do, which a moment that is only read does not let it.
    counts = Count.objects.filter(state="open").select_related("location", "scale")[:SHOWN]
    counted = {one.pk: found_so_far(one, request.user, request.shop.blind_counts) for one in counts}
    with one_moment():
        return _walk(request, counted)


def _walk(request: HttpRequest, counted: Mapping[int, Found]) -> HttpResponse:
    period = _asked(request)
    first, last = period.first, period.last
    found = steps(first, last)
    fault, made = "", None
    try:
        made = make(REPORTS["usage"], period, None, request.user.name)
    except NotBalanced as broken:
        fault = str(broken)
    doing = Doing(request.user, first, counted)
    walk = [(step, doing.rows(step), doing.together(step) if step.count else []) for step in found]
    at = request.GET.get("at", "")
    focused = _focus(walk, at) if at else None
    said = {
        "first": first,
        "last": last,
        "walk": walk,
        "usual_why": USUAL_WHY,
        "open": sum(bool(one.count) for one in found),
        "steps": len(found),
        "done": [one for one in found if not one.count and not one.left],
        "left": sum(len(one.left) for one in found),
        "made": made,
        "shown": shown(made) if made else None,
        "fault": fault,
        "unexplained": unexplained(first, last),
        "before": period.eve.strftime("%Y-%m"),
        "after": (last + dt.timedelta(days=1)).strftime("%Y-%m"),
        "ended": last < today(),
        "to_seal": bool(at) and focused is None and at != SEALED,
        **_closing(request, last, f"{doing.month}&at={SEALED}"),
    }
    return render(request, "monthend/month.html", said)


def _focus(walk: Sequence[tuple[Step, list[Standing], list[Here]]], at: str) -> Here | Standing | None:
    """Where the keyboard goes on: at the first form of the step that was just worked on, or of the next open one; where
    that has none that stands open, at its first line. None where nothing is open from there on."""
    slugs = [step.slug for step, _, _ in walk]
    start = slugs.index(at) if at in slugs else len(slugs)
    for step, rows, together in walk[start:]:
        if not step.count:
            continue
        forms = [here for row in rows for here in row.here if not here.fold]
        found = next(iter(forms), None) or (together[0] if len(together) > 1 else rows[0])
        found.focused = True
        first = (found.shown[0] if found.ticks else found.first_blank) if isinstance(found, Here) else None
        if first is not None:
            first.field.widget.attrs["autofocus"] = True
        return found
    return None


def _closing(request: HttpRequest, last: dt.date, back: str) -> dict[str, object]:
    """What the owner needs to seal, and to hand the receipt out. back: where that leads back to."""
    sealed, waiting = last_seal(), not_handed_out()
    owner, back = request.user.is_owner, urlencode({BACK: back})
    may_seal = owner and last < today() and not (sealed and sealed.through >= last)
    handed = HandedForm(auto_id="id_handed_%s") if waiting and owner else None
    if handed and request.GET.get("at") == SEALED:
        handed.fields["to"].widget.attrs["autofocus"] = True
    return {
        "sealed": sealed is not None and sealed.through >= last,
        "waiting": waiting,
        "may_seal": may_seal,
        "sealing": would_seal(last) if may_seal else None,
        "seal_form": SealForm(initial={"through": last}, auto_id="id_seal_%s") if may_seal else None,
        "seal_at": f"{reverse('seal')}?{back}",
        "handed_form": handed,
        "handed_at": f"{reverse('seal-handed', args=[waiting.pk])}?{back}" if waiting else "",
    }


@office
def month_leave(request: HttpRequest, of: str) -> HttpResponse:
    """Leave what a step asks for open in a month, with the reason."""
    period = _asked(request)
    found = next((one for one in steps(period.first, period.last) if one.slug == of), None)
    if found is None:
        raise Http404
    known = [(row.thing, row.words) for row in found.rows] + [(one.thing, one.words) for one in found.left]
    form = LeaveForm(request.POST or None, things=known)

    def do(data: dict) -> None:
        leave_open(
            month=period.first, step=found.kind, things=data["things"], why=data["why"], by=request.user.username
        )

    return act(
        request,
        form,
        do,
        heading=f"{found.title}: leave open",
        back=f"{reverse('month-end')}?{urlencode({'month': f'{period.first:%Y-%m}', 'at': of})}",
        done="They stay open, and the reason is kept.",
        button="Leave them open",
        lists={"usual-why": USUAL_WHY},
        intro="The seal and the next month's walk tell it; the next month asks for it again.",
    )
