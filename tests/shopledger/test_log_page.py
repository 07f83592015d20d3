"""A log loaded from the browser: each fault beside its row, all of it or nothing, once."""

import io
import struct
import tracemalloc
import uuid
import zipfile

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from inventory.ledger.models import Voucher
from inventory.text.refusal import Refused
from shopledger.logbook.folder import BY_HAND
from shopledger.logbook.models import LoadedLog, LogUpload
from shopledger.logbook.uploads import templates, unpack

pytestmark = pytest.mark.django_db(transaction=True)
SHOP = "name,readability\nExample,1 g\n"
OPENING = "date,container,kind,substance,net,tare,location\n2026-01-05,CYL-1,refillable,R-134a,9.2 kg,7.1 kg,Store\n"


@pytest.fixture(autouse=True)
def data(settings, tmp_path):
    settings.DATA_DIR = tmp_path
    return tmp_path


def zipped(**files):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, text in files.items():
            archive.writestr(name.replace("__", "/").replace("_csv", ".csv"), text)
    return SimpleUploadedFile("log.zip", out.getvalue(), "application/zip")


def send(client, *uploads, key=None):
    return client.post("/logs/", {"key": key or str(uuid.uuid4()), "files": list(uploads)})


def posted():
    """The kinds of what was posted, beside records of people and settings."""
    return list(Voucher.objects.exclude(kind="record").values_list("kind", flat=True))


def test_a_log_is_checked_then_loaded_once(office_client):
    answer = send(office_client, zipped(shop_csv=SHOP, opening_csv=OPENING))
    assert answer.status_code == 302
    page = office_client.get(answer.url).content.decode()
    assert "without a fault" in page and "It would load 1 events" in page and not posted()
    for _ in range(2):
        assert office_client.post(f"{answer.url}load/").status_code == 302
    assert posted() == ["opening"] and LogUpload.objects.get().state == "loaded"
    assert "Loaded 1 events" in office_client.get(answer.url).content.decode()
    again = send(office_client, zipped(shop_csv=SHOP, opening_csv=OPENING))
    assert "was loaded before; nothing was changed" in office_client.get(again.url).content.decode()
    assert office_client.post(f"{answer.url}drop/").status_code == 409


def test_each_fault_stands_beside_its_row(office_client):
    files = [
        SimpleUploadedFile("shop.csv", SHOP.encode()),
        SimpleUploadedFile("opening.csv", OPENING.replace("9.2 kg", "nine").encode()),
    ]
    answer = send(office_client, *files)
    page = office_client.get(answer.url).content.decode()
    assert "opening.csv:2 net" in page and "<mark>nine</mark>" in page and "has faults" in page
    assert office_client.post(f"{answer.url}load/").status_code == 409
    assert not posted()
    assert office_client.post(f"{answer.url}drop/").status_code == 302


@pytest.mark.parametrize(
    ("upload", "said"),
    [
        (zipped(opening_csv=OPENING), "shop.csv is missing"),
        (zipped(shop_csv=SHOP, evil_exe="MZ"), "is no file of a log"),
        (zipped(shop_csv=SHOP, a__shop_csv=SHOP), "came twice"),
        (SimpleUploadedFile("log.zip", b"PK\x03\x04broken"), "no ZIP that can be read"),
        (SimpleUploadedFile("notes.txt", b"hello"), "is no file of a log"),
    ],
)
def test_what_is_no_log_is_refused_and_leaves_nothing(office_client, data, upload, said):
    upload.seek(0)
    answer = send(office_client, upload)
    assert answer.status_code == 422 and said in answer.content.decode()
    assert LogUpload.objects.count() == 0
    assert not list((data / "logs").glob("*")) if (data / "logs").exists() else True


def test_names_in_a_zip_lead_nowhere_else(office_client, data):
    send(office_client, zipped(**{"..__..__shop_csv": SHOP}))
    assert not (data.parent / "shop.csv").exists()
    assert {path.name for path in data.rglob("*.csv")} == {"shop.csv"}


def test_a_flood_is_refused(office_client, monkeypatch):
    monkeypatch.setattr("shopledger.logbook.uploads.MOST_BYTES", 2000)
    answer = send(office_client, zipped(shop_csv=SHOP, opening_csv="x" * 5000))
    assert answer.status_code == 422 and "MB unpacked" in answer.content.decode()


def test_the_templates_load_without_a_fault_in_their_columns(office_client):
    body = office_client.get("/logs/templates.zip").content
    with zipfile.ZipFile(io.BytesIO(body)) as archive:
        assert set(archive.namelist()) == set(BY_HAND)
        for name in archive.namelist():
            header, row = archive.read(name).decode().splitlines()
            assert len(header.split(",")) == len(row.split(",")), name
    only = {
        name.replace(".csv", "_csv"): text
        for name, text in templates().items()
        if name
        in {
            "shop.csv",
            "people.csv",
            "parties.csv",
            "scales.csv",
            "opening.csv",
            "receipts.csv",
            "moves.csv",
        }
    }
    answer = send(office_client, zipped(**only))
    assert LogUpload.objects.get().state == "ready", LogUpload.objects.get().faults
    assert answer.status_code == 302


def test_technicians_load_no_log(technician_client):
    assert technician_client.get("/logs/").status_code == 403


def damaged(method, at=60):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as archive:
        archive.writestr("shop.csv", SHOP + "x" * 4000)
    body = bytearray(out.getvalue())
    for place in range(at, at + 12):
        body[place] ^= 0xFF
    return SimpleUploadedFile("log.zip", bytes(body), "application/zip")


