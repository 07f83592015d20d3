"""Erasing personal words: what goes, what stays, what is refused, and that no backup brings it back."""

import datetime as dt
import json
import os
import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import DatabaseError, connection, transaction
from django.urls import reverse

from inventory.attachments.actions import attach, read_bytes
from inventory.attachments.erasing import sweep
from inventory.attachments.models import Attachment
from inventory.audit.queries import changes_of
from inventory.ledger import triggers
from inventory.ledger.actions import Draft, post
from inventory.ledger.erasing import erasable_kinds, erase, erased_digests
from inventory.ledger.models import Record, Voucher
from inventory.ledger.verify import verify
from inventory.parties.models import Party
from inventory.shop.clock import today
from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from jobs.drafts.actions import start_job
from jobs.drafts.models import Job
from jobs.people.actions import add_certificate, change_person
from jobs.units.actions import add_customer, change_customer
from jobs.units.models import Customer, Unit
from shopledger.inspection.models import BundleOrder
from shopledger.inspection.work import file_of
from shopledger.logbook.models import LogUpload
from shopledger.logbook.work import folder_of
from tests.inventory.test_attachments import picture, uploads  # noqa: F401 (fixture)
from tests.kept import made, saved, unguarded
from tests.reading import without_keys
from tests.shopledger.test_reports import log  # noqa: F401 (fixture)

pytestmark = pytest.mark.django_db
LATER = dt.date(2040, 1, 1)
WORD = "Zqmarker"


@pytest.fixture
def later(monkeypatch):
    """A day on which nothing needs to be kept any more."""
    for module in ("inventory.ledger.erasing",):
        monkeypatch.setattr(f"{module}.today", lambda: LATER)


def customer(name=WORD, **more):
    return add_customer(by=None, name=name, phone=f"{WORD} 1", address=f"{WORD} Road", note=f"{WORD} likes tea", **more)


def everywhere():
    """Everything that the database holds, as text."""
    found = []
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names():
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")
            found += [repr(row) for row in cursor.fetchall()]
    return "\n".join(found)


def test_the_words_go_in_every_version_and_the_fact_stays():
    row = customer()
    change_customer(row, by=None, name=f"{WORD} Second", phone=f"{WORD} 2")
    assert WORD in everywhere()
    number = erase("customer", row.code, why="asked", by="olive", note="by letter")
    assert WORD not in everywhere() and WORD.lower() not in everywhere()
    kept = Customer.objects.get(pk=row.pk)
    assert (kept.name, kept.phone, kept.address, kept.note) == (row.code, "", "", "")
    assert verify().faults == []
    entry = Voucher.objects.get(number=number)
    assert (entry.kind, entry.recorded_by, json.loads(entry.detail)["why"]) == ("erasure", "olive", "asked")
    assert len(erased_digests()) == 2
    assert {"words": "erased"} in [dict(one.after) for one in changes_of(kept)], "that it was, not what it was"


def test_a_thing_that_was_erased_may_be_named_anew():
    row = customer()
    erase("customer", row.code, why="asked", by="olive")
    change_customer(Customer.objects.get(pk=row.pk), by=None, name="Someone New")
    assert verify().faults == [] and Customer.objects.get(pk=row.pk).name == "Someone New"
    erase("customer", row.code, why="asked", by="olive")
    assert "Someone New" not in everywhere() and verify().faults == []


def test_nothing_is_erased_twice_and_the_same_form_is_one_entry():
    row, form = customer(), str(uuid.uuid4())
    number = erase("customer", row.code, why="asked", by="olive", form=form)
    assert erase("customer", row.code, why="asked", by="olive", form=form) == number
    with pytest.raises(Refused, match="erased already"):
        erase("customer", row.code, why="asked", by="olive")


@pytest.mark.parametrize(
    ("kind", "key", "why", "said"),
    [
        ("customer", "C-999999", "asked", "no customer"),
        ("customer", "C-1/2", "asked", "no customer"),
        ("scale", "bench", "asked", "no words"),
        ("nothing", "1", "asked", "no words"),
        ("entry", "999999", "asked", "no voucher"),
        ("entry", "x", "asked", "no voucher"),
        ("attachment", "x", "asked", "no attachment"),
        ("customer", "C-000001", "because", "Say why"),
    ],
)
def test_what_is_not_there_or_has_no_reason_is_refused_and_leaves_nothing(kind, key, why, said):
    customer()
    before = Voucher.objects.count()
    with pytest.raises(Refused, match=said):
        erase(kind, key, why=why, by="olive")
    assert Voucher.objects.count() == before and WORD in everywhere()


def test_what_the_rulebook_orders_kept_is_refused_with_the_day(log):  # noqa: F811
    ada = Customer.objects.get()
    for kind, key in (
        ("customer", ada.code),
        ("unit", Unit.objects.get().code),
        ("party", Party.objects.get(role="supplier").code),
    ):
        with pytest.raises(Refused, match="may go from 20[23][0-9]-"):
            erase(kind, key, why="asked", by="olive")
    assert verify().faults == []


