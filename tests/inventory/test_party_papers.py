"""Certificates and declarations of suppliers: kept, withdrawn, and missed where bought gas was used before."""

import datetime as dt
import uuid

import pytest

from inventory.parties.actions import PaperSaid, keep_paper, supplier_called, withdraw_paper
from inventory.parties.models import PartyPaper
from inventory.receiving.origins import not_told
from inventory.reference.rulebook import rulebook
from inventory.shop.clock import today
from inventory.text.refusal import Refused
from inventory.verdicts.origin import origin
from shopledger.findings.rules.supplier_paper import find
from shopledger.reporting.report import Period
from tests.kept import saved
from tests.stock import came, delivery

G = 1000
DAY = dt.date(2026, 3, 2)


@pytest.mark.parametrize(
    ("book", "grade", "known", "answer"),
    [
        ("eu", "reclaimed", "", "open"),
        ("eu", "recycled", "", "open"),
        ("eu", "reclaimed", "declaration D-7", "met"),
        ("eu", "virgin", "", None),
        ("generic", "reclaimed", "", None),
        ("us-federal", "reclaimed", "", None),
    ],
)
def test_the_facility_is_asked_for_where_a_rulebook_wants_it(book, grade, known, answer):
    found = origin(rulebook(book), "R-404A", grade, DAY, known)
    assert (found and found.answer) == answer
    if found:
        assert "7(1)(d)" in found.cited


def paper(acme, first, last, **said):
    named = PaperSaid(**{"kind": "declaration", "number": "D-7", "valid_from": first, "valid_until": last, **said})
    return keep_paper(party=acme, said=named, by="oscar", key=uuid.uuid4())


@pytest.fixture
def acme(shop):
    """Reclaimed gas whose label names nobody, gas whose label does, and new gas."""
    saved(shop, rulebook="eu")
    said = {"net": 5_000 * G, "substance": "R-404A", "tare_mg": 5_000 * G}
    delivery(came("BARE", grade="reclaimed", **said), came("NEW", grade="virgin", **said), day=DAY)
    label = {"label_says": "reclaimed", "batch": "B-1", "facility": "Reclaim Hall, 2 Road"}
    delivery(came("TOLD", grade="reclaimed", **said, **label), day=DAY)
    return supplier_called("Acme")


def findings():
    return [one.what for one in find(Period(DAY, DAY), rulebook("eu"))]


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("first", "last", "missed"),
    [(0, 0, False), (0, None, False), (1, None, True), (-9, -1, True), (-9, 0, False)],
)
def test_a_paper_counts_from_its_first_day_to_its_last(acme, first, last, missed):
    assert len(findings()) == 1
    days = [None if one is None else DAY + dt.timedelta(one) for one in (first, last)]
    kept = paper(acme, *days)
    assert bool(findings()) is missed
    withdraw_paper(pk=kept.pk, why="another supplier's")
    assert len(findings()) == 1
    with pytest.raises(Refused, match="withdrawn already"):
        withdraw_paper(pk=kept.pk, why="again")


@pytest.mark.django_db
def test_a_registration_is_no_declaration(acme):
    paper(acme, DAY, None, kind="registration")
    assert len(findings()) == 1


@pytest.mark.django_db
def test_it_is_said_when_the_delivery_is_entered(acme):
    lines = [came("X", grade="reclaimed", net=1, substance="R-404A"), came("Y", grade="virgin", net=1)]
    (said,) = not_told(rulebook("eu"), acme, lines, DAY)
    assert "cannot be told" in said.said
    paper(acme, DAY, None)
    assert not_told(rulebook("eu"), acme, lines, DAY) == []


@pytest.mark.django_db
def test_a_paper_that_cannot_be_is_refused(acme):
    with pytest.raises(Refused, match="before its first"):
        paper(acme, DAY, DAY - dt.timedelta(1))
    with pytest.raises(Refused, match="Write its number"):
        paper(acme, DAY, None, number=" ")
    assert not PartyPaper.objects.exists()


@pytest.mark.django_db
def test_its_pages(acme, office_client):
    key = str(uuid.uuid4())
    said = {"key": key, "kind": "declaration", "number": "D-7", "valid_from": "2026-01-01", "valid_until": "2026-12-31"}
    address = f"/receiving/parties/{acme.pk}/papers/new/"
    wrong = office_client.post(address, {**said, "valid_until": "2025-12-31"})
    assert wrong.status_code == 422 and 'value="D-7"' in wrong.content.decode()
    assert office_client.post(address, said).status_code == 302
    kept = PartyPaper.objects.get()
    assert "Declaration D-7" in office_client.get(f"/receiving/parties/{acme.pk}/").content.decode()
    page = office_client.get(f"/receiving/papers/{kept.pk}/").content.decode()
    assert f"/attach/party-paper/{kept.pk}/" in page or "party-paper" in page
    assert office_client.post(f"/receiving/papers/{kept.pk}/withdraw/", {"why": "not theirs"}).status_code == 302
    kept.refresh_from_db()
    assert kept.withdrawn_on == today()
