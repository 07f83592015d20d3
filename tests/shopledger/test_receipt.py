"""The receipt of a seal: what the page says, that it proves what came before it, and that it is given away."""

import datetime as dt
import hashlib
import io
import uuid

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection
from pypdf import PdfReader

from inventory.ledger.accounts import AccountClass, Spot, Transfer
from inventory.ledger.actions import Draft, post
from inventory.ledger.erasing import erase
from inventory.ledger.models import ChainHead, Record, Seal, Voucher
from inventory.ledger.verify import verify
from inventory.parties.actions import supplier_called
from inventory.receiving.actions import Arrival, receive
from inventory.reference.refrigerants import refrigerants
from inventory.shop.clock import today
from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from shopledger.sealing import receipt
from shopledger.sealing.actions import hand_out, keep_receipt, seal_period
from shopledger.sealing.queries import HANDED, entry_of, handed_out, not_handed_out
from shopledger.sealing.receipt import LISTED, receipt_pdf
from tests.kept import saved, unguarded

pytestmark = pytest.mark.django_db
G = 1000
MARCH, APRIL = dt.date(2026, 3, 31), dt.date(2026, 4, 30)
ROOM = {"substance": "R-134a", "is_oil": False, "location": "Store", "grade": "virgin", "tare_mg": 110 * G}


@pytest.fixture(autouse=True)
def data(settings, tmp_path):
    settings.DATA_DIR = tmp_path / "data"
    settings.DATA_DIR.mkdir()
    return settings.DATA_DIR


def deliver(day, count=2, **more):
    lines = [Arrival(**ROOM | {"kind": "can", "net": 340 * G, "count": count} | more)]
    return receive(
        lines=lines, supplier=supplier_called("Acme"), document=f"D {day}", day=day, by="oscar", key=str(uuid.uuid4())
    )


@pytest.fixture
def sealed(shop):
    """March closed, with two cans of 340 g."""
    deliver(dt.date(2026, 3, 10))
    return seal_period(MARCH, "olive")


def said(made):
    pages = PdfReader(io.BytesIO(receipt_pdf(made))).pages
    assert len(pages) == 1
    return " ".join(pages[0].extract_text().split())


def printed_digest(text):
    """As somebody reads it from the paper: the groups of four below the line that names the entry."""
    return " ".join(text.split("in groups of four:")[1].split()[:16])


def hand(made, to="Ada Example", day=None, key=None):
    return hand_out(made, to=to, day=day or today(), by="olive", key=key or str(uuid.uuid4()))


# -- the page --------------------------------------------------------------------------------------------------


def test_the_page_says_what_was_closed_and_binds_it(sealed):
    text, entry = said(sealed), Voucher.objects.get(kind="seal")
    assert "All days up to and including 2026-03-31 are closed." in text
    assert f"Voucher {entry.number}, of the kind seal" in text and entry.digest != sealed.digest
    assert printed_digest(text).replace(" ", "") == entry.digest
    assert f"Ledger at voucher {entry.number}, digest {entry.digest}" in text, "and whole in the foot"
    assert ChainHead.objects.get().ledger_id in text and "this is the first seal" in text
    assert "Test Shop" in text and "1 Test Street" in text and "Handed out by" in text and "Received by" in text
    assert "bookkeeper, the insurer, a customer or the inspector" in text and "verify --head" in text
    assert "680.000" in text and "R-134a" in text and "Local rules and licensed practice come first." in text
    assert "Invented shop" not in text


def test_the_counts_are_those_of_the_chain_up_to_the_entry(sealed):
    entry, records = entry_of(sealed).number, Record.objects.count()
    deliver(dt.date(2026, 4, 10))
    words = said(sealed).split()
    titles = ["Vouchers", "Movements", "Records", "Containers", "Substances"]
    shown = [int(words[words.index(title) + 1]) for title in titles]
    assert shown == [entry, 2, records, 2, 1], "each can came by a movement of its own"


def test_the_receipt_before_is_named(sealed):
    before = entry_of(sealed)
    deliver(dt.date(2026, 4, 10))
    text = said(seal_period(APRIL, "olive"))
    assert f"voucher {before.number}, up to 2026-03-31" in text
    assert before.digest in "".join(text.split())


def test_the_same_seal_gives_the_same_bytes(sealed):
    first = receipt_pdf(sealed)
    saved(Shop.objects.get(), name="Another name", address="Elsewhere", timezone="Asia/Tokyo")
    deliver(dt.date(2026, 4, 10))
    seal_period(APRIL, "olive")
    assert receipt_pdf(sealed) == first


def test_an_invented_shop_says_so(shop):
    saved(shop, invented=True)
    assert "Invented shop, people and vehicles" in said(seal_period(MARCH, "olive"))