def test_once_its_time_has_come_all_of_it_goes(log, later):  # noqa: F811
    ada, job, unit = Customer.objects.get(), Job.objects.get(), Unit.objects.get()
    change_person(job.technician, by=None, is_active=False)
    for kind, key in (
        ("customer", ada.code),
        ("unit", unit.code),
        ("person", job.technician.username),
        ("party", Party.objects.get(role="supplier").code),
    ):
        erase(kind, key, why="expired", by="olive")
    assert verify().faults == []
    assert "Ada" not in without_keys(everywhere()) and "Gas Supply" not in everywhere()
    unit.refresh_from_db()
    assert unit.name == unit.code and not unit.vin and not unit.plate


# 40 CFR 82.161(a)(4): a certificate until three years after its holder no longer operates as a technician; 82.42(b)(4).
def test_by_federal_rule_a_certificate_is_kept_from_the_day_its_holder_left(shop, technician, monkeypatch):
    saved(Shop.objects.get(), rulebook="us-federal")
    one = add_certificate(by=None, person=technician, scheme="609", number="1", issued=dt.date(1995, 1, 1), note=WORD)
    with pytest.raises(Refused, match="as long as what they are about goes on, and 3 years more.*82.161"):
        erase("certificate", str(one.pk), why="expired", by="olive")
    change_person(technician, by=None, is_active=False, left_on=dt.date(2026, 5, 31))
    for day, gone in ((dt.date(2029, 5, 30), False), (dt.date(2029, 5, 31), True)):
        monkeypatch.setattr("inventory.ledger.erasing.today", lambda day=day: day)
        if gone:
            erase("certificate", str(one.pk), why="expired", by="olive")
        else:
            with pytest.raises(Refused, match="may go from 2029-05-31 on"):
                erase("certificate", str(one.pk), why="expired", by="olive")
    assert verify().faults == []


# 40 CFR 84.106(l)(1): the data of an appliance until three years after it is retired; of a car only its jobs are kept.
def test_by_federal_rule_a_unit_is_kept_from_the_day_it_was_retired(log, monkeypatch):  # noqa: F811
    saved(Shop.objects.get(), rulebook="us-federal")
    monkeypatch.setattr("inventory.ledger.erasing.today", lambda: LATER)
    unit = Unit.objects.get()
    known = {"charge_min_mg": None, "charge_max_mg": None, "charge_nominal_mg": 20_000_000}
    saved(unit, kind="stationary", exactly="refrigeration", refrigerant="R-404A", **known)
    with pytest.raises(Refused, match="84.106"):
        erase("unit", unit.code, why="expired", by="olive")
    saved(unit, charge_nominal_mg=None)
    with pytest.raises(Refused, match="say what its full charge is"):
        erase("unit", unit.code, why="expired", by="olive")
    saved(unit, charge_nominal_mg=20_000_000, retired_on=dt.date(2037, 1, 2))
    with pytest.raises(Refused, match="may go from 2040-01-02 on"):
        erase("unit", unit.code, why="expired", by="olive")
    saved(unit, retired_on=dt.date(2037, 1, 1))
    erase("unit", unit.code, why="expired", by="olive")
    assert verify().faults == []


def test_the_page_says_until_when_words_are_kept(shop, technician, owner_client):
    saved(Shop.objects.get(), rulebook="us-federal")
    one = add_certificate(by=None, person=technician, scheme="609", number="1", issued=dt.date(1995, 1, 1), note=WORD)
    page = owner_client.get(reverse("erase", args=["certificate", one.pk])).content.decode()
    assert "kept until their time is over" in page and "as long as what they are about goes on" in page


def test_whoever_works_here_and_an_open_draft_stay(technician, later):
    with pytest.raises(Refused, match="works here"):
        erase("person", technician.username, why="asked", by="olive")
    row = customer()
    unit = made(Unit, customer=row, plate="T-1", search="")
    start_job(unit=unit, technician=technician, by=technician, key=uuid.uuid4())
    for kind, key in (("customer", row.code), ("unit", unit.code)):
        with pytest.raises(Refused, match="is under way"):
            erase(kind, key, why="asked", by="olive")
    change_person(technician, by=None, is_active=False)
    with pytest.raises(Refused, match="is under way"):
        erase("person", technician.username, why="asked", by="olive")


def test_the_note_of_a_voucher_goes_and_its_digest_stays(later):
    number = post(Draft("move", today(), "olive", note=f"{WORD} said so"))
    digest = Voucher.objects.get(number=number).digest
    erase("entry", str(number), why="asked", by="olive")
    found = Voucher.objects.get(number=number)
    assert (found.note, found.digest) == ("", digest) and WORD not in everywhere() and verify().faults == []


def test_a_file_goes_from_the_disk_unless_another_is_the_same(uploads, later, django_capture_on_commit_callbacks):  # noqa: F811
    body = picture("PNG")
    one, other = (
        attach(subject=f"voucher:{n}", upload=SimpleUploadedFile(f"{WORD}.png", body), by="o", title=WORD)
        for n in (1, 2)
    )
    path = one.path
    with django_capture_on_commit_callbacks(execute=True):
        erase("attachment", str(one.pk), why="asked", by="olive")
    assert path.exists() and read_bytes(other)
    with django_capture_on_commit_callbacks(execute=True):
        erase("attachment", str(other.pk), why="asked", by="olive")
    assert not path.exists() and WORD not in everywhere() and verify().faults == []
    with pytest.raises(Refused):
        read_bytes(Attachment.objects.get(pk=one.pk))


