"""Suppliers, reclaimers and destroyers: the ledger holds their codes, so that their names may change."""

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.audit.queries import changes_of
from inventory.ledger.actions import writing
from inventory.ledger.models import Account, Record, Voucher
from inventory.ledger.verify import verify
from inventory.parties.actions import save_party, supplier_called
from inventory.parties.models import Party
from inventory.shipping.actions import ship
from inventory.text.refusal import Refused
from tests.kept import posted
from tests.stock import came, delivery

pytestmark = pytest.mark.django_db
DAY = dt.date(2026, 3, 1)


def party(name, role="supplier", **said):
    return save_party(name=name, role=role, **{"address": "", "registration": "", **said})


def number_of(one):
    return int(one.code.removeprefix("P-"))


def test_codes_are_given_once_and_in_order():
    first, second = party("Acme"), supplier_called("Boreal")
    assert [one.code for one in (first, second)] == [f"P-{one.pk:06d}" for one in (first, second)]
    assert number_of(second) == number_of(first) + 1
    assert supplier_called("Boreal").code == second.code, "the same name is the same supplier"
    with writing():
        second.delete()
    assert number_of(supplier_called("Boreal")) == number_of(first) + 2, "no code is given a second time"
    assert Party.objects.get(pk=first.pk).code == first.code


def test_a_code_never_changes():
    stored = Party.objects.get(pk=party("Acme").pk)
    stored.code = "P-000999"
    with pytest.raises(Refused, match="cannot change: the ledger holds it"):
        stored.save()


@pytest.mark.parametrize(
    ("name", "said"),
    [
        (" ", "The name is blank; type what they are called."),
        ("Boreal", "There is a supplier called Boreal already."),
        ("x" * 201, "201 characters long"),
    ],
)
def test_a_name_that_cannot_be_is_refused(name, said):
    acme = party("Acme")
    party("Boreal")
    for changed in (acme, None):
        with pytest.raises(Refused, match=said) as refused:
            party(name, party=changed)
        assert refused.value.field == "name"
    assert sorted(Party.objects.values_list("name", flat=True)) == ["Acme", "Boreal"]


def test_another_role_may_have_the_same_name(office_client, shop):
    supplier, reclaimer = party("Acme"), party("Acme", "reclaimer")
    assert supplier.code != reclaimer.code and supplier_called("Acme") == supplier
    page = office_client.get("/leaving/new/").content.decode()
    assert ">Acme, supplier<" in page and ">Acme, reclaimer<" in page
    with pytest.raises(Refused, match="There is a supplier called Acme already"):
        party("Acme", party=reclaimer)
    assert Party.objects.get(pk=reclaimer.pk).role == "reclaimer"


def test_the_ledger_holds_codes_and_a_new_name_changes_nothing_in_it(shop, office_client, office):
    number = delivery(came("C1", net=500_000), day=DAY, document="D-1")
    acme = Party.objects.get()
    sent = ship(parcels={"C1": 100_000}, purpose="return", party=acme, document="", day=DAY, by="office")
    assert Account.objects.get(cls=3).name == acme.code
    kept = list(posted().values_list("detail", flat=True))
    assert acme.code in kept[0] and acme.code in kept[1] and "Acme" not in "".join(kept)
    assert not Record.objects.exclude(kind="words").filter(body__contains="Acme").exists()
    before = Voucher.objects.values_list("number", "digest")
    stood = list(before)
    change = {"name": "Boreal Gases", "role": "supplier", "address": "1 Road", "registration": ""}
    answer = office_client.post(reverse("party-edit", args=[acme.pk]), change)
    assert (answer.status_code, answer.url) == (302, reverse("parties"))
    assert Party.objects.get().code == acme.code and verify().faults == []
    told = Voucher.objects.latest("number")
    assert list(before.exclude(number=told.number)) == stood, "only that it is called so is added"
    assert (told.kind, told.recorded_by, told.movements.count()) == ("record", "oscar", 0)
    assert [(one.kind, one.key) for one in told.records.all()] == [("words", f"party:{acme.code}")]
    pages = {
        voucher: office_client.get(reverse("voucher", args=[voucher])).content.decode() for voucher in (number, sent)
    }
    pages[0] = office_client.get(reverse("shipment-receipt", args=[sent])).content.decode()
    for voucher, page in pages.items():
        assert f"Boreal Gases ({acme.code})" in page and "Acme" not in page, voucher
    again = office_client.get(reverse("party-edit", args=[acme.pk])).content.decode()
    assert acme.code in again and "Acme → Boreal Gases" in again, "what happened stands on its page"
    (made,) = [one for one in changes_of(acme) if one.kind == "changed"]
    assert (made.by, made.before, made.after) == (
        "oscar",
        {"name": "Acme"},
        {"name": "Boreal Gases", "address": "1 Road"},
    )
    office_client.post(reverse("party-edit", args=[acme.pk]), change)
    assert len(changes_of(acme)) == 2, "the second time nothing happens"


def test_a_refused_name_says_why_on_the_page(shop, office_client, technician_client):
    acme = party("Acme")
    party("Boreal")
    address = reverse("party-edit", args=[acme.pk])
    for name, said in (("", "required"), ("Boreal", "There is a supplier called Boreal already.")):
        answer = office_client.post(address, {"name": name, "role": "supplier", "address": "", "registration": ""})
        assert answer.status_code == 422 and said in answer.content.decode()
    assert technician_client.post(address, {"name": "Mine", "role": "supplier"}).status_code == 403
    assert Party.objects.get(pk=acme.pk).name == "Acme"


def test_a_party_is_found_by_its_code(shop, office_client):
    acme, _boreal = party("Acme"), party("Boreal")
    page = office_client.get(f"/receiving/parties/?text={acme.code.lower()}").content.decode()
    assert acme.code in page and "Acme" in page and "Boreal" not in page


def test_the_same_paper_of_a_renamed_supplier_is_still_the_same():
    number = delivery(came("C1", net=500_000), day=DAY, document="D-1")
    party("Boreal", party=Party.objects.get())
    with pytest.raises(Refused, match=f"Document D-1 of Boreal was entered before, as voucher {number} of"):
        delivery(came("C2", net=500_000), day=DAY, document="D-1", supplier="Boreal")
    delivery(came("C2", net=500_000), day=DAY, document="D-1", supplier="Acme")
    assert Party.objects.count() == 2, "who is called Acme now is somebody else"


def test_a_new_supplier_costs_one_question_more_than_its_row():
    """Within the action that names it, as a delivery does."""
    supplier_called("Acme")
    with writing():
        with CaptureQueriesContext(connection) as known:
            supplier_called("Acme")
        with CaptureQueriesContext(connection) as new:
            supplier_called("Boreal")
    assert len(known) == 1
    told = [one["sql"] for one in new if "inventory_party" in one["sql"]]
    assert [sql.split()[0] for sql in told] == ["SELECT", "INSERT", "UPDATE"]


def test_a_page_asks_once_however_many_parties_it_names(shop, office_client):
    def asked(number):
        with CaptureQueriesContext(connection) as captured:
            assert office_client.get(reverse("voucher", args=[number])).status_code == 200
        return len(captured)

    one = delivery(came("C1", net=500_000), day=DAY)
    many = delivery(*(came(f"M{n}", net=1_000, substance=s) for n, s in enumerate(["R-134a", "R-32"] * 4)), day=DAY)
    assert asked(many) == asked(one)
