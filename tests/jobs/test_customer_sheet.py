"""The sheet for the customer: one page, in plain words, of the revision that stands."""

import datetime as dt
import io

import pytest
from django.utils import timezone
from pypdf import PdfReader

from inventory.shop.models import Shop
from jobs.drafts.actions import change_job, enter_line
from jobs.drafts.hands import add_hand
from jobs.drafts.models import Job
from jobs.people.models import Person
from jobs.planning.static_pressure import gauge_pa
from jobs.sheet.customer_sheet import MORE, customer_sheet, standing
from jobs.signing.actions import correct_job, sign_job
from jobs.units.models import Unit
from tests.jobs.test_job_pages import job  # noqa: F401 (fixture)
from tests.jobs.test_jobs import bay, enter, whole_job  # noqa: F401 (fixtures)
from tests.kept import saved
from tests.reading import without_keys

pytestmark = pytest.mark.django_db
LONG = "The condenser was bent by a stone and leaked at its lower left corner, " * 60


def read(pdf):
    pages = PdfReader(io.BytesIO(pdf)).pages
    assert len(pages) == 1
    return " ".join(pages[0].extract_text().split())


def of(job):  # noqa: F811
    return read(customer_sheet(standing(Job.objects.get(pk=job.pk))))


def everything(job, technician):  # noqa: F811
    """A job with all that a customer is told, and all that they are not."""
    whole_job(job, technician)
    enter(job, technician, "oil-drain", quantity=20_000)
    at = timezone.now().replace(second=0, microsecond=0) - dt.timedelta(hours=3)
    minute = dt.timedelta(minutes=1)
    said = {"complaint": "Blows warm", "repairs": "New condenser", "parts": ["condenser"], "note": "for the shop alone"}
    leaks = {"leak_result": "found and repaired", "leak_method": "electronic"}
    test = {"test_medium": "nitrogen", "test_started": at, "test_ended": at + 30 * minute, "test_start_c": 20.0}
    test |= {"test_end_c": 20.0, **dict.fromkeys(("test_start_said", "test_end_said"), "20 bar")}
    test |= dict.fromkeys(("test_start_pa", "test_end_pa"), gauge_pa("20 bar", 0))
    pump = {"evacuation_started": at, "evacuation_ended": at + 40 * minute, "vacuum_said": "500 micron"}
    hold = {
        "hold_started": at + 40 * minute,
        "hold_ended": at + 54 * minute,
        "hold_start_pa": 67.0,
        "hold_end_pa": 80.0,
    }
    change_job(job.pk, by=technician, vent_c=6.5, ambient_c=21.5, **said, **leaks, **test, **pump, **hold)


def test_it_says_what_was_done_in_plain_words(job, technician):  # noqa: F811
    everything(job, technician)
    timur = Person.objects.create_user("timur", password="wet pump 7 am", name="Timur Test", role="technician")
    add_hand(job.pk, person=timur, by=technician)
    saved(Shop.objects.get(), name="Example Cooling", address="1 Test Street\nTestville")
    sign_job(job.pk, by=technician)
    words = of(job)
    for said in (
        "Example Cooling 1 Test Street, Testville Unit TST-1",
        "Day",
        "Ada Example",
        "TST-1",
        "Tess Test, with Timur Test",
        "You told us Blows warm",
        "120 g of R-134a taken out and kept.",
        "Repaired: New condenser",
        "Parts replaced: Condenser.",
        "Checked for leaks (electronic): found and repaired.",
        "Tested under pressure with dry nitrogen at 20 bar for 30 minutes: the pressure held.",
        "Air and water pumped out for 40 minutes to 500 micron.",
        "The vacuum was watched for 14 minutes: it held.",
        "20 mL of old oil taken out.",
        "30 mL of oil put in, PAG 46.",
        "516 g of R-134a put in. The label asks for 500 g to 540 g: within the label's range.",
        "Afterwards the air came out at 6.5 °C, with 21.5 °C outside.",
        "Refrigerant is not used up: what is missing has leaked out.",
        "Keep flames, sparks and hot surfaces away",
        "Local rules and licensed practice come first.",
    ):
        assert said in words, (said, words)
    assert "Found and not repaired" not in words


def test_one_minute_is_one(job, technician):  # noqa: F811
    everything(job, technician)
    started = Job.objects.get(pk=job.pk).test_started
    change_job(job.pk, by=technician, test_ended=started + dt.timedelta(minutes=1))
    sign_job(job.pk, by=technician)
    assert "at 20 bar for 1 minute:" in of(job)


def test_what_is_not_a_customer_s_is_not_on_it(job, technician):  # noqa: F811
    everything(job, technician)
    signed = sign_job(job.pk, by=technician)
    words = without_keys(of(job))
    assert signed.certificate == "Section 609 A-1"
    for kept_back in ("A-1", "609", "CAN-1", "REC-1", "OIL-1", "for the shop alone", "USD", "cost", "bench"):
        assert kept_back not in words, kept_back


