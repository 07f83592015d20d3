"""Pages of statements: what happened with a supplier in a month."""

import datetime as dt

from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from inventory.buying.papers import deposits_said, missing_said, statement_paper, statement_rows
from inventory.buying.statement import statement
from inventory.ledger.snapshot import one_moment
from inventory.measures.months import add_months
from inventory.paper.foot import Origin, foot
from inventory.parties.models import Party
from inventory.shop.access import office
from inventory.shop.clock import today
from inventory.shop.lists import export_rows


@office
def statements(request: HttpRequest) -> HttpResponse:
    suppliers = Party.objects.filter(role="supplier").order_by("name", "id")
    return render(request, "buying/statements.html", {"suppliers": suppliers})


@office
def statement_page(request: HttpRequest, pk: int) -> HttpResponse | FileResponse:
    """A supplier's month, also as pdf, csv or xlsx. month: YYYY-MM, this one where it is left out."""
    supplier = get_object_or_404(Party, pk=pk, role="supplier")
    first = _month(request.GET.get("month", ""))
    last, currency = add_months(first, 1) - dt.timedelta(1), request.shop.currency
    name, kind = f"statement-{supplier.code}-{first:%Y-%m}", request.GET.get("export", "")
    with one_moment():
        found = statement(supplier, first, last)
        paper = foot(f"Statement of {supplier.name}", Origin(request.user.name, timezone.now()), place="container")
    if kind == "pdf":
        answer = HttpResponse(statement_paper(found, currency, paper), content_type="application/pdf")
        answer["Content-Disposition"] = f'inline; filename="{name}.pdf"'
        return answer
    answer = export_rows(request, statement_rows(found, currency), name)
    if answer is not None:
        return answer
    said = {
        "found": found,
        "deposits": deposits_said(found),
        "missing": [(one, missing_said(one.line)) for one in found.missing],
        "month": f"{first:%Y-%m}",
        "before": f"{add_months(first, -1):%Y-%m}",
        "after": f"{add_months(first, 1):%Y-%m}" if last < today() else "",
    }
    return render(request, "buying/statement.html", said)


def _month(text: str) -> dt.date:
    """The first day of a month that an address names; of this one where it names none that can be."""
    try:
        found = dt.datetime.strptime(text, "%Y-%m").date()
    except ValueError:
        found = today().replace(day=1)
    return found if 2000 <= found.year <= today().year + 1 else today().replace(day=1)