def test_the_database_lets_nothing_else_be_changed():
    row = customer()
    erase("customer", row.code, why="asked", by="olive")
    words = Record.objects.filter(kind="words", body__isnull=True).first()
    plain = Record.objects.filter(kind="customer").first()
    still = Record.objects.filter(kind="words", body__isnull=False).first() or plain
    for change in (
        lambda: Record.objects.filter(pk=words.pk).update(body="{}", salt="a"),
        lambda: Record.objects.filter(pk=plain.pk).update(body=None, salt=None),
        lambda: Record.objects.filter(pk=still.pk).update(body="{}"),
        lambda: Record.objects.filter(pk=still.pk).delete(),
        lambda: Voucher.objects.filter(number=1).update(note="x"),
        lambda: Voucher.objects.filter(number=1).update(day="2020-01-01", note=""),
    ):
        with pytest.raises(DatabaseError), transaction.atomic():
            change()


@pytest.mark.parametrize(
    "change",
    [
        lambda row: Record.objects.filter(kind="words").update(body=None, salt=None),  # erased, and nothing says so
        lambda row: Record.objects.filter(kind="erased").update(body='{"digests":[]}'),
        lambda row: Customer.objects.filter(pk=row.pk).update(name="Back again"),
    ],
)
def test_verify_sees_what_is_erased_without_an_entry_and_what_came_back(change):
    row = customer()
    customer("Another")
    erase("customer", row.code, why="asked", by="olive")
    assert verify().holds
    with unguarded():
        change(row)
    assert not verify().holds


def test_the_command_and_its_list(settings, tmp_path, capsys, django_capture_on_commit_callbacks):
    settings.DATA_DIR = tmp_path
    row = customer()
    with django_capture_on_commit_callbacks(execute=True):
        call_command("erase", "customer", row.code, "--why", "asked")
    assert "by entry" in capsys.readouterr().out
    assert (tmp_path / "erased.txt").read_text().split() == erased_digests()
    with pytest.raises(CommandError) as refused:
        call_command("erase", "customer", row.code, "--why", "asked")
    assert refused.value.returncode == 1
    assert "customer" in erasable_kinds() and "scale" not in erasable_kinds()


def test_the_page_shows_what_goes_and_what_stays(shop, owner_client, office_client):
    row = customer()
    address = reverse("erase", args=["customer", row.code])
    page = owner_client.get(address).content.decode()
    assert "What stays, and why" in page and "out of our hands" in page and "Address, name, note, phone" in page
    assert office_client.get(address).status_code == 403
    assert owner_client.get(reverse("erase", args=["customer", "C-999999"])).status_code == 404
    form = {"key": str(uuid.uuid4()), "why": "asked", "note": ""}
    assert owner_client.post(address, form).status_code == 422, "the box was not ticked"
    assert owner_client.post(address, {**form, "sure": "on"}).url == reverse("erased")
    said = owner_client.get(reverse("erased")).content.decode()
    assert row.code in said and "the person asked for it" in said and WORD not in said
    assert "Erase its words" in owner_client.get(reverse("customer", args=[customer("Other").pk])).content.decode()


def test_sqlite_overwrites_what_is_erased():
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            assert cursor.execute("PRAGMA secure_delete").fetchone()[0] == 1
    assert triggers.missing(connection) == []


def test_copies_of_ours_that_may_hold_the_words_go_too(settings, tmp_path, django_capture_on_commit_callbacks):
    settings.DATA_DIR = tmp_path
    order = BundleOrder.objects.create(first=today(), last=today(), by="oscar", state="made")
    upload = LogUpload.objects.create(key=uuid.uuid4(), by="oscar", state="faulty", faults=[f"people.csv:2: {WORD}"])
    file_of(order).parent.mkdir()
    file_of(order).write_text(WORD)
    folder_of(upload).mkdir(parents=True)
    (folder_of(upload) / "people.csv").write_text(WORD)
    row = customer()
    with django_capture_on_commit_callbacks(execute=True):
        erase("customer", row.code, why="asked", by="olive")
    assert not file_of(order).exists() and not folder_of(upload).exists() and WORD not in everywhere()
    order.refresh_from_db()
    assert (order.state, "Ask for it again" in order.said) == ("failed", True)


def test_a_file_that_no_attachment_names_is_swept_away_after_a_day(uploads):  # noqa: F811
    kept = attach(subject="voucher:1", upload=SimpleUploadedFile("p.png", picture("PNG")), by="o")
    stray, young = (kept.path.parent / name for name in ("a" * 64, "b" * 64))
    for path in (stray, young):
        path.write_bytes(b"x")
    os.utime(stray, (0, 0))
    assert sweep() == 1
    assert kept.path.exists() and young.exists() and not stray.exists()
