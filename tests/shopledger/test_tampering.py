"""Whatever somebody does to the database or to its files behind the program's back, the proof names it."""

import json

import pytest
from django.conf import settings
from django.db import connection

from inventory.attachments.models import Attachment
from inventory.containers.models import Container, ContainerEntry, Weighing
from inventory.counting.models import TareChange
from inventory.ledger import canonical, triggers
from inventory.ledger.models import Account, ChainHead, Movement, Record, Seal, SealBalance, SealTotal, Voucher
from inventory.ledger.verify import verify, verify_since_seal
from inventory.parties.models import Party
from inventory.shop.models import Shop
from jobs.drafts.models import Job, JobLine
from jobs.people.models import Certificate, Person
from jobs.units.models import Customer
from shopledger.sealing.models import IssuedReport
from tests.shopledger.tampering import (
    chain_remade,
    manipulations,
    names,
    possible,
    record_remade,
    row_changed,
    tables,
    unchecked,
    undone,
)
from tests.shopledger.world import build

pytestmark = pytest.mark.django_db

OWN_NUMBER = "the database's own number of a row that nothing names by it"
WORKED_OUT = "worked out from the other columns, for searches and likeness"
SIGN_IN = "of signing in, and changes with it; that it changed is stated"
EXCEPTED = {  # a table, or a column, and why a change of it is not named
    "inventory.ChosenColumns": "which columns a person wants to see",
    "inventory.ContainerEntry.id": OWN_NUMBER,
    "inventory.FormSent": "which forms were recorded, so that none is twice: what they became is kept itself",
    "inventory.Movement.id": OWN_NUMBER,
    "inventory.SealBalance.id": OWN_NUMBER,
    "inventory.SealTotal.id": OWN_NUMBER,
    "inventory.Weighing.id": OWN_NUMBER,
    "jobs.Customer.name_folded": WORKED_OUT,
    "jobs.Customer.search": WORKED_OUT,
    "jobs.Person.last_login": SIGN_IN,
    "jobs.Person.password": SIGN_IN,
    "jobs.Person_groups": "what anyone may do follows from the role alone",
    "jobs.Person_user_permissions": "what anyone may do follows from the role alone",
    "jobs.Unit.likeness": WORKED_OUT,
    "jobs.Unit.search": WORKED_OUT,
    "shopledger.BundleOrder": "passing: the bundle proves itself",
    "shopledger.LoadedSheet": "which sheets were loaded, so that none is twice: what they became is kept itself",
    "shopledger.LogUpload": "passing: a log that waits to be loaded",
    "shopledger.Notice": "what a person is told once; the change itself is stated",
    "shopledger.PaperCode": SIGN_IN,
    "shopledger.Passkey": SIGN_IN,
    "shopledger.Phone": "passing: a browser that people come back on",
    "shopledger.Pin": SIGN_IN,
    "shopledger.SheetMapping": "how a sheet is understood: what it became is kept itself",
    "shopledger.SheetUpload": "passing: a sheet that waits to be loaded",
    "shopledger.SignIn": "passing: who is signed in where",
    "shopledger.SlowPage": "how the program ran",
    "shopledger.Standing": "passing: who comes back where today",
    "shopledger.Upkeep": "how the program ran",
    "shopledger.WrongGuess": "passing: a day's wrong passwords and codes",
}
EVIDENCE = sorted(set(tables()) - set(EXCEPTED))


@pytest.fixture(scope="module")
def world(django_db_setup, django_db_blocker, tmp_path_factory):
    """Built once, in a transaction that is rolled back; no trigger and no check stands in the way."""
    folder, patch = tmp_path_factory.mktemp("world"), pytest.MonkeyPatch()
    patch.setattr(settings, "DATA_DIR", folder)
    patch.setattr(settings, "MEDIA_ROOT", folder / "uploads")
    with django_db_blocker.unblock(), undone():
        build(folder / "logs")
        assert verify().faults == []
        triggers.drop(connection)
        patch.setattr(triggers, "missing", lambda connection: [])
        with unchecked():
            yield folder
    patch.undo()


def faults(**how):
    return [message for _, message in verify(**how).faults]


@pytest.mark.parametrize("all_of_them", [False, pytest.param(True, marks=pytest.mark.long)])
@pytest.mark.parametrize("label", EVIDENCE)
def test_a_row_that_is_changed_removed_or_added_is_named(world, label, all_of_them):
    """Each column of each table, whichever there are: a new one fails here until it is named, or excepted above."""
    unnamed, tried = {}, {"made": 0, "named": 0, "excepted": 0, "impossible": 0}
    for one in manipulations(tables()[label], all_of_them):
        with undone():
            done = possible(one)
            named = done and any(names(message, one.named) for message in faults())
        tried["made"] += 1
        tried["impossible" if not done else "named" if named else "excepted"] += 1
        if done and not named:
            unnamed.setdefault(one.column, []).append(one.what)
    print(label, tried)
    assert tried["named"], "the small shop has no row of it"
    excepted = {name for name in EXCEPTED if name.startswith(f"{label}.")}
    assert set(unnamed) == excepted, unnamed


