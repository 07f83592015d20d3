"""Reports as pages, with the same downloads that the command line writes."""

from dataclasses import replace

from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from inventory.ledger.models import Substance
from inventory.paper.chart import NARROW, WIDE, svg
from inventory.shop.access import office
from inventory.shop.clock import today
from shopledger.reports import behind
from shopledger.reports.charts import CHARTS
from shopledger.reports.faces import FORMATS, Made, empty_columns, make, written
from shopledger.reports.forms import PeriodForm, before, presets, year_before
from shopledger.reports.registry import REPORTS
from shopledger.reports.report import NUMERIC, QUANTITIES, Period, Report
from shopledger.reports.usage import NotBalanced
from shopledger.sealing.queries import issued_in

PAGE = 50
ROWS = 200  # of a report on one page of the site; files hold them all


@office
def reports(request: HttpRequest) -> HttpResponse:
    return render(request, "reports/reports.html", {"reports": REPORTS.values()})


def _report(name: str) -> Report:
    if name not in REPORTS:
        raise Http404
    return REPORTS[name]


@office
def report(request: HttpRequest, name: str) -> HttpResponse:
    """The report of a period; with `format`, as a file."""
    found = _report(name)
    form = PeriodForm(request.GET, report=found)
    said: dict[str, object] = {"report": found, "form": form, "presets": presets(today()), "formats": list(FORMATS)}
    if not form.is_valid():
        return render(request, "reports/report.html", said, status=422)
    try:
        made = make(found, form.period, form.cleaned_data["by"] or None, request.user.name)
    except NotBalanced as fault:
        return render(request, "reports/report.html", {**said, "fault": str(fault)}, status=409)
    kind = request.GET.get("format", "")
    if kind:
        if kind not in FORMATS:
            raise Http404
        answer = HttpResponse(written(made, kind), content_type=FORMATS[kind])
        answer["Content-Disposition"] = f'attachment; filename="{made.filename(kind)}"'
        return answer
    page = Paginator(range(len(made.sheet.rows)), ROWS).get_page(request.GET.get("page"))
    compared = _compared(found, form.period, request.GET.get("compare", ""), request.user.name)
    empty = empty_columns(made.sheet)
    shown = [i for i in range(len(made.sheet.columns)) if i not in empty]
    rows = [[row[i] for i in shown] for row in _shown(_part(made, page))]
    return render(
        request,
        "reports/report.html",
        {
            **said, "made": made,
            "issued": [row for row in issued_in(form.period) if row.report == name],
            "rows": rows, "page": page, "compared": compared,
            "charted": found.name in CHARTS and bool(made.sheet.rows),
            "columns": [made.sheet.columns[i] for i in shown],
            "empty": [made.sheet.columns[i].title.lower() for i in empty],
        },
    )  # fmt: skip


def _part(made: Made, page) -> Made:
    """The rows of one page of a long report."""
    sheet = made.sheet
    keep = list(page.object_list)
    return replace(
        made,
        sheet=replace(
            sheet, rows=[sheet.rows[i] for i in keep], links=[sheet.links[i] for i in keep] if sheet.links else (),
            oils=[sheet.oils[i] for i in keep] if sheet.oils else (),
        ),
    )  # fmt: skip


def _compared(found: Report, period: Period, with_what: str, who: str) -> dict | None:
    """The same report of the period before, or of the year before, as plain rows."""
    other = {"before": before(period), "year": year_before(period)}.get(with_what)
    if other is None:
        return None
    made = make(found, other, None, who)
    return {"period": other, "columns": made.sheet.columns, "rows": made.sheet.said()[:ROWS]}


@office
def chart(request: HttpRequest, name: str) -> HttpResponse:
    """The report's figures as a picture."""
    found = _report(name)
    form = PeriodForm(request.GET, report=found)
    if name not in CHARTS or not form.is_valid():
        raise Http404
    drawing = CHARTS[name](form.period, NARROW if request.GET.get("narrow") else WIDE)
    return HttpResponse(svg(drawing), content_type="image/svg+xml")


def _shown(made) -> list[list[dict]]:
    """Cells with what a page needs: the value, whether it is a volume, and the page behind it."""
    sheet = made.sheet
    columns = sheet.columns
    names = [column.name for column in columns]
    unit = names.index("unit") if made.report.name == "usage" else None
    held = f"{reverse('report', args=['containers'])}?first={made.period.first}&last={made.period.last}"
    stock = {"opening": held, "closing": held} if unit is not None and not made.key else {}  # container by container
    rows = []
    for place, row in enumerate(sheet.rows):
        oil = row[unit] == "mL" if unit is not None else bool(sheet.oils and sheet.oils[place])
        links = sheet.links[place] if sheet.links else {}
        rows.append(
            [
                {
                    "column": column, "value": value,
                    "oil": oil if column.kind == "quantity" else column.kind == "volume",
                    "quantity": column.kind in QUANTITIES, "numeric": column.kind in NUMERIC,
                    "link": links.get(column.name, "") or stock.get(column.name, ""),
                    "behind": behind.opens(made.report.name, column.name, made.key) and bool(value) and row[0],
                    "group": row[names.index(made.key)] if made.key else "",
                }
                for column, value in zip(columns, row, strict=True)
            ]
        )  # fmt: skip
    return rows


@office
def movements(request: HttpRequest, name: str) -> HttpResponse:
    """The movements behind one figure of a report."""
    found = _report(name)
    form = PeriodForm(request.GET, report=found)
    column, group = request.GET.get("column", ""), request.GET.get("group", "")
    substance = Substance.objects.filter(code=request.GET.get("substance", "")).first()
    if not form.is_valid() or substance is None or not behind.opens(name, column, form.cleaned_data["by"]):
        raise Http404
    period = form.period
    try:
        rows = behind.movements(period, substance, column, form.cleaned_data["by"] or None, group)
    except ValueError:
        raise Http404 from None
    after = request.GET.get("after", "")
    if after.isascii() and after.isdigit() and len(after) < 18:
        rows = rows.filter(id__gt=int(after))
    page = list(rows.select_related("source", "target", "voucher", "substance")[: PAGE + 1])
    return render(
        request,
        "reports/movements.html",
        {
            "report": found, "rows": page[:PAGE], "column": column.replace("_", " "), "substance": substance,
            "period": period, "more": page[PAGE - 1].id if len(page) > PAGE else None, "group": group,
        },
    )  # fmt: skip