def test_the_checking_program_is_named_where_there_is_one(sealed, tmp_path, monkeypatch):
    monkeypatch.setattr(receipt, "CHECKER", tmp_path / "verify.py")
    assert "Checking program" not in said(sealed)
    (tmp_path / "verify.py").write_bytes(b"print()\n")
    assert hashlib.sha256(b"print()\n").hexdigest() in "".join(said(sealed).split())


def test_many_substances_stay_on_one_page(shop):
    codes = list(refrigerants())[:40]
    moves = tuple(
        Transfer(
            Spot(code, AccountClass.SUPPLIER, "P-000001"),
            Spot(code, AccountClass.CONTAINER, f"C-{code}", "Store", "virgin"),
            10_000_000_000,
        )
        for code in codes
    )
    post(Draft(kind="receipt", day=dt.date(2026, 3, 1), recorded_by="o" * 150, transfers=moves))
    saved(Shop.objects.get(), name="A name " * 25, address="Street " * 80)
    assert f"{len(codes) - LISTED} more stand in the usage report" in said(seal_period(MARCH, "o" * 150))


def test_an_empty_ledger_has_a_receipt(shop):
    assert "No container held anything at the end of 2026-03-31" in said(seal_period(MARCH, "olive"))


# -- what it proves --------------------------------------------------------------------------------------------


def test_the_printed_digest_is_held_until_the_tail_is_cut(sealed, capsys):
    typed = printed_digest(said(sealed))
    call_command("verify", head=typed)
    call_command("verify", head=typed.upper(), since_seal=True)
    cut_from(entry_of(sealed).number)
    assert verify().faults == [], "the ledger alone does not know that its end is gone"
    with pytest.raises(CommandError, match="The chain does not hold the digest"):
        call_command("verify", head=typed)


def cut_from(number):
    """The ledger as if nothing from this entry on, the seal, had ever been entered."""
    with unguarded(), connection.cursor() as cursor:
        for table in ("sealbalance", "sealtotal", "seal"):
            cursor.execute(f"DELETE FROM inventory_{table}")
        cursor.execute("DELETE FROM inventory_record WHERE voucher_id >= %s", [number])
        cursor.execute("DELETE FROM inventory_voucher WHERE number >= %s", [number])
        last = Voucher.objects.latest("number")
        cursor.execute(
            "UPDATE inventory_chainhead SET number = %s, digest = %s, recorded_at = %s",
            [last.number, last.digest, last.recorded_at],
        )


def test_the_digest_is_found_in_the_list_of_vouchers(sealed, owner_client):
    entry = entry_of(sealed)
    answer = owner_client.get("/ledger/", {"digest": printed_digest(said(sealed))})
    assert answer.status_code == 302 and answer.url == f"/ledger/{entry.number}/"


def test_a_seal_that_no_entry_made_has_no_receipt(sealed, owner_client):
    with unguarded(), connection.cursor() as cursor:
        cursor.execute("UPDATE inventory_record SET key = '2026-03-30' WHERE kind = 'seal'")
    with pytest.raises(Refused, match="No entry of the chain sealed the days up to 31 Mar 2026"):
        receipt_pdf(sealed)
    with pytest.raises(Refused, match="No entry of the chain"):
        hand(sealed)
    assert owner_client.get(f"/seals/{sealed.pk}/receipt/").status_code == 404
    page = owner_client.get(f"/seals/{sealed.pk}/").content.decode()
    assert "No entry of the chain made this seal" in page and "Receipt (PDF)" not in page


# -- the file that the command writes --------------------------------------------------------------------------


def test_the_command_writes_the_receipt_and_says_where(shop, data, capsys):
    deliver(dt.date(2026, 3, 10))
    call_command("seal", through=MARCH)
    seal = Seal.objects.get()
    path = data / "receipts" / f"receipt-2026-03-31-voucher-{entry_of(seal).number}.pdf"
    assert str(path) in capsys.readouterr().out
    assert path.read_bytes() == receipt_pdf(seal)


def test_a_receipt_on_the_disk_is_never_overwritten(sealed):
    path = keep_receipt(sealed)
    path.write_bytes(b"signed and scanned")
    assert keep_receipt(sealed) == path and path.read_bytes() == b"signed and scanned"


def test_a_full_disk_says_so(sealed, data):
    (data / "receipts").write_text("in the way")
    with pytest.raises(Refused, match="The receipt could not be kept"):
        keep_receipt(sealed)


def test_sealing_on_the_page_keeps_the_receipt_too(shop, data, owner_client):
    deliver(dt.date(2026, 3, 10))
    owner_client.post("/seals/new/", {"through": "2026-03-31", "sure": "on"})
    assert len(list((data / "receipts").iterdir())) == 1


# -- in other hands --------------------------------------------------------------------------------------------


