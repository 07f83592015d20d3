"""A shop's earlier log, loaded from the browser: sent, checked, looked over, loaded."""

import io
import zipfile

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from inventory.shop.access import office
from inventory.shop.forms import OnceForm, add_refused
from inventory.text.refusal import Refused
from shopledger.logbook.doubting import Answers
from shopledger.logbook.models import LogUpload
from shopledger.logbook.uploads import templates
from shopledger.logbook.work import ask_to_load, drop, place_in, progress_of, receive_log, row_at


class ManyFiles(forms.FileField):
    """One ZIP, or several CSV files."""

    widget = type("Files", (forms.FileInput,), {"allow_multiple_selected": True})

    def clean(self, data, initial=None):
        one = super().clean
        return [one(item, initial) for item in data] if isinstance(data, (list, tuple)) else [one(data, initial)]


class UploadForm(OnceForm):
    files = ManyFiles(label="The CSV files, or one ZIP of them", error_messages={"required": "Choose the files."})


@office
def logs(request: HttpRequest) -> HttpResponse:
    form = UploadForm(request.POST or None, request.FILES or None)
    if form.is_valid():
        try:
            upload = receive_log(
                uploads=form.cleaned_data["files"], by=request.user.username, key=form.cleaned_data["key"]
            )
        except Refused as refused:
            add_refused(form, refused)
        else:
            return redirect("log", upload.pk)
    said = {"form": form, "uploads": LogUpload.objects.all()[:50]}
    return render(request, "logbook/logs.html", said, status=422 if form.errors else 200)


@office
def log_templates(request: HttpRequest) -> HttpResponse:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in templates().items():
            archive.writestr(name, text)
    answer = HttpResponse(out.getvalue(), content_type="application/zip")
    answer["Content-Disposition"] = 'attachment; filename="log-templates.zip"'
    return answer


@office
def log(request: HttpRequest, pk: int) -> HttpResponse:
    return _page(request, get_object_or_404(LogUpload, pk=pk))


def _page(request: HttpRequest, upload: LogUpload, error: str = "") -> HttpResponse:
    progress = progress_of(upload)
    working = upload.is_working
    said = {
        "upload": upload,
        "working": working,
        "progress": progress.read() if working else None,
        "silent": working and progress.silent(upload.asked_at.timestamp()),
        "faults": [row_at(upload, fault) for fault in upload.faults[:100]],
        "more": max(0, len(upload.faults) - 100),
        "questions": [(place_in(one), *row_at(upload, one)) for one in upload.questions] if upload.is_ready else [],
        "ticked": request.POST.getlist("yes"),
        "error": error,
    }
    page = "logbook/_log.html" if request.htmx else "logbook/log.html"
    return render(request, page, said, status=422 if error else 200)


@office
@require_POST
def log_load(request: HttpRequest, pk: int) -> HttpResponse:
    upload = get_object_or_404(LogUpload, pk=pk)
    try:
        ask_to_load(upload.pk, Answers(frozenset(request.POST.getlist("yes")), request.POST.get("all", "")))
    except Refused as refused:
        if not upload.is_ready:
            raise
        return _page(request, upload, refused.message)
    return redirect("log", pk)


@office
@require_POST
def log_drop(request: HttpRequest, pk: int) -> HttpResponse:
    drop(get_object_or_404(LogUpload, pk=pk).pk)
    return redirect("logs")
