"""What a log says that can hardly be: asked about, loaded after one yes, which is kept; what cannot be is a fault."""

import io
import json
import uuid
import zipfile

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.core.management.base import CommandError

from inventory.ledger.models import Voucher
from inventory.parties.models import Party
from shopledger.exporting.actions import as_zip, export, write_folder
from shopledger.logbook.actions import LogAsked, load
from shopledger.logbook.doubting import Answers
from shopledger.logbook.models import LoadedLog, LogUpload
from shopledger.logbook.work import work
from tests.bench.log_generator import write_log
from tests.shopledger.tampering import undone
from tests.shopledger.test_load_log_oracle import Writer

pytestmark = pytest.mark.django_db
SHOP = "name,timezone,rulebook,readability,capacity\nAsked,UTC,generic,1 g,150 kg\n"
OPENING = (
    "date,container,kind,substance,net,tare,location\n"
    "2026-01-01,CAN,can,R-134a,340 g,,Store\n"
    "2026-01-01,CYL,refillable,R-134a,9 kg,6 kg,Store\n"
)
RECEIPTS = "date,document,supplier,container,kind,substance,net,tare,location\n"
C8 = "2026-01-05,I,Acme Gas,C8,can,R-134a,340 g,,Store\n"
COUNTS = "date,container,gross\n"
JOBS = (
    "job,date,technician,customer,unit,vin,substance,charge_min,charge_max\nJ,2026-01-09,tess,Ada,EX,,R-134a,,520 g\n"
)
LINES = "job,action,container,before,after,quantity\n"
ASKED = {
    "a can of two kilograms": ({"receipts": "2026-01-05,I,Acme,C9,can,R-134a,2 kg,,Store\n"}, "receipts.csv:2: net"),
    "a tare that is none": ({"receipts": "2026-01-05,I,Acme,C9,can,R-134a,340 g,2 kg,Store\n"}, "receipts.csv:2: tare"),
    "a first weighing beyond any tare": ({"counts": "2026-01-05,CAN,4.4 kg\n"}, "counts.csv:2: gross"),
    "less than its tare": ({"counts": "2026-01-05,CYL,1500 g\n"}, "counts.csv:2: gross"),
    "a comma moved": ({"counts": "2026-01-05,CYL,150 kg\n"}, "counts.csv:2: gross"),
    "a charge ten times the label": (
        {"jobs": "", "job_lines": "J,charge,CYL,15 kg,9.8 kg,\n"},
        "job_lines.csv:2: after",
    ),
    "as a quantity": ({"jobs": "", "job_lines": "J,charge,CYL,,,5.2 kg\n"}, "job_lines.csv:2: quantity"),
    "a place in other letters": ({"moves": "2026-01-05,CYL,store\n"}, "moves.csv:2: to_location"),
    "a supplier in other letters": (
        {"receipts": C8 + "2026-01-06,J,ACME-GAS,C9,can,R-134a,340 g,,Store\n"},
        "receipts.csv:3: supplier",
    ),
}
HEADS = {
    "receipts": RECEIPTS,
    "counts": COUNTS,
    "jobs": JOBS,
    "job_lines": LINES,
    "moves": "date,container,to_location\n",
    "regrades": "date,container,grade\n",
}


@pytest.fixture
def log(tmp_path):
    def written(**files):
        for name, text in {"shop": SHOP, "opening": OPENING, **files}.items():
            (tmp_path / f"{name}.csv").write_text(HEADS.get(name, "") + text)
        return tmp_path

    return written


def run(folder, *more):
    """Exit code, and what was complained of."""
    err = io.StringIO()
    try:
        call_command("load_log", str(folder), *more, stdout=io.StringIO(), stderr=err)
    except CommandError as error:
        return error.returncode, err.getvalue() + str(error)
    return 0, err.getvalue()


@pytest.mark.parametrize("name", ASKED)
def test_it_is_asked_and_loaded_after_one_yes(log, tmp_path, name) -> None:
    files, place = ASKED[name]
    folder = log(**files)
    code, said = run(folder)
    assert code == 1 and said.startswith(f"{place}: ") and "one question" in said, said
    assert not Voucher.objects.exclude(kind="record").exists()
    answers = tmp_path / "answers.json"
    answers.write_text(json.dumps({place: "yes"}))
    assert run(folder, "--answers", str(answers))[0] == 0
    assert [one[0] for one in LoadedLog.objects.get().confirmed] == [place]


def test_a_can_of_340_kilograms_is_a_fault(log) -> None:
    code, said = run(log(receipts="2026-01-05,I,Acme,C9,can,R-134a,340 kg,,Store\n"))
    assert code == 1 and said.startswith("receipts.csv:2: net: 340 kg cannot be: is 340 g meant?"), said


def test_a_delivery_in_1926_is_a_fault(log) -> None:
    code, said = run(log(receipts="1926-01-05,I,Acme,C9,can,R-134a,340 g,,Store\n"))
    assert code == 1 and "Did you mean 5 Jan 2026" in said


