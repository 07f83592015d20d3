"""Reports as pages, with the same downloads that the command line writes."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from inventory.ledger.models import Movement, Substance
from inventory.shop.access import office
from inventory.shop.clock import today
from shopledger.reports.faces import FORMATS, empty_columns, make, written
from shopledger.reports.forms import PeriodForm, presets
from shopledger.reports.registry import REPORTS
from shopledger.reports.report import Report
from shopledger.reports.usage import IN, OUT, NotBalanced

PAGE = 50


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
    empty = empty_columns(made.sheet)
    shown = [i for i in range(len(made.sheet.columns)) if i not in empty]
    rows = [[row[i] for i in shown] for row in _shown(made)]
    return render(
        request,
        "reports/report.html",
        {
            **said, "made": made, "rows": rows, "columns": [made.sheet.columns[i] for i in shown],
            "empty": [made.sheet.columns[i].title.lower() for i in empty],
        },
    )  # fmt: skip


def _shown(made) -> list[list[dict]]:
    """Cells with what a page needs: the value, whether it is a quantity, and the movements behind it."""
    columns = made.sheet.columns
    unit = [column.name for column in columns].index("unit")
    rows = []
    for row in made.sheet.rows:
        oil = row[unit] == "mL"
        rows.append(
            [
                {
                    "column": column, "value": value, "oil": oil,
                    "behind": row[0] if column.name in {**IN, **OUT} and value and not made.key else "",
                }
                for column, value in zip(columns, row, strict=True)
            ]
        )  # fmt: skip
    return rows


@office
def movements(request: HttpRequest, name: str) -> HttpResponse:
    """The movements behind one figure of the usage report."""
    found = _report(name)
    form = PeriodForm(request.GET, report=found)
    column = request.GET.get("column", "")
    substance = Substance.objects.filter(code=request.GET.get("substance", "")).first()
    if not form.is_valid() or substance is None or column not in {**IN, **OUT}:
        raise Http404
    outside = {**IN, **OUT}[column]
    period = form.period
    rows = Movement.objects.filter(substance=substance, day__gte=period.first, day__lte=period.last)
    inward, outward = {"source_class": outside, "target_class": 1}, {"source_class": 1, "target_class": outside}
    if column == "weighing_difference":
        rows = rows.filter(**inward) | rows.filter(**outward)
    else:
        there, back = (inward, outward) if column in IN else (outward, inward)
        rows = rows.filter(**there, reversal=False) | rows.filter(**back, reversal=True)
    after = request.GET.get("after", "")
    if after.isascii() and after.isdigit() and len(after) < 18:
        rows = rows.filter(id__gt=int(after))
    page = list(rows.select_related("source", "target", "voucher", "substance").order_by("id")[: PAGE + 1])
    return render(
        request,
        "reports/movements.html",
        {
            "report": found, "rows": page[:PAGE], "column": column.replace("_", " "), "substance": substance,
            "period": period, "more": page[PAGE - 1].id if len(page) > PAGE else None,
        },
    )  # fmt: skip