def test_so_much_is_tried(world):
    plan = [one for label in EVIDENCE for one in manipulations(tables()[label])]
    columns = {one.column for one in plan}
    excepted = sum(one.column in EXCEPTED for one in plan)
    print(f"{len(plan)} manipulations of {len(columns)} columns and tables, {excepted} of them excepted")
    assert set(EXCEPTED) <= columns | set(tables())
    assert columns >= {f"{label}.{one.attname}" for label in EVIDENCE for one in tables()[label]._meta.concrete_fields}
    assert len(plan) > 650 and excepted < 20


# -- files -------------------------------------------------------------------------------------------------------


def spoiled(path):
    """A file changed by a byte, cut short, and gone."""
    body = path.read_bytes()
    try:
        for now in (body[:-1] + bytes([body[-1] ^ 1]), body[: len(body) // 2], None):
            path.unlink() if now is None else path.write_bytes(now)
            yield
    finally:
        path.write_bytes(body)


def test_a_file_that_is_not_what_it_was_is_named(world):
    kept = [(row, f"attachment {row.pk}") for row in Attachment.objects.all()]
    kept += [(row, str(row)) for row in IssuedReport.objects.all()]
    assert {row.path for row, _ in kept} == {
        path for name in ("uploads", "issued") for path in (world / name).rglob("*") if path.is_file()
    }
    for row, called in kept:
        for _ in spoiled(row.path):
            assert any(called in message for message in faults()), called
    assert faults() == []


# -- what agrees with itself, and not with the chain ---------------------------------------------------------------


def certificate_and_its_record():
    one = Certificate.objects.last()
    row_changed(one, number="A-9")
    record = Record.objects.filter(kind="certificate", key=one.pk).last()
    record_remade(record, number="A-9")
    return f"Voucher {record.voucher_id} "


def words_and_their_record():
    one = Customer.objects.get(name="Ada Example")
    row_changed(one, name="Eve Example")
    record = Record.objects.filter(kind="words", key=f"customer:{one.code}").last()
    record_remade(record, name="Eve Example")
    return f"Voucher {record.voucher_id} "


def words_and_row_blank():
    """As an erasure leaves them, and nothing says that there was one."""
    one = Customer.objects.get(name="Ada Example")
    row_changed(one, name=one.code, phone="", address="", note="")
    Record.objects.filter(kind="words", key=f"customer:{one.code}").update(salt=None, body=None)
    return f"customer:{one.code}"


def erased_words_back_in_their_row():
    erased = Record.objects.filter(kind="erased").last()
    row_changed(Customer.objects.get(code=erased.key.removeprefix("customer:")), name="Di Gone")
    return erased.key.removeprefix("customer:")


def erased_words_back_in_their_record():
    """Others than they were: nobody has the salt any more."""
    erased = Record.objects.filter(kind="erased").last()
    record = Record.objects.get(kind="words", key=erased.key)
    row_changed(record, salt="0" * 32, body='{"name":"Ed Other"}')
    row_changed(Customer.objects.get(code=erased.key.removeprefix("customer:")), name="Ed Other")
    return f"voucher {record.voucher_id} "


def an_erasure_of_other_words():
    erased = Record.objects.filter(kind="erased").last()
    record_remade(erased, digests=["0" * 64])
    chain_remade()
    return f"What voucher {erased.voucher_id} erased"


def voucher_and_its_digest():
    """The next one stands on another then."""
    one = Voucher.objects.filter(kind="receipt").first()
    row_changed(one, document="A-78", digest=canonical.link("A-78"))
    return f"Voucher {one.number} "


def job_and_its_record():
    job = Job.objects.filter(revision=1, state="signed", loaded=False).get()
    row_changed(job, charged_mg=job.charged_mg + 1)
    record = Record.objects.filter(kind="job", key=f"{job.number}/1").last()
    record_remade(record, charged_mg=job.charged_mg + 1)
    return f"Job {job.number}"


def line_total_and_record():
    line = JobLine.objects.filter(job__state="signed", job__revision=1, job__loaded=False, action="charge").last()
    job = line.job
    row_changed(line, after=line.after - 1000)
    row_changed(job, charged_mg=job.charged_mg + 1000)
    record = Record.objects.filter(kind="job", key=f"{job.number}/1").last()
    lines = [
        {**one, "after": line.after - 1000} if one["id"] == line.pk else one for one in json.loads(record.body)["lines"]
    ]
    record_remade(record, charged_mg=job.charged_mg + 1000, lines=lines)
    return f"Voucher {record.voucher_id} "


def movement_and_balances():
    one = Movement.objects.filter(voucher__kind="job").last()
    row_changed(one, quantity=one.quantity + 1000)
    row_changed(one.source, balance=one.source.balance - 1000)
    row_changed(one.target, balance=one.target.balance + 1000)
    return f"Voucher {one.voucher_id} "


def movement_balances_and_the_chain():
    """What was said in the entry comes to something else."""
    said = movement_and_balances()
    chain_remade()
    return Movement.objects.get(voucher=int(said.split()[1]), line=0).source.name or said


def seal_total_and_its_digest():
    seal = Seal.objects.last()
    total = seal.totals.first()
    row_changed(total, quantity=total.quantity + 1)
    row_changed(seal, totals_sha256="0" * 64)
    record = Record.objects.filter(kind="seal", key=seal.through).get()
    record_remade(record, totals_sha256="0" * 64)
    return f"seal through {seal.through}"


def seal_balance_and_the_balance():
    seal = Seal.objects.last()
    one = seal.balances.filter(account__cls=1).first()
    row_changed(one, balance=one.balance + 1)
    row_changed(one.account, balance=one.account.balance + 1)
    return f"seal through {seal.through}"


def weighing_and_its_detail():
    one = Weighing.objects.filter(voucher__kind="count").last()
    row_changed(one, gross=one.gross + 1)
    detail = json.loads(one.voucher.detail)
    detail["weighings"][one.line][4] += 1
    row_changed(one.voucher, detail=canonical.canonical_json(detail))
    return f"Voucher {one.voucher_id} "


def entry_and_container():
    one = Container.objects.get(code="CYL-2")
    row_changed(one, tare_mg=6_020_000)
    entry = ContainerEntry.objects.get(container=one, voucher__kind="tare")
    row_changed(entry, ops=entry.ops.replace("6010000", "6020000"))
    return f"voucher {entry.voucher_id} "


def entry_container_detail_and_the_chain():
    """A tare told otherwise in every place, before a seal: the seal holds a digest that is not there any more."""
    one = Container.objects.get(code="CYL-2")
    row_changed(one, tare_mg=6_020_000)
    entry = ContainerEntry.objects.get(container=one, voucher__kind="tare")
    row_changed(entry, ops=entry.ops.replace("6010000", "6020000"))
    row_changed(entry.voucher, detail=entry.voucher.detail.replace("6010000", "6020000"))
    change = TareChange.objects.get(container=one)
    row_changed(change, new_mg=6_020_000)
    record_remade(Record.objects.get(kind="tare-change", key=change.pk), new_mg=6_020_000)
    chain_remade()
    return f"seal through {Seal.objects.first().through}"


def two_weighings_changed_places():
    one, other = Weighing.objects.filter(voucher__kind="count").order_by("pk")[:2]
    row_changed(one, container=other.container)
    row_changed(other, container=one.container)
    return f"voucher {one.voucher_id} "


def two_names_changed_places():
    one, other = Person.objects.filter(username__in=["oscar", "olive"])
    row_changed(one, name=other.name)
    row_changed(other, name=one.name)
    return f"Person {one.username}"


def two_parties_changed_codes():
    one, other = Party.objects.filter(role="supplier").order_by("pk")[:2]
    row_changed(one, code="P-1")
    row_changed(other, code=one.code)
    row_changed(one, code=other.code)
    return other.code


def attachment_and_another_file():
    one, other = Attachment.objects.filter(subject__startswith="certificate").order_by("pk")[:2]
    row_changed(one, sha256=other.sha256, size=other.size)
    return f"Attachment {one.pk}"


def issued_and_another_file():
    one, other = IssuedReport.objects.filter(format="csv").order_by("pk")[:2]
    row_changed(one, sha256=other.sha256, size=other.size)
    return f"report {one.pk}"


def thing_and_its_records_removed():
    one = Certificate.objects.last()
    found = Record.objects.filter(kind="certificate", key=one.pk)
    number = found.last().voucher_id
    found._raw_delete("default")
    Record.objects.filter(kind="words", key=f"certificate:{one.pk}")._raw_delete("default")
    Certificate.objects.filter(pk=one.pk)._raw_delete("default")
    return f"Voucher {number} "


def another_ledger_s_id():
    record = Record.objects.get(kind="ledger")
    record_remade(record, id="another")
    row_changed(record, key="another")
    row_changed(ChainHead.objects.get(), ledger_id="another")
    return "Voucher 1 "


def another_ledger_s_head():
    """The chain made anew from it, and the record that it begins with left."""
    row_changed(ChainHead.objects.get(), ledger_id="another")
    chain_remade()
    return "ledger another"


def a_kind_that_nobody_knows():
    """Under the digest, with no seal behind it."""
    row_changed(Record.objects.last(), kind="favour")
    chain_remade()
    return "'favour'"


def words_of_nothing():
    Record.objects.create(
        voucher=Voucher.objects.last(), line=99, kind="words", key="customer:C-999999", salt="", body="{}", digest=""
    )
    chain_remade()
    return "C-999999"


def rulebook_told_otherwise():
    record = Record.objects.get(kind="rulebook")
    record_remade(record, sha256="0" * 64)
    chain_remade()
    return "rulebook"


def settings_back_to_an_earlier_record():
    row_changed(Shop.objects.get(), altitude_m=0)
    return "Shop 1"


def container_moved_with_its_account():
    """An empty one elsewhere: its account goes with it, and nothing is anywhere in another quantity."""
    one = Container.objects.get(code="REC-2")
    account = one.account
    key = account.key.replace("Bay", "Van")
    row_changed(account, key=key, location="Van")
    row_changed(one, location=Container.objects.get(code="CAN-6").location)
    return "REC-2"


PAIRS = [
    certificate_and_its_record,
    words_and_their_record,
    words_and_row_blank,
    erased_words_back_in_their_row,
    erased_words_back_in_their_record,
    an_erasure_of_other_words,
    voucher_and_its_digest,
    job_and_its_record,
    line_total_and_record,
    movement_and_balances,
    movement_balances_and_the_chain,
    seal_total_and_its_digest,
    seal_balance_and_the_balance,
    weighing_and_its_detail,
    entry_and_container,
    entry_container_detail_and_the_chain,
    two_weighings_changed_places,
    two_names_changed_places,
    two_parties_changed_codes,
    attachment_and_another_file,
    issued_and_another_file,
    thing_and_its_records_removed,
    another_ledger_s_id,
    another_ledger_s_head,
    a_kind_that_nobody_knows,
    words_of_nothing,
    rulebook_told_otherwise,
    settings_back_to_an_earlier_record,
    container_moved_with_its_account,
]


@pytest.mark.parametrize("done", PAIRS, ids=lambda done: done.__name__)
def test_what_agrees_with_itself_is_named(world, done):
    with undone():
        called = done()
        said = faults()
        assert any(called in message for message in said), said


def a_note_told_otherwise():
    record = Record.objects.filter(kind="words", key__startswith="entry:").last()
    row_changed(Voucher.objects.get(pk=record.key.removeprefix("entry:")), note="otherwise")
    record_remade(record, note="otherwise")
    chain_remade()


def the_last_entry_cut_off():
    last = Voucher.objects.last()
    looks = Record.objects.filter(voucher=last)
    for record in looks.filter(kind="person"):
        before = Record.objects.filter(kind="person", key=record.key).exclude(voucher=last).last()
        row_changed(Person.objects.get(username=record.key), is_active=json.loads(before.body)["is_active"])
    looks.filter(kind="inspector-access").exists() or pytest.fail("the small shop ends otherwise by now")
    row_changed(tables()["shopledger.InspectorAccess"].objects.get(ended_at__isnull=False), ended_at=None, ended_by="")
    looks._raw_delete("default")
    Voucher.objects.filter(pk=last.pk)._raw_delete("default")
    chain_remade()


@pytest.mark.parametrize("done", [a_note_told_otherwise, the_last_entry_cut_off])
def test_a_chain_that_is_made_anew_is_named_by_a_head_kept_elsewhere(world, done):
    """After the last seal nothing in the database itself shows it: that is what a head is printed for."""
    head = ChainHead.objects.get().digest
    with undone():
        done()
        assert faults() == []
        assert any(head in message for message in faults(head=head))


def test_the_proof_since_the_seal_names_what_the_seal_keeps(world):
    """It begins with what the last seal keeps of accounts, so that is proved first."""
    assert verify_since_seal().faults == []
    seal = Seal.objects.last()
    balance, total = seal.balances.first(), seal.totals.first()
    for row, column, value in (
        (balance, "balance", balance.balance + 1),
        (balance, "account", Account.objects.exclude(pk__in=seal.balances.values("account")).first()),
        (total, "quantity", total.quantity + 1),
        (seal, "number", seal.number - 1),
        (seal, "digest", Voucher.objects.get(number=1).digest),
        (seal, "balances_sha256", "0" * 64),
        (seal, "owes", []),
        (seal, "made_by", "nobody"),
    ):
        with undone():
            row_changed(row, **{column: value})
            assert any(str(seal.through) in message for _, message in verify_since_seal().faults), (row, column)
    for rows in (SealBalance.objects.filter(pk=balance.pk), SealTotal.objects.filter(pk=total.pk)):
        with undone():
            rows._raw_delete("default")
            assert any(str(seal.through) in message for _, message in verify_since_seal().faults), rows.model