@pytest.mark.parametrize("method", [zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED])
def test_a_damaged_zip_is_refused_with_a_sentence(office_client, data, method):
    answer = send(office_client, damaged(method))
    assert answer.status_code == 422 and "no ZIP that can be read" in answer.content.decode()
    assert not LogUpload.objects.exists() and not list((data / "logs").glob("*"))


def test_an_encrypted_zip_is_refused_with_a_sentence(office_client):
    body = bytearray(zipped(shop_csv=SHOP).read())
    for mark, place in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        body[body.index(mark) + place] |= 1
    answer = send(office_client, SimpleUploadedFile("log.zip", bytes(body)))
    assert answer.status_code == 422 and "no ZIP that can be read" in answer.content.decode()


def test_a_folder_left_by_a_request_that_was_cut_off_is_no_hindrance(office_client, data):
    key = uuid.uuid4()
    left = data / "logs" / key.hex
    left.mkdir(parents=True)
    (left / "jobs.csv").write_text("half a fi")
    log = zipped(shop_csv=SHOP, opening_csv=OPENING)
    answer = send(office_client, log, key=str(key))
    assert "It would load 1 events" in office_client.get(answer.url).content.decode()
    log.seek(0)
    again = send(office_client, log, key=str(key))
    assert again.url == answer.url
    other = send(office_client, zipped(shop_csv=SHOP), key=str(key))
    assert other.status_code == 422 and f'<a href="{answer.url}">a log of 2 files</a>' in other.content.decode()
    assert sorted(p.name for p in left.iterdir()) == ["opening.csv", "shop.csv"]
    assert sorted(path.name for path in (data / "logs").iterdir() if path.is_dir()) == [key.hex]


@pytest.mark.parametrize(("seconds", "status"), [(10, 409), (120, 302)])
def test_a_load_that_went_silent_can_be_dropped(office_client, data, seconds, status):
    import datetime as dt
    import os
    import time

    from django.utils import timezone

    answer = send(office_client, zipped(shop_csv=SHOP, opening_csv=OPENING))
    upload = LogUpload.objects.get()
    ago = timezone.now() - dt.timedelta(seconds=seconds)
    LogUpload.objects.update(state="loading", asked_at=ago)
    for path in (data / "logs").glob("*.progress"):
        os.utime(path, (time.time() - seconds,) * 2)
    assert office_client.post(f"{answer.url}drop/").status_code == status
    upload.refresh_from_db()
    assert upload.state == ("dropped" if status == 302 else "loading")


@pytest.mark.parametrize(
    ("encoding", "text", "fine"),
    [("utf-8-sig", SHOP, True), ("utf-16", SHOP, False), ("cp1252", SHOP.replace("Example", "Caf\u00e9"), False)],
)
def test_files_of_other_encodings(office_client, encoding, text, fine):
    answer = send(office_client, SimpleUploadedFile("shop.csv", text.encode(encoding)))
    if answer.status_code == 422:
        assert not fine and "UTF-8" in answer.content.decode()
        return
    page = office_client.get(answer.url).content.decode()
    assert ("without a fault" in page) == fine and (fine or "UTF-8" in page)


def most_memory(unpacked):
    """What was said, and the most bytes that Python's own objects took meanwhile."""
    tracemalloc.start()
    try:
        said = unpacked()
        return said, tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


@pytest.mark.parametrize("method", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_a_bomb_of_an_unusual_method_is_not_unpacked(method, tmp_path):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as archive:
        archive.writestr("shop.csv", bytes(30 * 1024 * 1024))
    bomb = SimpleUploadedFile("log.zip", out.getvalue())

    def unpacked():
        with pytest.raises(Refused, match="shop.csv is packed in an unusual way; pack it again"):
            unpack([bomb], tmp_path / "log")
        return True

    said, most = most_memory(unpacked)
    assert said and most < 4 * 1024 * 1024 and not (tmp_path / "log").exists()


def test_a_zip_with_a_list_of_files_without_end_is_refused(tmp_path):
    one = struct.pack("<4s4B4HL2L5H2L", b"PK\1\2", 20, 0, 20, 0, 0, 0, 0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 0, 0) + b"a"
    count = 60_000
    end = struct.pack("<4s4H2LH", b"PK\5\6", 0, 0, count, count, len(one) * count, 4, 0)
    bomb = SimpleUploadedFile("log.zip", b"PK\3\4" + one * count + end)

    def unpacked():
        with pytest.raises(Refused, match="its list of files is too long"):
            unpack([bomb], tmp_path / "log")
        return True

    said, most = most_memory(unpacked)
    assert said and most < 4 * 1024 * 1024 and not (tmp_path / "log").exists()


CAN = "2026-01-05,CAN,can,R-134a,340 g,,Store\n"


def test_the_page_asks_each_and_all(office_client):
    """What can hardly be is loaded once each question, or the list as it was seen, is answered."""
    counts = "date,container,gross\n2026-01-06,CAN,4.4 kg\n2026-01-06,CYL-1,1500 g\n"
    files = {"shop": SHOP, "opening": OPENING + CAN, "counts": counts}
    sent = [SimpleUploadedFile(f"{name}.csv", text.encode()) for name, text in files.items()]
    answer = send(office_client, *sent)
    page = office_client.get(answer.url).content.decode()
    assert "counts.csv:2 gross" in page and "All of these are right" in page and "It would load 3 events" in page
    upload = LogUpload.objects.get()
    one = office_client.post(f"{answer.url}load/", {"yes": ["counts.csv:2: gross"]})
    assert one.status_code == 422 and 'value="counts.csv:2: gross" checked' in one.content.decode()
    assert office_client.post(f"{answer.url}load/", {"all": upload.mark}).status_code == 302
    assert LogUpload.objects.get().state == "loaded" and len(LoadedLog.objects.get().confirmed) == 2
