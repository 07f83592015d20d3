"""Customers: the ledger holds their codes, so that their names may change."""

import io
import json
import uuid

import pytest
from django.urls import reverse
from pypdf import PdfReader

from inventory.audit.queries import changes_of
from inventory.ledger.actions import writing
from inventory.ledger.models import Record, Voucher
from inventory.ledger.verify import verify
from inventory.text.refusal import Refused
from jobs.drafts.models import Job
from jobs.sheet.job_sheet import job_sheet
from jobs.signing.actions import sign_job
from jobs.units.actions import add_customer, change_customer, change_unit
from jobs.units.models import Customer
from jobs.units.queries import find_customers, find_units
from tests.jobs.test_jobs import bay, job, whole_job  # noqa: F401 (fixtures)

pytestmark = pytest.mark.django_db


@pytest.fixture
def signed(shop, job, technician):  # noqa: F811
    whole_job(job, technician)
    return sign_job(job.pk, by=technician)


def sheet(job):  # noqa: F811
    related = ("unit__customer", "technician", "voucher", "signed_by", "corrects")
    found = Job.objects.select_related(*related).get(pk=job.pk)
    return PdfReader(io.BytesIO(job_sheet(found))).pages[0].extract_text()


def test_codes_are_given_once_and_in_order():
    first, second = add_customer(by=None, name="Jo Bell"), add_customer(by=None, name="Al Fox")
    assert [one.code for one in (first, second)] == [f"C-{one.pk:06d}" for one in (first, second)]
    assert second.pk == first.pk + 1
    assert change_customer(first, by=None, name="Jo Fox").code == first.code
    with writing():
        second.delete()
    assert add_customer(by=None, name="Al Fox").pk == first.pk + 2, "no code is given a second time"
    stored = Customer.objects.get(pk=first.pk)
    stored.code = "C-000999"
    with pytest.raises(Refused, match="cannot change: the ledger holds it"):
        stored.save()


def test_a_customer_is_found_by_the_code(bay):  # noqa: F811
    ada, other = bay.customer, add_customer(by=None, name="Al Fox")
    assert list(find_customers(ada.code.lower())) == [ada]
    assert list(find_customers(other.code)) == [other]
    assert list(find_units(ada.code)) == [bay]
    change_customer(ada, by=None, name="Ada Newname")
    assert list(find_customers(f"newname {ada.code}")) == [ada], "also under the new name"


def test_the_ledger_holds_the_code_and_a_new_name_changes_nothing_in_it(signed, technician_client, office_client):
    ada = signed.unit.customer
    assert json.loads(signed.voucher.detail)["customer"] == ada.code
    before = Voucher.objects.values_list("number", "digest")
    stood = list(before)
    assert not Record.objects.exclude(kind="words").filter(body__contains="Ada Example").exists()
    address = reverse("customer-edit", args=[ada.pk])
    change = {"key": str(uuid.uuid4()), "name": "Ada Newname", "phone": "", "address": "", "note": ""}
    answer = office_client.post(address, change)
    assert (answer.status_code, answer.url) == (302, reverse("customer", args=[ada.pk]))
    told = Voucher.objects.latest("number")
    assert list(before.exclude(number=told.number)) == stood and verify().faults == []
    assert (told.kind, told.recorded_by) == ("record", "oscar")
    assert [(one.kind, one.key) for one in told.records.all()] == [("words", f"customer:{ada.code}")]
    voucher = office_client.get(reverse("voucher", args=[signed.voucher_id])).content.decode()
    assert f"Ada Newname ({ada.code})" in voucher and "Ada Example" not in voucher
    assert "Ada Newname" in technician_client.get(reverse("job", args=[signed.pk])).content.decode()
    page = office_client.get(answer.url).content.decode()
    assert f"<p>{ada.code}</p>" in page and "Ada Example → Ada Newname" in page
    assert ada.code in office_client.get(reverse("customers")).content.decode()
    assert [(one.by, one.kind) for one in changes_of(ada)] == [("oscar", "changed"), ("command line", "made")]
    office_client.post(address, change | {"key": str(uuid.uuid4())})
    assert len(changes_of(ada)) == 2, "the second time nothing happens"


def test_a_name_that_cannot_be_is_refused(signed, office_client):
    ada = signed.unit.customer
    add_customer(by=None, name="Al Fox")
    address = reverse("customer-edit", args=[ada.pk])
    for name, said in (
        ("", "Type the customer"),
        ("al  fox", "There is a customer Al Fox with no phone number already"),
    ):
        change = {"key": str(uuid.uuid4()), "name": name, "phone": "", "address": "", "note": ""}
        answer = office_client.post(address, change)
        assert said in answer.content.decode()
    assert Customer.objects.get(pk=ada.pk).name == "Ada Example"


def test_a_signed_sheet_names_who_owned_the_unit_then_by_the_present_name(signed, owner):
    ada = signed.unit.customer
    change_customer(ada, by=owner, name="Ada Newname")
    assert "Ada Newname" in sheet(signed)
    change_unit(signed.unit, by=owner, customer="Someone Else")
    assert "Ada Newname" in sheet(signed) and "Someone Else" not in sheet(signed)
