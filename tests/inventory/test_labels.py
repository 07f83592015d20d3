"""Labels: printed for what is chosen, and leading where the person is at work."""

import io
import uuid

import pytest
from pypdf import PdfReader

from inventory.containers.labels import Label, sheet, single
from jobs.drafts.actions import start_job
from tests.jobs.test_jobs import bay  # noqa: F401 (a fixture)

pytestmark = pytest.mark.django_db


def test_a_sheet_holds_24_labels_and_the_rest_goes_on_the_next():
    labels = [Label(f"CAN-{n:04d}", "R-134a virgin", "98 g", f"https://shop.example/scan/{n}/") for n in range(25)]
    pages = PdfReader(io.BytesIO(sheet(labels))).pages
    assert [page.extract_text().count("tare 98 g") for page in pages] == [24, 1]
    one = PdfReader(io.BytesIO(single(labels[3]))).pages[0]
    assert "CAN-0003" in one.extract_text() and "R-134a virgin" in one.extract_text()


def test_labels_are_printed_for_what_is_chosen(shop, bay, technician_client):  # noqa: F811
    answer = technician_client.get("/stock/labels/?codes=CAN-1&codes=CAN-2&codes=NONE")
    text = PdfReader(io.BytesIO(answer.content)).pages[0].extract_text()
    assert "CAN-1" in text and "CAN-2" in text and "tare 100 g" in text
    assert technician_client.get("/stock/labels/").status_code == 409


def test_a_scan_leads_to_the_container_or_into_the_one_job_under_way(shop, bay, technician, technician_client):  # noqa: F811
    assert technician_client.get("/scan/CAN-1/").url == "/stock/containers/CAN-1/"
    assert technician_client.get("/scan/NONE/").url == "/stock/", "and says that the label may be another shop's"
    job = start_job(unit=bay, technician=technician, by=technician, key=uuid.uuid4())
    assert technician_client.get("/scan/CAN-1/").url == f"/jobs/{job.pk}/?scanned=CAN-1#charge"
    assert technician_client.get("/scan/REC-1/").url == f"/jobs/{job.pk}/?scanned=REC-1#recover"
    page = technician_client.get(f"/jobs/{job.pk}/?scanned=CAN-2").content.decode()
    assert 'value="CAN-2"' in page
    start_job(unit=bay, technician=technician, by=technician, key=uuid.uuid4())
    assert technician_client.get("/scan/CAN-1/").url == "/stock/containers/CAN-1/"
