"""The walk through a month, up to its mass balance."""

import datetime as dt
import re

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from inventory.counting.queries import unexplained
from inventory.ledger.queries import last_seal
from inventory.ledger.snapshot import one_moment
from inventory.shop.access import office
from inventory.shop.clock import today
from shopledger.monthend.queries import steps
from shopledger.reporting.cells import shown
from shopledger.reporting.output import make
from shopledger.reporting.periods import month
from shopledger.reports.registry import REPORTS
from shopledger.reports.usage import NotBalanced
from shopledger.sealing.queries import not_handed_out


@office
@one_moment()
def month_end(request: HttpRequest) -> HttpResponse:
    """The month that the address names, else the one that ended last."""
    asked = re.fullmatch(r"(\d{4})-(0[1-9]|1[0-2])", request.GET.get("month", ""), re.ASCII)
    if asked and int(asked[1]) >= 1900:
        period = month(dt.date(int(asked[1]), int(asked[2]), 1))
    else:
        period = month(month(today()).eve)
    first, last = period.first, period.last
    found = steps(first, last)
    fault, made = "", None
    try:
        made = make(REPORTS["usage"], period, None, request.user.name)
    except NotBalanced as broken:
        fault = str(broken)
    sealed = last_seal()
    said = {
        "first": first,
        "last": last,
        "steps": found,
        "open": sum(bool(one.count) for one in found),
        "made": made,
        "shown": shown(made) if made else None,
        "fault": fault,
        "unexplained": unexplained(first, last),
        "before": period.eve.strftime("%Y-%m"),
        "after": (last + dt.timedelta(days=1)).strftime("%Y-%m"),
        "ended": last < today(),
        "sealed": sealed is not None and sealed.through >= last,
        "waiting": not_handed_out(),
        "may_seal": last < today() and request.user.is_owner,
    }
    return render(request, "monthend/month.html", said)
