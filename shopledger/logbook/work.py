"""Checking and loading an uploaded log, in a process of its own."""

import csv
import shutil
import uuid
from pathlib import Path

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.db import IntegrityError, transaction

from inventory.ledger.actions import take_turn
from inventory.shop.once import keep, made_by, recorded
from inventory.text.refusal import Refused
from shopledger import background
from shopledger.logbook.actions import LogAsked, LogRefused, load
from shopledger.logbook.doubting import Answers
from shopledger.logbook.models import LogUpload
from shopledger.logbook.uploads import unpack

SHOWN = 1000


def folder_of(upload: LogUpload) -> Path:
    return settings.DATA_DIR / "logs" / upload.key.hex


def progress_of(upload: LogUpload) -> background.Progress:
    return background.Progress(settings.DATA_DIR / "logs" / f"{upload.key.hex}.progress")


def receive_log(*, uploads: list[UploadedFile], by: str, key: uuid.UUID) -> LogUpload:
    """Keep an uploaded log and have it checked. The same key is kept once. Raises Refused for what is no log."""
    recorded()
    if (known := made_by(LogUpload, key)) is not None:
        return known
    if not uploads:
        raise Refused("Choose the files, or one ZIP of them.", "files")
    for other in LogUpload.objects.filter(state__in=["checking", "loading"], by=by):
        if not progress_of(other).silent(other.asked_at.timestamp()):
            raise Refused("Your last log is still being read; wait for it, then send this one.", "files")
    folder = folder_of(LogUpload(key=key))
    arriving = folder.with_name(f"{folder.name}-{uuid.uuid4().hex[:8]}.new")
    files = unpack(uploads, arriving)
    try:
        with transaction.atomic():
            take_turn()
            recorded()
            if (known := made_by(LogUpload, key)) is not None:  # by a second tap, meanwhile
                return known
            upload = LogUpload.objects.create(key=key, state="checking", by=by, files=files)
            shutil.rmtree(folder, ignore_errors=True)  # of a request that was cut off before it was kept
            arriving.rename(folder)
            keep(called=f"a log of {len(files)} file{'' if len(files) == 1 else 's'}", thing=f"log {upload.pk}")
            transaction.on_commit(lambda: background.start("load_upload", str(upload.pk)))
        return upload
    finally:
        shutil.rmtree(arriving, ignore_errors=True)


def ask_to_load(upload_id: int, answers: Answers | None = None) -> LogUpload:
    """Have a log loaded that was checked and has no fault. answers: to what it asks; Refused where one is missing."""
    with transaction.atomic():
        upload = LogUpload.objects.select_for_update().get(pk=upload_id)
        if upload.state in {"loading", "loaded"}:
            return upload
        if upload.state != "ready":
            raise Refused("Only a log without a fault is loaded; mend the files and send them again.")
        said = answers or Answers()
        places = set(map(place_in, upload.questions))
        if places - said.yes and said.mark != upload.mark:
            raise Refused(
                "Say of each question that it is right; where one is not, mend the files and send them again."
            )
        upload.yes, upload.all = sorted(said.yes & places), said.mark
        upload.state = "loading"
        upload.save()
        transaction.on_commit(lambda: background.start("load_upload", str(upload.pk)))
        return upload


def drop(upload_id: int) -> None:
    with transaction.atomic():
        upload = LogUpload.objects.select_for_update().get(pk=upload_id)
        gone = upload.state == "loading" and progress_of(upload).silent(upload.asked_at.timestamp())
        if upload.state == "loaded" or (upload.state == "loading" and not gone):
            raise Refused("This log is loaded, or being loaded; it cannot be dropped any more.")
        upload.state = "dropped"
        upload.save()
    shutil.rmtree(folder_of(upload), ignore_errors=True)


def words_are_gone() -> None:
    """Once words were erased: uploaded logs that were not loaded may hold them, with the faults that name them."""
    for upload in LogUpload.objects.filter(state__in=["faulty", "failed", "dropped"]):
        shutil.rmtree(folder_of(upload), ignore_errors=True)
        upload.state, upload.faults, upload.questions = "dropped", [], []
        upload.save()


def work(upload_id: int) -> None:
    """What the process does: check, or load."""
    upload = LogUpload.objects.get(pk=upload_id)
    if not upload.is_working:
        return
    checking = upload.state == "checking"
    progress = progress_of(upload)
    progress.say(0, 0, force=True)
    try:
        answers = Answers(frozenset(upload.yes), upload.all)
        loaded = load(folder_of(upload), check_only=checking, progress=progress.say, answers=answers)
    except LogAsked as asked:
        state = "ready" if checking else "failed"
        values = {"state": state, "questions": asked.faults, "mark": asked.mark, "said": str(asked)}
    except LogRefused as refused:
        state = "faulty" if checking else "failed"
        values = {"state": state, "faults": refused.faults[:SHOWN], "said": str(refused)}
    except (OSError, Refused, IntegrityError) as error:
        values = {"state": "failed", "said": f"{error}. Nothing was loaded."}
    else:
        state, done = ("ready", "It would load") if checking else ("loaded", "Loaded")
        values = {"state": state, "said": f"{done} {loaded.events} events: {loaded.said}."}
    with transaction.atomic():
        found = LogUpload.objects.filter(pk=upload_id)
        if checking:  # one that was dropped meanwhile stays dropped; what was loaded is loaded whatever was pressed
            found = found.filter(state="checking")
        found.update(**values)
    if values["state"] == "loaded":
        shutil.rmtree(folder_of(upload), ignore_errors=True)  # its rows stand in the ledger: names lie nowhere twice


def place_in(question: str) -> str:
    """Where a question, or a fault, stands, as an answer names it: `file:line: column`."""
    return ": ".join(question.split(": ")[:2])


def row_at(upload: LogUpload, fault: str) -> tuple[str, str, list[tuple[str, bool]]]:
    """A fault as it is listed, with the row that it stands beside: place, message, and the cells, the faulty one
    marked. Without cells where the row cannot be read."""
    place, _, rest = fault.partition(": ")
    column, _, message = rest.partition(": ")
    name, _, line = place.partition(":")
    cells: list[tuple[str, bool]] = []
    if name in upload.files and line.isdigit():
        try:
            with (folder_of(upload) / name).open(encoding="utf-8-sig", errors="replace", newline="") as file:
                reader = csv.reader(file)
                header = [cell.strip() for cell in next(reader, [])]
                before = reader.line_num
                for row in reader:
                    if before < int(line) <= reader.line_num:
                        cells = [
                            (cell[:80], at < len(header) and header[at] == column) for at, cell in enumerate(row[:20])
                        ]
                        break
                    before = reader.line_num
        except (OSError, csv.Error):
            cells = []
    return f"{place} {column}".strip(), message, cells
