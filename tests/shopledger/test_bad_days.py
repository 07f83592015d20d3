"""What an owner needs on a bad day: back in after a lost password or phone, two copies told apart, backups that are
looked after, the ledger in a buyer's hands."""

import datetime as dt
import json
from types import SimpleNamespace

import pytest
from axes.models import AccessFailureLog
from django.core.management import call_command
from django.core.management.base import CommandError
from django.test import Client
from django.utils import timezone
from django_otp.plugins.otp_totp.models import TOTPDevice

from inventory.ledger.actions import Draft, post
from inventory.ledger.models import Record, Voucher
from inventory.ledger.verify import verify
from inventory.shop.clock import today
from jobs.people.actions import change_person
from jobs.people.models import Person
from shopledger.backup import backup, upkeep
from shopledger.backup.models import Upkeep, note
from shopledger.health.queries import health
from shopledger.signin.models import PaperCode, Passkey, SignIn
from tests.conftest import PASSWORD
from tests.shopledger.test_health import aged, voucher

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def data_dir(settings, tmp_path):
    settings.DATA_DIR = tmp_path / "data"
    settings.DATA_DIR.mkdir()
    return settings.DATA_DIR


def said(capsys, *words):
    call_command(*words)
    return capsys.readouterr().out


def refused(*words):
    with pytest.raises(CommandError) as error:
        call_command(*words)
    assert error.value.returncode == 1
    return str(error.value)


def password_in(text):
    return text.split("with the password ")[1].split()[0]


def signs_in(username, password):
    return Client().post("/sign-in/", {"username": username, "password": password}).status_code == 302


# -- a lost password, a lost phone -----------------------------------------------------------------------


def test_an_owner_who_lost_password_and_phone_is_let_in_from_the_machine(owner, owner_client, capsys):
    TOTPDevice.objects.create(user=owner, name="phone", confirmed=True)
    Passkey.objects.create(
        person=owner, name="key", credential="x", public_key="x", handle="x", site="x", verified=True
    )
    PaperCode.objects.create(person=owner, number=1, hashed="x")
    text = said(capsys, "let_in", "olive")
    password = password_in(text)
    assert not signs_in("olive", PASSWORD) and not signs_in("olive", password), "the phone is asked for still"
    assert owner_client.get("/").status_code == 302, "sessions of before have ended"
    text = said(capsys, "let_in", "OLIVE", "--second-factor")
    assert password_in(text) != password and "The second factor is off" in text
    assert signs_in("olive", password_in(text))
    told = [
        json.loads(body) for body in Record.objects.filter(kind="sign-in", key="olive").values_list("body", flat=True)
    ]
    assert [one["let in"] for one in told if "let in" in one] == ["by a command on the machine"] * 2
    assert any(one.get("second factor") == "off" for one in told)
    assert any(one.get("passkeys") == "1 removed" for one in told)
    assert not Passkey.objects.exists() and not PaperCode.objects.exists()
    assert password_in(text) not in json.dumps(told) and verify().holds


def test_owners_read_on_their_first_page_that_somebody_was_let_in(
    owner, technician, technician_client, shop, monkeypatch
):
    call_command("let_in", "tess")
    client = Client()
    client.force_login(owner)
    page = client.get("/").content.decode()
    assert "tess was given a new password by a command on the machine" in page
    assert "tess was given" not in technician_client.get("/", follow=True).content.decode()
    later = today() + dt.timedelta(days=31)
    monkeypatch.setattr("shopledger.signin.machine.today", lambda: later)
    assert "tess was given" not in client.get("/").content.decode()


def test_somebody_who_left_is_let_in_again_and_a_stranger_is_not(owner, technician, capsys):
    change_person(technician, by=None, is_active=False)
    assert signs_in("tess", password_in(said(capsys, "let_in", "tess")))
    assert "Nobody here has the username nobody. Owners are: olive." in refused("let_in", "nobody")
    Person.objects.filter(pk=technician.pk).update(role="inspector")
    assert "signs in as an inspector" in refused("let_in", "tess")


def test_without_an_owner_the_way_to_one_is_said():
    assert "createsuperuser" in refused("let_in", "olive")


# -- in other hands --------------------------------------------------------------------------------------


def test_a_ledger_in_a_buyer_s_hands_lets_in_the_buyer_alone(owner, technician, technician_client, shop, capsys):
    TOTPDevice.objects.create(user=owner, name="phone", confirmed=True)
    Passkey.objects.create(
        person=owner, name="key", credential="x", public_key="x", handle="x", site="x", verified=True
    )
    PaperCode.objects.create(person=owner, number=1, hashed="x")
    AccessFailureLog.objects.create(username="tess", ip_address="192.0.2.1")
    head = voucher()
    text = said(capsys, "hand_over", "bea", "--name", "Bea Buyer")
    assert signs_in("bea", password_in(text))
    assert not signs_in("tess", PASSWORD) and not signs_in("olive", PASSWORD)
    assert technician_client.get("/").status_code == 302
    people = {person.username: (person.role, person.is_active, person.left_on) for person in Person.objects.all()}
    day = today()
    assert people == {
        "bea": ("owner", True, None),
        "olive": ("owner", False, day),
        "tess": ("technician", False, day),
    }
    for passing in (TOTPDevice, Passkey, PaperCode, AccessFailureLog):
        assert not passing.objects.exists()
    assert SignIn.objects.exclude(person__username="bea").count() == 0
    assert not any(person.has_usable_password() for person in Person.objects.exclude(username="bea"))
    told = Record.objects.get(kind="sign-in", key="bea", body__contains='"ledger"')
    assert "handed over to them" in told.body and told.voucher_id > head
    assert verify().holds and "manage.py backup FILE" in text


