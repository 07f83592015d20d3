"""Reports as pages, with the same downloads that the command line writes."""

from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import urlencode

from inventory.ledger.models import Substance
from inventory.ledger.snapshot import one_moment
from inventory.paper.chart import NARROW, WIDE, Picture, nothing, svg
from inventory.parties.queries import name_ends
from inventory.shop.access import office
from inventory.shop.clock import today
from inventory.shop.turns import in_turn
from shopledger.report_pages.forms import PeriodForm
from shopledger.reporting.cells import shown
from shopledger.reporting.output import FORMATS, Made, make, written
from shopledger.reporting.periods import before, presets, year_before
from shopledger.reporting.report import Period, Report, Worded, called
from shopledger.reports import behind
from shopledger.reports.registry import REPORTS, of_office
from shopledger.reports.usage import NotBalanced
from shopledger.sealing.queries import issued_in

PAGE = 50
ROWS = 200  # of a report on one page of the site; files hold them all


@office
def reports(request: HttpRequest) -> HttpResponse:
    return render(request, "reports/reports.html", {"reports": of_office(request.shop.rules, today()).values()})


def _report(name: str) -> Report:
    if name not in REPORTS:
        raise Http404
    return REPORTS[name]


def _reader(request: HttpRequest) -> Worded:
    """Who asks for a report."""
    return called(request.user.username, request.user.name)


@office
def report(request: HttpRequest, name: str) -> HttpResponse:
    """The report of a period; with `format`, as a file."""
    with in_turn(request, costly="format" in request.GET):
        return _of_a_period(request, _report(name))


def _of_a_period(request: HttpRequest, found: Report) -> HttpResponse:
    form = PeriodForm(request.GET, report=found)
    said: dict[str, object] = {"report": found, "form": form, "presets": presets(today()), "formats": list(FORMATS)}
    if not form.is_valid():
        return render(request, "reports/report.html", said, status=422)
    key, who = form.cleaned_data["by"] or None, _reader(request)
    kind = request.GET.get("format", "")
    if kind and kind not in FORMATS:
        raise Http404
    compared, pictures = None, []
    try:
        with one_moment():
            made = make(found, form.period, key, who, drawn=kind == "pdf")
            if not kind:
                compared = _compared(found, form.period, request.GET.get("compare", ""), who)
                pictures = _drawn(made)
    except NotBalanced as fault:
        return render(request, "reports/report.html", {**said, "fault": str(fault)}, status=409)
    if kind:
        answer = HttpResponse(written(made, kind), content_type=FORMATS[kind])
        answer["Content-Disposition"] = f'attachment; filename="{made.filename(kind)}"'
        return answer
    page = Paginator(range(len(made.table.rows)), ROWS).get_page(request.GET.get("page"))
    return render(
        request,
        "reports/report.html",
        {
            **said,
            "made": made,
            "page": page,
            "shown": shown(made, list(page.object_list)),
            "issued": [row for row in issued_in(form.period) if row.report == found.name],
            "compared": compared,
            "pictures": pictures,
        },
    )


def _drawn(made: Made) -> list[tuple[Picture, str]]:
    """The pictures of a report's figures, each with its address."""
    address = reverse("report-chart", args=[made.report.name])
    asked = {"first": made.period.first, "last": made.period.last}
    drawn = enumerate(draw(made.period) for draw in made.report.pictures) if made.table.rows else ()
    return [(one, f"{address}?{urlencode({**asked, 'which': which})}") for which, one in drawn if one is not None]


def _compared(found: Report, period: Period, with_what: str, who: str) -> dict | None:
    """The same report of the period before, or of the year before."""
    other = {"before": before(period), "year": year_before(period)}.get(with_what)
    if other is None:
        return None
    made = make(found, other, None, who)
    return {"made": made, "shown": shown(made, range(min(ROWS, len(made.table.rows))))}


@office
@one_moment()
def chart(request: HttpRequest, name: str) -> HttpResponse:
    """The report's figures as a picture."""
    found = _report(name)
    form = PeriodForm(request.GET, report=found)
    which = request.GET.get("which", "0")
    if not form.is_valid() or which not in map(str, range(len(found.pictures))):
        raise Http404
    drawn = found.pictures[int(which)](form.period)
    narrow = "narrow" in request.GET
    empty = nothing("Nothing moved in these days.", NARROW if narrow else WIDE)
    picture = svg(empty) if drawn is None else drawn.svg(narrow)
    return HttpResponse(picture, content_type="image/svg+xml")


@office
@one_moment()
def movements(request: HttpRequest, name: str) -> HttpResponse:
    """The movements behind one figure of a report."""
    found = _report(name)
    form = PeriodForm(request.GET, report=found)
    column, group = request.GET.get("column", ""), request.GET.get("group", "")
    substance = Substance.objects.filter(code=request.GET.get("substance", "")).first()
    if not form.is_valid() or substance is None or not found.opens(column, form.cleaned_data["by"]):
        raise Http404
    period = form.period
    try:
        rows = behind.movements(period, substance, column, form.cleaned_data["by"] or None, group)
    except ValueError:
        raise Http404 from None
    total = behind.total(rows, column)
    after = request.GET.get("after", "")
    if after.isascii() and after.isdigit() and len(after) < 18:
        rows = rows.filter(id__gt=int(after))
    page = name_ends(rows.select_related("source", "target", "voucher", "substance")[: PAGE + 1])
    return render(
        request,
        "reports/movements.html",
        {
            "report": found,
            "rows": page[:PAGE],
            "column": column.replace("_", " "),
            "substance": substance,
            "period": period,
            "more": page[PAGE - 1].id if len(page) > PAGE else None,
            "group": group,
            "total": total,
        },
    )
