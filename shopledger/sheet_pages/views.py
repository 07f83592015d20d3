"""Spreadsheets brought in from the browser: sent, put right by pointing, looked over, loaded."""

import re

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from inventory.shop.access import office
from inventory.shop.forms import OnceForm, add_refused
from inventory.text.refusal import Refused
from shopledger.sheet_meaning.plan import Plan
from shopledger.sheet_pages.actions import own_faults, save_mapping
from shopledger.sheet_pages.models import KINDS, SheetMapping, SheetUpload
from shopledger.sheet_pages.remarks import with_remarks
from shopledger.sheet_pages.shown import Asked, asked_of, grid_of, sheet_of
from shopledger.sheet_pages.work import (
    ask_to_load,
    drop,
    plan_in,
    pointed_of,
    progress_of,
    put_right,
    receive_sheet,
)

WHOLE = re.compile(r"[0-9]{1,6}")
LISTED = 100  # faults


class SheetForm(OnceForm):
    kind = forms.ChoiceField(label="What kind of sheet is it?", choices=KINDS, widget=forms.RadioSelect)
    file = forms.FileField(label="The file: XLSX, XLS, ODS or CSV", error_messages={"required": "Choose the file."})
    mapping = forms.ModelChoiceField(
        SheetMapping.objects,
        label="Understood as before",
        required=False,
        empty_label="as it finds itself",
        help_text="A sheet with the same heads as one before is known again without this.",
    )


@office
def sheets(request: HttpRequest) -> HttpResponse:
    form = SheetForm(request.POST or None, request.FILES or None)
    if form.is_valid():
        given = form.cleaned_data
        try:
            upload = receive_sheet(
                upload=given["file"],
                kind=given["kind"],
                mapping=given["mapping"],
                by=request.user.username,
                key=given["key"],
            )
            put_right(upload.pk, pointed={}, answers={}) if upload.state == "open" else None
        except Refused as refused:
            add_refused(form, refused)
        else:
            return redirect("sheet", upload.pk)
    said = {"form": form, "uploads": SheetUpload.objects.all()[:50]}
    return render(request, "sheet_pages/sheets.html", said, status=422 if form.errors else 200)


@office
def sheet(request: HttpRequest, pk: int) -> HttpResponse:
    upload = get_object_or_404(SheetUpload, pk=pk)
    return _shown(request, upload, status=200)


def _shown(request: HttpRequest, upload: SheetUpload, *, status: int, refused: str = "") -> HttpResponse:
    progress = progress_of(upload)
    said = {
        "upload": upload,
        "refused": refused,
        "progress": progress.read() if upload.is_working else None,
        "silent": upload.is_working and progress.silent(upload.asked_at.timestamp()),
    }
    if upload.is_open:
        try:
            plan, mapping = plan_in(upload)
        except Refused as gone:
            said["refused"] = gone.message
        else:
            said |= _told(upload, plan, _number(request.GET.get("from")) or 1)
            said["mapping"] = mapping
    template = "sheet_pages/_sheet.html" if getattr(request, "htmx", False) else "sheet_pages/sheet.html"
    return render(request, template, said, status=status)


def _told(upload: SheetUpload, plan: Plan, start: int) -> dict[str, object]:
    page = sheet_of(plan, upload.pointed.get("sheet", ""))
    own = [[one.place, one.row, one.column, one.message] for one in own_faults(plan)] if plan.table else []
    faults = upload.faults or own
    asked = asked_of(plan)
    return {
        "plan": plan,
        "page": page,
        "names": [one.name for one in plan.book.sheets if one.rows],
        "grid": grid_of(plan, page, max(0, min(start, len(page.rows)) - 1), faults),
        "open": [one for one in asked if one.question.given is None],
        "answered": [one for one in asked if one.question.given is not None],
        "faults": faults[:LISTED],
        "more": max(0, len(faults) - LISTED),
        "head": plan.table.head_row + 1 if plan.table else "",
        "first": plan.table.first + 1 if plan.table else "",
        "last": plan.table.last + 1 if plan.table else "",
        "comes_to": upload.said.splitlines() if upload.is_ready else [],
    }