def test_a_receipt_is_marked_as_handed_out(sealed, owner_client, office_client):
    address, key = f"/seals/{sealed.pk}/handed/", str(uuid.uuid4())
    assert "what binds this shop to its past" in owner_client.get(address).content.decode()
    sent = {"key": key, "to": "Ada Example, bookkeeper", "day": str(today())}
    for _ in range(2):
        answer = owner_client.post(address, sent)
        assert answer.status_code == 302 and answer.url == f"/seals/{sealed.pk}/"
    (entry,) = Voucher.objects.filter(kind="handout")
    assert (entry.recorded_by, entry.movements.count()) == ("olive", 0)
    assert "Ada" not in entry.detail, "a name that can be erased stands in no digest's own text"
    page = office_client.get(f"/seals/{sealed.pk}/").content.decode()
    assert "Ada Example, bookkeeper" in page and "marked by olive" in page and "Mark as handed out" not in page
    assert "Sealed through" in office_client.get(f"/ledger/{entry.number}/").content.decode()
    assert verify().faults == []


def test_it_can_be_handed_out_again_and_in_the_same_words(sealed):
    first, second, third = hand(sealed), hand(sealed), hand(sealed, to="Ben")
    assert [(one.number, one.to, one.day, one.by) for one in handed_out(sealed)] == [
        (third, "Ben", today(), "olive"),
        (second, "Ada Example", today(), "olive"),
        (first, "Ada Example", today(), "olive"),
    ]
    assert verify().faults == []


@pytest.mark.parametrize(
    ("change", "field", "message"),
    [
        ({"to": "  "}, "to", "Enter it"),
        ({"to": "x" * 201}, "to", "at most 200"),
        ({"day": lambda: today() - dt.timedelta(1)}, "day", "nobody had it before"),
        ({"day": lambda: today() + dt.timedelta(1)}, "day", "still to come"),
        ({"day": "soon"}, "day", "no day of the calendar"),
        ({"key": ""}, "key", "lost its number"),
    ],
)
def test_what_cannot_be_is_refused(sealed, owner_client, change, field, message):
    sent = {"key": str(uuid.uuid4()), "to": "Ada", "day": str(today())}
    sent |= {name: str(value() if callable(value) else value) for name, value in change.items()}
    answer = owner_client.post(f"/seals/{sealed.pk}/handed/", sent)
    assert answer.status_code == 422 and message in answer.content.decode()
    assert field in answer.context["form"].errors or field == "key"
    assert not Voucher.objects.filter(kind="handout").exists()


def test_the_action_itself_refuses_who_and_when(sealed):
    for more in (
        {"to": " "},
        {"day": today() - dt.timedelta(1)},
        {"day": today() + dt.timedelta(1)},
        {"to": "x" * 201},
    ):
        with pytest.raises(Refused):
            hand(sealed, **more)


def test_only_the_owner_marks_and_the_office_prints(sealed, technician_client, office_client):
    pdf, form = f"/seals/{sealed.pk}/receipt/", f"/seals/{sealed.pk}/handed/"
    answer = office_client.get(pdf)
    assert answer.content == receipt_pdf(sealed) and "receipt-2026-03-31-voucher" in answer["Content-Disposition"]
    assert office_client.post(form, {"to": "me"}).status_code == office_client.get(form).status_code == 403
    assert technician_client.get(pdf).status_code == 403


def test_the_name_can_be_erased_and_that_it_was_handed_out_stays(sealed, owner_client):
    hand(sealed)
    assert "Erase words of Receipt" in owner_client.get(f"/erasing/{HANDED}/2026-03-31/").content.decode()
    assert owner_client.get(f"/erasing/{HANDED}/2026-04-30/").status_code == 404
    erase(HANDED, "2026-03-31", why="mistake", by="olive")
    assert [one.to for one in handed_out(sealed)] == [""] and not_handed_out() is None
    assert "the name was erased" in owner_client.get(f"/seals/{sealed.pk}/").content.decode()
    assert not Record.objects.filter(body__contains="Ada Example").exists()
    assert verify().faults == []


# -- the reminder ----------------------------------------------------------------------------------------------

REMINDS = "what binds this shop to its past"


def test_the_reminder_goes_once_somebody_holds_the_latest_one(sealed, owner_client, office_client):
    def reminded():
        pages = ("/seals/", "/month/?month=2026-03")
        found = [
            REMINDS in client.get(page).content.decode() for page in pages for client in (owner_client, office_client)
        ]
        return [*found, "A receipt to hand out" in owner_client.get("/").content.decode()]

    assert reminded() == [True] * 5
    assert "A receipt to hand out" not in office_client.get("/").content.decode()
    hand(sealed)
    assert reminded() == [False] * 5
    second = seal_period(APRIL, "olive")
    assert reminded() == [True] * 5 and not_handed_out() == second
    hand(sealed)
    assert reminded() == [True] * 5, "that of an earlier seal says nothing of this one"


def test_where_nothing_is_sealed_nothing_reminds(shop, owner_client):
    assert REMINDS not in owner_client.get("/seals/").content.decode()
    assert "A receipt to hand out" not in owner_client.get("/").content.decode()
