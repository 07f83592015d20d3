"""What a count found, on paper: weighed, seen and assumed apart, with reasons, readers, note, and whether it stands."""

import datetime as dt
import io
import re

import pytest
from django.urls import reverse
from pypdf import PdfReader

from inventory.containers.actions import take_back
from inventory.counting import actions, entering
from inventory.ledger.models import Voucher
from tests.inventory.test_counting import DAY, G, count, enter, key, stock  # noqa: F401 (fixtures)
from tests.stock import charge

pytestmark = pytest.mark.django_db


def paper(client, made):
    answer = client.get(reverse("count-result", args=[made.pk]))
    assert answer.status_code == 200 and answer["Content-Type"] == "application/pdf"
    pages = PdfReader(io.BytesIO(answer.content)).pages
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pages))


@pytest.fixture
def posted(count):  # noqa: F811
    """A weighed and 500 g short, C seen; B and the oil assumed."""
    enter(count, "A", 12_500 * G)
    entering.give_reason(count_id=count.pk, code="A", reason="valve", note="hissing")
    enter(count, "C", None)
    actions.post_count(count_id=count.pk, by="olga", note="Half of the store")
    count.refresh_from_db()
    return count


def test_the_result_tells_weighed_seen_and_assumed_apart(posted, office_client):
    said = paper(office_client, posted)
    weighed, rest = said.split("Seen, not weighed")
    seen, assumed = rest.split("Assumed: neither weighed nor seen")
    assert "valve left open: hissing" in weighed and "Half of the store" in weighed and "by olga" in weighed
    assert "R-134a: 4 500 g in them, 5 000 g by the book, difference -500 g" in weighed
    assert "C refillable R-134a 7 000 g" in seen and "OIL" not in seen
    assert "B refillable R-134a 6 000 g" in assumed and "OIL oil PAG 46 250 mL" in assumed
    assert "Local rules and licensed practice come first" in said


def test_the_result_tells_what_the_scale_sent(count, office_client):  # noqa: F811
    enter(count, "A", 13_000 * G, raw="ST,GS,+0013.000kg<CR> | gross, stable")
    enter(count, "B", 14_000 * G)
    actions.post_count(count_id=count.pk, by="olga")
    count.refresh_from_db()
    said = paper(office_client, count)
    assert "A bench ST,GS,+0013.000kg (gross, stable)" in said and said.count("gross, stable") == 1


def test_what_was_seen_keeps_the_figure_of_that_day(posted, office_client):
    before = paper(office_client, posted).split("Seen, not weighed")[1].split("In all")[0]
    charge("C", 15_000 * G, 14_000 * G, day=DAY + dt.timedelta(days=1))
    after = paper(office_client, posted).split("Seen, not weighed")[1].split("In all")[0]
    assert before == after and "7 000 g" in after


def test_a_result_that_was_taken_back_says_so(posted, office_client):
    assert "nothing of this stands" not in paper(office_client, posted)
    answer = office_client.get(f"/ledger/{posted.voucher_id}/").content.decode()
    assert reverse("count-result", args=[posted.pk]) in answer
    assert reverse("count-result", args=[posted.pk]) in office_client.get(f"/counts/{posted.pk}/").content.decode()
    number = take_back(posted.voucher_id, by="olga", note="wrong place", key=str(key()))
    assert f"Taken back by voucher {number}: nothing of this stands." in paper(office_client, posted)


def test_a_count_under_way_has_no_result(count, office_client):  # noqa: F811
    assert office_client.get(reverse("count-result", args=[count.pk])).status_code == 404
    assert not Voucher.objects.filter(kind="count").exists()
