"""What an inspector sees: reports, job sheets, vouchers, papers and certificates of the period that the access names.

Every page reads `request.inspection`, which the middleware put there after it let the request in. Nothing here changes
anything, and a record of another day is not found.
"""

import json
import re

from django.db.models import QuerySet
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.http import content_disposition_header

from inventory.attachments.actions import read_bytes
from inventory.attachments.models import Attachment
from inventory.codes.queries import names_of
from inventory.ledger.models import Movement, Voucher
from inventory.ledger.queries import head, revisions_of, voucher_containing
from inventory.ledger.snapshot import one_moment
from inventory.parties.queries import name_ends
from inventory.shop.access import role_required
from inventory.shop.turns import in_turn
from inventory.vouchers.papers import papers_of
from inventory.vouchers.wording import codes_in, in_words
from jobs.drafts.models import Job
from jobs.people.models import Certificate
from jobs.sheet.job_sheet import job_sheet
from shopledger.inspection.models import BundleOrder
from shopledger.inspection.work import file_of
from shopledger.reporting.cells import shown
from shopledger.reporting.output import FORMATS, make, written
from shopledger.reporting.report import Period, called
from shopledger.reports.registry import REPORTS, wanted
from shopledger.reports.usage import NotBalanced

visitor = role_required("inspector")
PAGE = 100
DIGEST = re.compile(r"[0-9a-f]{64}")


def _period(request: HttpRequest) -> Period:
    return Period(request.inspection.first, request.inspection.last)


def _vouchers(request: HttpRequest) -> QuerySet[Voucher]:
    return Voucher.objects.filter(day__gte=request.inspection.first, day__lte=request.inspection.last)


def _jobs(request: HttpRequest) -> QuerySet[Job]:
    days = {"day__gte": request.inspection.first, "day__lte": request.inspection.last}
    return Job.objects.filter(state__in=["signed", "corrected"], **days)


def _after(request: HttpRequest) -> int:
    text = request.GET.get("after", "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 18 else 0


@visitor
def start(request: HttpRequest) -> HttpResponse:
    bundles = BundleOrder.objects.filter(
        state="made", first__gte=request.inspection.first, last__lte=request.inspection.last
    )
    reports = wanted(request.shop.rules, request.inspection.last).values()
    said = {"access": request.inspection, "reports": reports, "bundles": bundles}
    return render(request, "inspectors/start.html", said)


@visitor
def report(request: HttpRequest, name: str) -> HttpResponse:
    if name not in REPORTS or REPORTS[name].of_money:
        raise Http404
    with in_turn(request, costly="format" in request.GET):
        return _of_the_period(request, name)


def _of_the_period(request: HttpRequest, name: str) -> HttpResponse:
    kind = request.GET.get("format", "")
    if kind and kind not in FORMATS:
        raise Http404
    try:
        who = called(request.user.username, request.user.name)
        made = make(REPORTS[name], _period(request), None, who, drawn=kind == "pdf")
    except NotBalanced as fault:
        return render(
            request, "inspectors/report.html", {"title": REPORTS[name].title, "fault": str(fault)}, status=409
        )
    if kind:
        answer = HttpResponse(written(made, kind), content_type=FORMATS[kind])
        answer["Content-Disposition"] = f'attachment; filename="{made.filename(kind)}"'
        return answer
    count = len(made.table.rows)
    said = {
        "title": REPORTS[name].title,
        "made": made,
        "more": max(0, count - PAGE),
        "formats": FORMATS,
        "shown": shown(made, range(min(PAGE, count)), linked=False),
    }
    return render(request, "inspectors/report.html", said)


@visitor
def jobs(request: HttpRequest) -> HttpResponse:
    found = _jobs(request).filter(pk__gt=_after(request)).select_related("technician", "unit").order_by("pk")
    rows = list(found[: PAGE + 1])
    said = {"jobs": rows[:PAGE], "next": rows[PAGE - 1].pk if len(rows) > PAGE else None}
    return render(request, "inspectors/jobs.html", said)


@visitor
def job(request: HttpRequest, pk: int) -> HttpResponse:
    """The job's sheet, as its PDF."""
    related = ("unit__customer", "technician", "voucher", "signed_by", "corrects")
    found = get_object_or_404(_jobs(request).select_related(*related), pk=pk)
    answer = HttpResponse(job_sheet(found), content_type="application/pdf")
    answer["Content-Disposition"] = f'attachment; filename="job-{found.pk}.pdf"'
    return answer


@visitor
def vouchers(request: HttpRequest) -> HttpResponse:
    rows = list(_vouchers(request).filter(number__gt=_after(request)).order_by("number")[: PAGE + 1])
    said = {"vouchers": rows[:PAGE], "next": rows[PAGE - 1].number if len(rows) > PAGE else None}
    return render(request, "inspectors/vouchers.html", said)


@visitor
def voucher(request: HttpRequest, number: int) -> HttpResponse:
    found = get_object_or_404(_vouchers(request), pk=number)
    moved = Movement.objects.filter(voucher=found).select_related("source", "target", "substance").order_by("line")
    detail = json.loads(found.detail)
    said = {
        "voucher": found,
        "files": papers_of(found),
        "movements": name_ends(moved),
        "detail": in_words(detail, names_of(codes_in(detail))),
    }
    return render(request, "inspectors/voucher.html", said)


@visitor
def file(request: HttpRequest, pk: int) -> HttpResponse:
    """A paper of a voucher or a job of the period, or a scan of a certificate of who did one."""
    found = get_object_or_404(Attachment, pk=pk, withdrawn_at=None)
    kind, _, key = found.subject.partition(":")
    inside = {
        "voucher": lambda: revisions_of(_vouchers(request)).filter(pk=key).exists(),
        "job": lambda: _jobs(request).filter(pk=key).exists(),
        "certificate": lambda: Certificate.objects.filter(
            pk=key, person__in=_jobs(request).order_by().values("technician")
        ).exists(),
    }.get(kind)
    if inside is None or not key.isdigit() or not inside():
        raise Http404
    answer = HttpResponse(read_bytes(found), content_type=found.type)
    answer["Content-Disposition"] = content_disposition_header(True, found.name)
    answer["Content-Security-Policy"] = "default-src 'none'; sandbox"
    return answer


@visitor
def bundle(request: HttpRequest, pk: int) -> FileResponse:
    order = get_object_or_404(
        BundleOrder, pk=pk, state="made", first__gte=request.inspection.first, last__lte=request.inspection.last
    )
    path = file_of(order)
    if not path.exists():
        raise Http404
    return FileResponse(path.open("rb"), as_attachment=True, filename=order.filename, content_type="application/zip")


@visitor
@one_moment()
def proof(request: HttpRequest) -> HttpResponse:
    """Whether the ledger holds a digest. Of a voucher outside the period nothing more is said."""
    asked = request.GET.get("digest", "").strip().lower()
    found = voucher_containing(asked) if DIGEST.fullmatch(asked) else None
    inside = found is not None and request.inspection.first <= found.day <= request.inspection.last
    said = {"asked": asked, "held": found is not None, "voucher": found if inside else None, "digest": head()[1]}
    return render(request, "inspectors/proof.html", said)