def test_who_works_here_may_buy_it_and_a_job_that_waits_is_signed_first(owner, technician, shop, monkeypatch, capsys):
    from shopledger.signin import machine

    waiting = SimpleNamespace(objects=SimpleNamespace(filter=lambda **_: SimpleNamespace(count=lambda: 2)))
    with monkeypatch.context() as patched:
        patched.setattr(machine, "Job", waiting)
        assert "2 jobs wait to be signed" in refused("hand_over", "tess")
    assert signs_in("olive", PASSWORD), "nothing was changed"
    assert signs_in("tess", password_in(said(capsys, "hand_over", "tess")))
    assert Person.objects.get(username="tess").role == "owner" and not signs_in("olive", PASSWORD)
    assert "write" in refused("hand_over", "new one") or "may hold only" in refused("hand_over", "new one")


# -- two copies ------------------------------------------------------------------------------------------


@pytest.fixture
def copy(tmp_path, shop):
    """A backup of a ledger with an entry."""
    voucher()
    return backup.write_backup(tmp_path)["path"]


@pytest.mark.django_db(transaction=True)
def test_copies_are_told_apart_by_their_entries(copy, tmp_path, capsys):
    common = Voucher.objects.count()
    assert f"The same: this ledger and {copy.name} both end with entry {common}." in said(
        capsys, "verify", "--against", str(copy)
    )
    post(Draft("move", dt.date(2026, 3, 3), "olive", document="MOVE-1"))
    ahead = said(capsys, "verify", "--against", str(copy))
    assert f"This ledger is ahead of {copy.name}, which ends with entry {common}" in ahead
    assert f"one entry, {common + 1}" in ahead and "MOVE-1" in ahead
    digest = Voucher.objects.get(number=common).digest
    text = said(capsys, "verify", "--head", digest)
    assert f"The digest is that of entry {common} of " in text and "one entry came since" in text


def test_a_backup_of_another_ledger_or_none_is_said(copy, monkeypatch, tmp_path):
    from inventory.ledger.models import ChainHead

    ChainHead.objects.update(ledger_id="other")
    assert "is of another ledger" in refused("verify", "--against", str(copy))
    assert "cannot be read" in refused("verify", "--against", str(tmp_path / "none.zip"))


# -- backups that are looked after -----------------------------------------------------------------------


def line(name):
    return next(one for one in health().lines if one.name == name)


def test_a_shop_without_an_entry_is_asked_for_nothing():
    assert [one.state for one in upkeep.of_backups()[1:]] == ["good", "good"]
    voucher()
    assert [one.state for one in upkeep.of_backups()[1:]] == ["look", "look"]


@pytest.mark.parametrize(("apart", "state"), [(True, "good"), (False, "look"), (None, "look")])
def test_a_backup_belongs_on_another_disk(apart, state):
    note("backup", True, "400 vouchers.", apart=apart)
    assert line("apart").state == state
    if apart is False:
        assert "The last backup is not on another disk" in line("apart").said


def test_the_disk_is_asked_for_its_number_when_a_backup_is_made(tmp_path, monkeypatch, data_dir):
    voucher()
    backup.back_up(tmp_path)
    assert Upkeep.objects.get(kind="backup").apart is False
    real = type(tmp_path).stat

    def stat(path, **how):
        found = real(path, **how)
        return SimpleNamespace(st_dev=found.st_dev + 1) if path == data_dir else found

    monkeypatch.setattr(type(tmp_path), "stat", stat)
    assert backup.on_another_disk(tmp_path) is True
    assert backup.on_another_disk(tmp_path / "none") is None


@pytest.mark.parametrize(
    ("days", "well", "state"), [(0, True, "good"), (30, True, "good"), (31, True, "look"), (1, False, "wrong")]
)
def test_a_backup_is_restored_on_trial_every_thirty_days(days, well, state, monkeypatch):
    now = timezone.now()
    aged("trial", days, well)
    Upkeep.objects.filter(kind="trial").update(at=now - dt.timedelta(days=days))
    monkeypatch.setattr("shopledger.backup.upkeep.timezone.now", lambda: now)
    assert line("trial").state == state
    assert ("No backup was proved by a restoring for 30 days" in line("trial").said) == (days == 31)


def test_the_owner_reads_it_on_the_first_page(owner_client, technician_client, shop):
    voucher()
    assert "None was restored on trial yet." in owner_client.get("/").content.decode()
    assert "None was restored on trial yet." not in technician_client.get("/").content.decode()
    note("backup", True, "x", apart=True)
    note("trial", True, "x")
    assert "How the records are kept" not in owner_client.get("/").content.decode()
