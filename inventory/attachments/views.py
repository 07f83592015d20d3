"""One file, as a download: what was uploaded is never run, and never shown as a page."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from inventory.attachments.actions import attach, read_bytes, withdraw
from inventory.attachments.forms import FileForm
from inventory.attachments.models import Attachment
from inventory.attachments.queries import may_read, there
from inventory.shop.access import office
from inventory.shop.back import back_of
from inventory.shop.forms import add_refused
from inventory.text.refusal import Refused


@require_safe
def attachment(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Attachment, pk=pk)
    if not may_read(request.user, found):
        raise Http404
    answer = HttpResponse(read_bytes(found), content_type=found.type)
    answer["Content-Disposition"] = content_disposition_header(True, found.name)
    answer["Content-Security-Policy"] = "default-src 'none'; sandbox"
    return answer


# Kinds of subjects that the office attaches files to, each with the page that they stand on.
PAGES = {
    "voucher": "voucher",
    "machine": "machine",
    "certificate": "certificate-edit",
    "leak-event": "leak-event",
    "party-paper": "paper",
}
OWNERS = {"certificate"}


def _owners_alone(request: HttpRequest, kind: str) -> None:
    if kind in OWNERS and request.user.role != "owner":
        raise PermissionDenied


@office
def attach_to(request: HttpRequest, kind: str, key: int) -> HttpResponse:
    """A file for a voucher (a delivery's invoice, a reclaimer's receipt) or a machine."""
    if kind not in PAGES:
        raise Http404
    _owners_alone(request, kind)
    if not there[kind](key):
        raise Http404
    back = back_of(request, reverse(PAGES[kind], args=[key]))
    form = FileForm(request.POST or None, request.FILES or None)
    if form.is_valid():
        data = form.cleaned_data
        try:
            attach(
                subject=f"{kind}:{key}",
                upload=data["file"],
                by=request.user.username,
                title=data["title"],
                key=data["key"],
            )
        except Refused as refused:
            add_refused(form, refused)
        else:
            messages.success(request, "The file is kept.")
            return redirect(back)
    said = {"form": form, "heading": "Attach a file", "back": back}
    return render(request, "inventory/attach.html", said, status=422 if form.errors else 200)


@office
def file_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a file out of use, with the reason."""
    found = get_object_or_404(Attachment, pk=pk, withdrawn_at=None)
    kind, _, key = found.subject.partition(":")
    if kind not in PAGES:
        raise Http404
    _owners_alone(request, kind)
    back, why = reverse(PAGES[kind], args=[key]), request.POST.get("why", "")
    if request.method == "POST":
        try:
            withdraw(found.pk, by=request.user.username, why=why)
        except Refused as refused:
            said = {"file": found, "back": back, "error": refused.message}
            return render(request, "inventory/withdraw.html", said, status=422)
        return redirect(back)
    return render(request, "inventory/withdraw.html", {"file": found, "back": back})