def test_what_was_found_and_left_stands_apart(job, technician):  # noqa: F811
    whole_job(job, technician)
    bar = gauge_pa("20 bar", 0)
    test = {"test_start_pa": bar, "test_end_pa": bar * 0.9, "test_start_c": 20.0, "test_end_c": 20.0}
    hold = {"hold_start_pa": 67.0, "hold_end_pa": 900.0}
    change_job(job.pk, by=technician, leak_result="found, not repaired", **test, **hold)
    sign_job(job.pk, by=technician, reasons={"leak": "they insisted"})
    words = of(job)
    left = words[words.index("Found and not repaired") : words.index("To watch")]
    assert "A leak was found and is not repaired." in left and "did not hold the test pressure" in left
    assert "did not hold the vacuum: there is water in it, or a leak" in left
    assert "Have it repaired before it is filled again." in words


def test_too_much_and_too_little_is_to_be_watched(job, technician):  # noqa: F811
    enter(job, technician, "charge", "CAN-1", before=440_000, after=100_000)
    sign_job(job.pk, by=technician, reasons={"under": "no more here"})
    words = of(job)
    assert "There is less refrigerant in it than its label asks for (160 g under the label)." in words
    assert "It was not checked for leaks." in words
    new = correct_job(job.pk, by=technician, note="a can was forgotten")
    enter(new, technician, "charge", "CAN-2", before=440_000, after=200_000)
    sign_job(new.pk, by=technician, reasons={"over": "x"})
    assert "There is more refrigerant in it than its label asks for (40 g over the label)." in of(new)


def test_a_burning_gas_has_its_caution_first(job, technician):  # noqa: F811
    Unit.objects.update(refrigerant="R-1234yf")
    Job.objects.update(substance="R-1234yf", repairs="Looked at")
    sign_job(job.pk, by=technician)
    words = of(job)
    cautions = words[words.index("Cautions") :]
    assert cautions.index("This refrigerant can burn") < cautions.index("Keep flames")
    assert "Nothing was put in" not in words and "Repaired: Looked at" in words


def test_where_nothing_was_done_it_says_so(job, technician):  # noqa: F811
    sign_job(job.pk, by=technician, reasons={"empty": "they left"})
    assert "Nothing was put in or taken out." in of(job)


@pytest.mark.parametrize("text", [LONG, "word " * 1000, "x" * 4000, "line\n" * 300, "<b>&amp;" * 300, "氣" * 1000])
def test_it_is_always_one_page(job, technician, text):  # noqa: F811
    everything(job, technician)
    change_job(job.pk, by=technician, repairs=text, complaint=text)
    saved(Unit.objects.get(), name=text.replace("\n", " ")[:150].strip())
    saved(Shop.objects.get(), address="\n".join(["1 Test Street"] * 30))
    sign_job(job.pk, by=technician)
    words = of(job)
    assert MORE in words and "Local rules and licensed practice come first." in words
    assert "516 g of R-134a put in" in words, "figures are never cut"


def test_a_short_text_is_whole(job, technician):  # noqa: F811
    whole_job(job, technician)
    text = "The condenser was bent by a stone and leaked at its lower left corner. " * 4
    change_job(job.pk, by=technician, repairs=text)
    sign_job(job.pk, by=technician)
    assert " ".join(text.split()) in of(job) and MORE not in of(job)


# -- which revision, and to whom ---------------------------------------------------------------------------


def test_it_is_of_the_revision_that_stands(job, technician, technician_client):  # noqa: F811
    whole_job(job, technician)
    sign_job(job.pk, by=technician)
    once = technician_client.get(f"/jobs/{job.pk}/customer-sheet.pdf")
    assert once.headers["Content-Type"] == "application/pdf" and "corrected" not in read(once.content)
    assert technician_client.get(f"/jobs/{job.pk}/customer-sheet.pdf").content == once.content, "the same bytes"
    new = correct_job(job.pk, by=technician, note="the scale was misread by Bo")
    assert technician_client.get(f"/jobs/{new.pk}/customer-sheet.pdf").content == once.content, "until it is signed"
    line = new.lines.filter(action="charge").last()
    said = {"container": line.container.code, "before": line.before, "after": line.after - 10_000}
    enter_line(new.pk, by=technician, key=line.key, action="charge", **said)
    sign_job(new.pk, by=technician)
    for one in (job, new):
        words = read(technician_client.get(f"/jobs/{one.pk}/customer-sheet.pdf").content)
        assert "this is revision 2, and what was handed out before no longer counts" in words
        assert "526 g of R-134a put in" in words and "misread by Bo" not in words
        assert "For the customer (PDF)" in technician_client.get(f"/jobs/{one.pk}/").content.decode()


def test_of_a_draft_there_is_none(job, technician_client):  # noqa: F811
    answer = technician_client.get(f"/jobs/{job.pk}/customer-sheet.pdf")
    assert (answer.status_code, answer.url) == (302, f"/jobs/{job.pk}/")
    page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
    assert "the sheet for the customer is made of a signed job" in page


def test_it_is_drawn_from_the_record(job, technician, technician_client):  # noqa: F811
    everything(job, technician)
    sign_job(job.pk, by=technician)
    once = technician_client.get(f"/jobs/{job.pk}/customer-sheet.pdf").content
    Job.objects.update(repairs="nothing at all", vent_c=20.0, test_start_said="1 bar")
    assert technician_client.get(f"/jobs/{job.pk}/customer-sheet.pdf").content == once
