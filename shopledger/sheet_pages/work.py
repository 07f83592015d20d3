"""A sheet that somebody sent: kept, looked at, put right; checked and loaded in a process of its own."""

import json
import shutil
import uuid
from collections.abc import Mapping
from pathlib import Path

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.db import IntegrityError, transaction

from inventory.ledger.actions import take_turn
from inventory.shop.once import keep, made_by, recorded
from inventory.text.refusal import Refused
from shopledger import background
from shopledger.sheet_meaning.plan import Plan, Pointed
from shopledger.sheet_meaning.summing import comes_to
from shopledger.sheet_pages.actions import SURE, SheetRefused, load_plan, understood
from shopledger.sheet_pages.models import SheetMapping, SheetUpload
from shopledger.sheets.book import MOST_BYTES, book_of, said_of
from shopledger.sheets.grid import Book

SHOWN = 1000
ANSWERED = 500  # characters of an answer


def folder_of(upload: SheetUpload) -> Path:
    return settings.DATA_DIR / "sheets" / upload.key.hex


def progress_of(upload: SheetUpload) -> background.Progress:
    return background.Progress(settings.DATA_DIR / "sheets" / f"{upload.key.hex}.progress")


def receive_sheet(
    *, upload: UploadedFile, kind: str, mapping: SheetMapping | None, by: str, key: uuid.UUID
) -> SheetUpload:
    """Keep what the cells of a sheet say that was sent. The same key is kept once. Raises Refused for what is none."""
    recorded()
    if (known := made_by(SheetUpload, key)) is not None:
        return known
    if mapping is not None and mapping.kind != kind:
        raise Refused(f"{mapping.name} is of {mapping.get_kind_display()}; choose that kind, or another.", "mapping")
    if upload.size > MOST_BYTES:
        raise Refused(f"The file is larger than {MOST_BYTES // 1024 // 1024} MB; send the sheet alone.", "file")
    said = said_of(upload.read(), upload.name or "")
    book_of(said)
    name = Path((upload.name or "sheet").replace("\\", "/")).name[:200]
    with transaction.atomic():
        take_turn()
        recorded()
        if (known := made_by(SheetUpload, key)) is not None:  # by a second tap, meanwhile
            return known
        kept = SheetUpload.objects.create(key=key, kind=kind, name=name, state="open", mapping=mapping, by=by)
        folder = folder_of(kept)
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "cells.json").write_text(json.dumps(said), encoding="utf-8")
        keep(called=f"a spreadsheet of {kind}", thing=f"sheet {kept.pk}")
    return kept


def book_in(upload: SheetUpload) -> Book:
    """Raises Refused where its cells are not kept any more."""
    try:
        return book_of(json.loads((folder_of(upload) / "cells.json").read_text(encoding="utf-8")))
    except OSError:
        raise Refused("The cells of this sheet are not kept any more; send the file again.") from None


def pointed_of(upload: SheetUpload) -> Pointed:
    said = upload.pointed
    columns = {int(column): name for column, name in said.get("columns", {}).items()}
    return Pointed(said.get("sheet", ""), said.get("head"), said.get("first"), said.get("last"), columns)


def plan_in(upload: SheetUpload) -> tuple[Plan, SheetMapping | None]:
    return understood(book_in(upload), upload.kind, upload.answers, pointed_of(upload), upload.mapping)


def put_right(upload_id: int, *, pointed: Mapping[str, object], answers: Mapping[str, str]) -> SheetUpload:
    """Keep what somebody pointed at and answered; where nothing is asked any more, have it checked."""
    with transaction.atomic():
        upload = SheetUpload.objects.select_for_update().get(pk=upload_id)
        if not upload.is_open:
            raise Refused("This sheet is being checked or loaded, or is loaded; it cannot be put right now.")
        if any(len(answer) > ANSWERED for answer in answers.values()):
            raise Refused(f"An answer has {ANSWERED} characters at most.")
        upload.pointed, upload.answers = dict(pointed), dict(answers)
        upload.state, upload.faults, upload.said = "open", [], ""
        upload.save()
    plan, _ = plan_in(upload)
    if plan.table is not None and not plan.questions and not plan.asking.faults:
        return ask_to_check(upload_id)
    return upload


def ask_to_check(upload_id: int) -> SheetUpload:
    return _ask(upload_id, {"open", "faulty", "failed"}, "checking", "This sheet cannot be checked now.")


def ask_to_load(upload_id: int) -> SheetUpload:
    """Have a sheet loaded that was checked and has no fault."""
    return _ask(upload_id, {"ready"}, "loading", "Only a sheet without a question and a fault is loaded.")


def _ask(upload_id: int, from_states: set[str], state: str, otherwise: str) -> SheetUpload:
    with transaction.atomic():
        upload = SheetUpload.objects.select_for_update().get(pk=upload_id)
        if upload.state in {state, "loaded"}:
            return upload
        if upload.state not in from_states:
            raise Refused(otherwise)
        upload.state = state
        upload.save()
        transaction.on_commit(lambda: background.start("load_sheet", str(upload.pk)))
    return upload


def drop(upload_id: int) -> None:
    with transaction.atomic():
        upload = SheetUpload.objects.select_for_update().get(pk=upload_id)
        gone = upload.is_working and progress_of(upload).silent(upload.asked_at.timestamp())
        if upload.state == "loaded" or (upload.state == "loading" and not gone):
            raise Refused("This sheet is loaded, or being loaded; it cannot be dropped any more.")
        upload.state, upload.answers, upload.faults = "dropped", {}, []
        upload.save()
    shutil.rmtree(folder_of(upload), ignore_errors=True)


def words_are_gone() -> None:
    """Once words were erased: sheets that were not loaded may hold them, with their faults and answers."""
    for upload in SheetUpload.objects.exclude(state__in=["loading", "loaded"]):
        shutil.rmtree(folder_of(upload), ignore_errors=True)
        upload.state, upload.faults, upload.answers, upload.name = "dropped", [], {}, ""
        upload.save()


def work(upload_id: int) -> None:
    """What the process does: check, or load."""
    upload = SheetUpload.objects.get(pk=upload_id)
    if not upload.is_working:
        return
    checking = upload.state == "checking"
    progress = progress_of(upload)
    progress.say(0, 0, force=True)
    try:
        plan, _ = plan_in(upload)
        load_plan(plan, check_only=checking, progress=progress.say)
    except SheetRefused as refused:
        faults = [[fault.place, fault.row, fault.column, fault.message] for fault in refused.faults[:SHOWN]]
        values = {"state": "faulty" if checking else "failed", "faults": faults, "said": str(refused)}
        if checking and (sure := next((one for one in refused.questions if one.id == SURE), None)):
            # Whoever posts it says yes to what stands there: the list is kept with what was loaded.
            said = [*comes_to(plan), *(f"{one} Posting it says yes." for one in refused.faults)]
            answers = {**upload.answers, SURE: sure.choices[0][0]}
            values = {"state": "ready", "faults": [], "said": "\n".join(said), "answers": answers}
    except (OSError, Refused, IntegrityError) as error:
        values = {"state": "failed", "said": f"{error} Nothing was loaded."}
    else:
        said = "\n".join(comes_to(plan))
        values = {"state": "ready" if checking else "loaded", "said": said, "faults": []}
    with transaction.atomic():
        found = SheetUpload.objects.filter(pk=upload_id)
        if checking:  # one that was dropped meanwhile stays dropped
            found = found.filter(state="checking")
        found.update(**values)
    if values["state"] == "loaded":
        shutil.rmtree(folder_of(upload), ignore_errors=True)  # its rows stand in the ledger: names lie nowhere twice