def test_a_list_that_was_seen_is_answered_as_a_whole(log, tmp_path) -> None:
    folder = log(counts="2026-01-05,CAN,4.4 kg\n2026-01-06,CYL,1500 g\n")
    with pytest.raises(LogAsked) as asked:
        load(folder)
    answers = tmp_path / "answers.json"
    answers.write_text(json.dumps({"all": "0" * 16}))
    assert run(folder, "--answers", str(answers))[0] == 1
    answers.write_text(json.dumps({"all": asked.value.mark}))
    assert run(folder, "--answers", str(answers))[0] == 0
    assert len(LoadedLog.objects.get().confirmed) == 2


@pytest.mark.parametrize("text", ["nothing", "[]", '{"a": 1}', '{"counts.csv:2: gross": "no"}'])
def test_answers_that_are_none_are_refused(log, tmp_path, text) -> None:
    (tmp_path / "answers.json").write_text(text)
    assert run(log(), "--answers", str(tmp_path / "answers.json"))[0] == 2


def questions_of(folder):
    with undone():
        try:
            load(folder, check_only=True)
        except LogAsked as asked:
            return asked.faults
    return []


def test_logs_without_slips_do_not_drown_in_questions(tmp_path) -> None:
    """Sixteen random ones, whose weights are mostly wild, and four of a shop."""
    asked = {}
    for seed in range(16):
        folder = tmp_path / f"random-{seed}"
        folder.mkdir()
        writer = Writer(seed)
        writer.stock()
        for _ in range(60):
            writer.event()
        writer.write(folder)
        asked[folder.name] = questions_of(folder)
    for seed in range(4):
        write_log(tmp_path / f"shop-{seed}", 300, seed)
        asked[f"shop-{seed}"] = questions_of(tmp_path / f"shop-{seed}")
    print({name: len(found) for name, found in asked.items()})
    assert not any(asked.values()), {name: found[:3] for name, found in asked.items() if found}


def test_a_delivery_that_stands_already_is_asked_about(log):
    """As on the page: the same number of the same supplier, told a second time by other rows."""
    assert run(log(receipts=C8))[0] == 0
    again = C8.replace("C8", "C9").replace("2026-01-05", "2026-01-06")
    code, said = run(log(receipts=again, opening=OPENING.splitlines()[0] + "\n"))
    assert code == 1 and "receipts.csv:2: document" in said and "stands as voucher" in said
    other = log(receipts=again.replace(",I,", ",K,"), opening=OPENING.splitlines()[0] + "\n")
    assert run(other)[0] == 0


def test_what_came_empty_has_its_supplier(log):
    assert run(log(receipts="2026-01-05,I,Acme Gas,C9,refillable,R-134a,,6 kg,Store\n"))[0] == 0
    receipt = Voucher.objects.get(kind="receipt")
    assert json.loads(receipt.detail)["supplier"] == Party.objects.get(name="Acme Gas").code


def test_a_grade_that_it_has_already_is_asked_about(log):
    code, said = run(log(regrades="2026-01-05,CYL,recycled\n2026-01-06,CYL,recycled\n"))
    assert code == 1 and "regrades.csv:3: grade: CYL is graded recycled already. Is this right?" in said
    assert "regrades.csv:2" not in said and not Voucher.objects.exists()


def test_what_was_answered_is_exported_with_its_answer(log, tmp_path) -> None:
    """A file that is changed afterwards asks again; and what was right stays kept with the log."""
    folder, out = log(counts="2026-01-05,CAN,4.4 kg\n"), tmp_path / "out"
    with undone():
        load(folder, answers=Answers(frozenset({"counts.csv:2: gross"})))
        write_folder(export(), out)
    assert {file.name for file in out.iterdir()} >= {"answers.json", "not-carried.txt"}
    counts = (out / "counts.csv").read_bytes()
    (out / "counts.csv").write_bytes(counts.replace(b"4400 g", b"4500 g"))
    assert (out / "counts.csv").read_bytes() != counts
    assert "counts.csv:2: gross" in run(out)[1]
    (out / "counts.csv").write_bytes(counts)
    assert run(out) == (0, "")
    assert [one[0] for one in LoadedLog.objects.get().confirmed] == ["counts.csv:2: gross"]


def test_answers_that_lie_in_the_folder_are_read(log, tmp_path) -> None:
    folder = log(counts="2026-01-05,CAN,4.4 kg\n")
    (folder / "answers.json").write_text("nothing")
    code, said = run(folder)
    assert code == 1 and said.startswith("answers.json:1: file: it holds no answers"), said
    (folder / "answers.json").write_text('{"counts.csv:2: gross": "yes"}')
    assert run(folder) == (0, "")


def test_a_shop_is_sent_again_as_the_zip_that_was_downloaded(log, tmp_path, settings, owner_client) -> None:
    settings.DATA_DIR = tmp_path / "data"
    with undone():
        load(log(counts="2026-01-05,CAN,4.4 kg\n"), answers=Answers(frozenset({"counts.csv:2: gross"})))
        content = as_zip(export())
    left = zipfile.ZipFile(io.BytesIO(content)).read("not-carried.txt").decode()
    assert "\npasswords, and who recorded what when" in left
    assert "not-carried.txt" in owner_client.get("/logs/").content.decode()
    answer = owner_client.post(
        "/logs/", {"key": str(uuid.uuid4()), "files": SimpleUploadedFile("shop.zip", content, "application/zip")}
    )
    assert answer.status_code == 302
    work(LogUpload.objects.get().pk)
    upload = LogUpload.objects.get()
    assert (upload.state, upload.questions) == ("ready", []), upload.said
