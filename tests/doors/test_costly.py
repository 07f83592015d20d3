"""What costs much: one at a time for a person, few in all, and a file that a scanner takes for harmful is not kept."""

import sys
import threading
import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from inventory.attachments.actions import attach
from inventory.attachments.models import Attachment
from inventory.shop import turns
from inventory.shop.clock import today
from inventory.text.refusal import Refused
from shopledger.inspection.models import BundleOrder
from shopledger.inspection.work import order_bundle
from tests.inventory.test_attachments import PDF, picture, uploads  # noqa: F401 (a fixture)

pytestmark = pytest.mark.django_db


class Asked:
    """A request of somebody."""

    def __init__(self, pk):
        self.user = self
        self.pk = pk


def test_a_person_has_one_costly_answer_at_a_time_and_all_have_three():
    with turns.in_turn(Asked(1)):
        with pytest.raises(turns.TooBusy, match="asked for before"), turns.in_turn(Asked(1)):
            pass
        with (
            turns.in_turn(Asked(1), costly=False),
            turns.in_turn(Asked(2)),
            turns.in_turn(Asked(3)),
            pytest.raises(turns.TooBusy, match="3 papers or files"),
            turns.in_turn(Asked(4)),
        ):
            pass
        with turns.in_turn(Asked(4)):
            pass
    assert turns._running == []


def test_it_is_given_back_whatever_happens():
    for _ in range(5):
        with pytest.raises(ZeroDivisionError), turns.in_turn(Asked(1)):
            raise ZeroDivisionError
    assert turns._running == []


def test_the_page_says_to_ask_again(shop, owner, owner_client, office_client):
    begun, go_on = threading.Event(), threading.Event()

    def makes_something():
        with turns.in_turn(Asked(owner.pk)):
            begun.set()
            go_on.wait(60)

    other = threading.Thread(target=makes_something)
    other.start()
    begun.wait(60)
    try:
        for address in ("/reports/usage/?format=csv", "/stock/?export=csv"):
            answer = owner_client.get(address)
            assert answer.status_code == 429 and answer["Retry-After"] == "10", address
            assert "still being made" in answer.content.decode()
            assert office_client.get(address).status_code == 200, "somebody else is not held up"
        assert owner_client.get("/reports/usage/").status_code == 200, "nor is a page"
    finally:
        go_on.set()
        other.join()
    assert owner_client.get("/reports/usage/?format=csv").status_code == 200


def test_the_next_bundle_waits_for_the_last(shop, settings, tmp_path):
    settings.DATA_DIR = tmp_path
    key = uuid.uuid4()
    order_bundle(first=today(), last=today(), by="oscar", key=key)
    assert order_bundle(first=today(), last=today(), by="oscar", key=key), "the same form again"
    with pytest.raises(Refused, match="still being made"):
        order_bundle(first=today(), last=today(), by="oscar", key=uuid.uuid4())
    order_bundle(first=today(), last=today(), by="olive", key=uuid.uuid4())
    BundleOrder.objects.update(state="made")
    order_bundle(first=today(), last=today(), by="oscar", key=uuid.uuid4())
    assert BundleOrder.objects.count() == 3


SCANNER = "import sys; body = sys.stdin.buffer.read(); sys.exit({code} if b'EVIL' in body else 0)"


def kept(body):
    return attach(subject="voucher:1", upload=SimpleUploadedFile("i.pdf", body), by="oscar")


def test_what_a_scanner_takes_for_harmful_is_not_kept(settings, uploads):  # noqa: F811
    settings.SCANNER = [sys.executable, "-c", SCANNER.format(code=1)]
    assert kept(PDF).name == "i.pdf"
    with pytest.raises(Refused, match="takes the file for harmful"):
        kept(PDF.replace(b"obj", b"EVIL", 1))
    assert Attachment.objects.count() == 1 and len([one for one in uploads.rglob("*") if one.is_file()]) == 1


@pytest.mark.parametrize("command", [["/no/such/scanner"], [sys.executable, "-c", SCANNER.format(code=2)]])
def test_what_no_scanner_could_look_at_is_not_kept_either(settings, command):
    settings.SCANNER = command
    with pytest.raises(Refused, match="does not answer"):
        kept(PDF.replace(b"obj", b"EVIL", 1))
    assert Attachment.objects.count() == 0


def test_what_is_scanned_is_what_is_kept(settings, tmp_path):
    """A picture after it was drawn anew."""
    settings.SCANNER = [
        sys.executable,
        "-c",
        f"import sys; open({str(tmp_path / 'seen')!r}, 'wb').write(sys.stdin.buffer.read())",
    ]
    one = attach(subject="voucher:1", upload=SimpleUploadedFile("p.jpg", picture() + b"hidden"), by="oscar")
    assert (tmp_path / "seen").read_bytes() == one.path.read_bytes()