@office
@require_POST
def sheet_put(request: HttpRequest, pk: int) -> HttpResponse:
    upload = get_object_or_404(SheetUpload, pk=pk)
    try:
        plan, _ = plan_in(upload)
        said = _pointed(request, upload, plan), _answers(request, upload, asked_of(plan))
        upload = put_right(pk, pointed=said[0], answers=said[1])
    except Refused as refused:
        return _shown(request, upload, status=422, refused=refused.message)
    return _shown(request, upload, status=200) if request.htmx else redirect("sheet", pk)


def _pointed(request: HttpRequest, upload: SheetUpload, plan: Plan) -> dict[str, object]:
    """What differs from what the page showed is what somebody pointed at."""
    data, before = request.POST, pointed_of(upload)
    name = data.get("sheet", "")
    if name and plan.book.called(name) and name != data.get("was-sheet", name):
        return {"sheet": name}  # another sheet: what was pointed at in the first one says nothing of it
    said: dict[str, object] = {"sheet": before.sheet, "columns": {str(c): f for c, f in before.columns.items()}}
    for what in ("head", "first", "last"):
        value, was = _number(data.get(what)), _number(data.get(f"was-{what}"))
        said[what] = value if value != was else getattr(before, what)
    if said["head"] != before.head:
        said["first"], said["columns"] = None, {}
    if said["head"] is not None or said["first"] is not None or said["last"] is not None:
        said["sheet"] = before.sheet or data.get("was-sheet", "")
        said["head"] = said["head"] if said["head"] is not None else _number(data.get("head"))
    known = {value for value, _ in grid_of(plan, sheet_of(plan, ""), 0, []).columns[0].choices}
    for key, value in data.items():
        column = key.removeprefix("column-")
        if key.startswith("column-") and WHOLE.fullmatch(column) and value in known and value != data.get(f"was-{key}"):
            said["columns"][column] = value
    return said


def _answers(request: HttpRequest, upload: SheetUpload, asked: list[Asked]) -> dict[str, str]:
    answers = dict(upload.answers)
    by_id = {one.question.id: one for one in asked}
    for key, id in request.POST.items():
        if not key.startswith("id-answer-"):
            continue
        value = request.POST.get(key.removeprefix("id-"), "").strip()
        if value and (id in by_id and value != by_id[id].value):
            answers[id] = value
    return answers


def _number(text: str | None) -> int | None:
    return int(text) if text and WHOLE.fullmatch(text.strip()) else None


@office
@require_POST
def sheet_load(request: HttpRequest, pk: int) -> HttpResponse:
    ask_to_load(get_object_or_404(SheetUpload, pk=pk).pk)
    return redirect("sheet", pk)


@office
@require_POST
def sheet_drop(request: HttpRequest, pk: int) -> HttpResponse:
    drop(get_object_or_404(SheetUpload, pk=pk).pk)
    return redirect("sheets")


@office
@require_POST
def sheet_name(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep how the sheet was understood under a name."""
    upload = get_object_or_404(SheetUpload, pk=pk)
    try:
        plan, _ = plan_in(upload)
        upload.mapping = save_mapping(request.POST.get("name", ""), plan, request.user)
    except Refused as refused:
        return _shown(request, upload, status=422, refused=refused.message)
    SheetUpload.objects.filter(pk=pk).update(mapping=upload.mapping)
    return redirect("sheet", pk)


@office
def sheet_remarks(request: HttpRequest, pk: int) -> HttpResponse:
    """The sheet as it was sent, with a column that says what is wrong."""
    upload = get_object_or_404(SheetUpload, pk=pk)
    plan, _ = plan_in(upload)
    own = [[one.place, one.row, one.column, one.message] for one in own_faults(plan)] if plan.table else []
    body = with_remarks(sheet_of(plan, upload.pointed.get("sheet", "")), upload.faults or own)
    answer = HttpResponse(body, content_type="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet")
    answer["Content-Disposition"] = 'attachment; filename="sheet-with-remarks.xlsx"'
    return answer
