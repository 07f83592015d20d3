"""Sealing a period, its reports as issued, and what later corrections do to the reports of both periods."""

import csv
import datetime as dt
import io
import json
import uuid
import zipfile

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import DatabaseError, connection, transaction
from pypdf import PdfReader

from inventory.containers.actions import take_back
from inventory.ledger.models import Seal, Voucher
from inventory.ledger.verify import verify
from inventory.measures.days import said_day
from inventory.parties.actions import supplier_called
from inventory.receiving.actions import Arrival, receive
from inventory.reference.rulebook import rulebook
from inventory.shop.clock import today
from inventory.shop.models import DEFAULT_RULEBOOK
from inventory.text.refusal import Refused
from jobs.drafts.actions import change_job, enter_line
from jobs.signing.actions import correct_job, sign_job
from shopledger.inspection.bundle import write_bundle
from shopledger.reporting.output import as_csv, make
from shopledger.reporting.report import Period
from shopledger.reports.registry import REPORTS, wanted
from shopledger.sealing.actions import issue, seal_period
from shopledger.sealing.models import IssuedReport
from shopledger.sealing.proof import read_issued
from shopledger.sealing.queries import FORMATS, missing, period_of
from tests.jobs.test_jobs import bay, job, whole_job  # noqa: F401 (fixtures)

pytestmark = pytest.mark.django_db
G = 1000
MARCH = Period(dt.date(2026, 3, 1), dt.date(2026, 3, 31))
OWED = wanted(rulebook(DEFAULT_RULEBOOK), MARCH.last)  # the reports of a shop that chose no rulebook
LATER = Period(dt.date(2026, 4, 1), dt.date(2999, 12, 31))


@pytest.fixture(autouse=True)
def data(settings, tmp_path):
    settings.DATA_DIR = tmp_path / "data"
    settings.DATA_DIR.mkdir()
    return settings.DATA_DIR


@pytest.fixture
def delivered(shop):
    """A delivery of March, two cans of 340 g."""
    return receive(
        lines=[Arrival("can", "R-134a", False, "virgin", 340 * G, 2, "Store", tare_mg=110 * G, price_minor=1000)],
        supplier=supplier_called("Acme"),
        document="D-1",
        day=dt.date(2026, 3, 10),
        by="oscar",
        key=str(uuid.uuid4()),
    )


def rows(name, period):
    return list(csv.DictReader(io.StringIO(as_csv(make(REPORTS[name], period, None, "x")).decode())))


def test_a_period_is_sealed_and_its_reports_are_kept(delivered, owner_client, data):
    page = owner_client.get("/seals/new/?through=2026-03-31")
    assert "cannot be undone" in page.content.decode() and "Deliveries without their paper" in page.content.decode()
    answer = owner_client.post("/seals/new/", {"through": "2026-03-31", "sure": "on"}, follow=True)
    seal = Seal.objects.get()
    assert answer.redirect_chain[-1][0] == f"/seals/{seal.pk}/" and "not kept yet" not in answer.content.decode()
    assert period_of(seal) == Period(dt.date(2026, 3, 10), dt.date(2026, 3, 31)), "since the first voucher"
    kept = {(row.report, row.format): row for row in IssuedReport.objects.all()}
    assert set(kept) == {(name, kind) for name in OWED for kind in FORMATS}
    body = read_issued(kept["usage", "csv"])
    assert body == as_csv(make(REPORTS["usage"], period_of(seal), None, "x"))
    pdf = owner_client.get(f"/issued/{kept['usage', 'pdf'].pk}/")
    assert "680.000" in PdfReader(io.BytesIO(pdf.content)).pages[0].extract_text()
    assert "as-issued.pdf" in pdf["Content-Disposition"]
    again = owner_client.post("/seals/new/", {"through": "2026-03-31", "sure": "on"})
    assert again.status_code == 302 and Seal.objects.count() == 1, "a second tap seals nothing more"
    shown = owner_client.get("/reports/usage/?first=2026-03-10&last=2026-03-31").content.decode()
    assert "As issued then" in shown
    assert verify().holds


@pytest.mark.parametrize(
    ("data_sent", "said"),
    [
        ({"through": "2026-03-31"}, "Look over the mass balance first"),
        ({"through": "tomorrow", "sure": "on"}, "no day of the calendar"),
        ({"through": "2056-01-01", "sure": "on"}, "has not ended"),
    ],
)
def test_what_cannot_be_sealed_says_why(delivered, owner_client, data_sent, said):
    answer = owner_client.post("/seals/new/", data_sent)
    assert answer.status_code == 422 and said in answer.content.decode() and not Seal.objects.exists()


def test_a_day_within_a_sealed_period_is_refused(delivered, owner_client):
    seal_period(MARCH.last, "olive")
    answer = owner_client.post("/seals/new/", {"through": "2026-03-30", "sure": "on"})
    assert answer.status_code == 422 and "sealed already" in answer.content.decode()


def test_only_the_owner_seals(delivered, office_client):
    assert office_client.post("/seals/new/", {"through": "2026-03-31", "sure": "on"}).status_code == 403
    assert not Seal.objects.exists()


def test_an_empty_ledger_is_sealed_and_has_nothing_to_report(shop, owner_client):
    owner_client.post("/seals/new/", {"through": "2026-03-31", "sure": "on"})
    seal = Seal.objects.get()
    assert not IssuedReport.objects.exists()
    assert "nothing to report" in owner_client.get(f"/seals/{seal.pk}/").content.decode()


def test_the_next_seal_covers_the_days_after_the_one_before(delivered):
    seal_period(MARCH.last, "olive")
    second = seal_period(dt.date(2026, 4, 30), "olive")
    assert period_of(second) == Period(dt.date(2026, 4, 1), dt.date(2026, 4, 30))


def test_keeping_goes_on_where_it_was_cut_short(delivered, owner_client, monkeypatch, capsys):
    seal = seal_period(MARCH.last, "olive")
    some = issue(seal, "olive")
    with connection.cursor() as cursor:
        from inventory.ledger import triggers

        triggers.drop(connection)
        cursor.execute("DELETE FROM shopledger_issuedreport WHERE report = 'jobs'")
        triggers.install(connection)
    assert missing(seal) == [("jobs", "pdf"), ("jobs", "csv")]
    assert "2 report files are not kept yet" in owner_client.get(f"/seals/{seal.pk}/").content.decode()
    owner_client.post(f"/seals/{seal.pk}/keep/")
    assert missing(seal) == [] and len(some) == len(OWED) * 2
    with pytest.raises(CommandError) as refused:
        call_command("seal", through=MARCH.last)
    assert refused.value.returncode == 1


def test_a_full_disk_says_so_and_the_seal_stands(delivered, data):
    seal = seal_period(MARCH.last, "olive")
    (data / "issued").write_text("in the way")
    with pytest.raises(Refused, match="could not be kept"):
        issue(seal, "olive")
    (data / "issued").unlink()
    assert len(issue(seal, "olive")) == len(OWED) * 2


def test_the_command_seals_and_keeps(delivered, capsys):
    call_command("seal", through=MARCH.last)
    assert f"{len(OWED) * 2} files" in capsys.readouterr().out
    assert IssuedReport.objects.count() == len(OWED) * 2


def test_a_row_is_written_once_and_a_changed_file_is_found(delivered, owner_client):
    seal = seal_period(MARCH.last, "olive")
    issue(seal, "olive")
    row = IssuedReport.objects.get(report="usage", format="csv")
    for change in (lambda: IssuedReport.objects.update(sha256="0" * 64), lambda: IssuedReport.objects.all().delete()):
        with pytest.raises(DatabaseError), transaction.atomic():
            change()
    row.path.write_bytes(read_issued(row).replace(b"680.000", b"681.000"))
    proof = verify()
    assert [message for _, message in proof.faults] == [
        "The usage 2026-03-10 to 2026-03-31 (csv) is missing or not as it was issued; restore it from a backup."
    ]
    assert owner_client.get(f"/issued/{row.pk}/").status_code == 404


def test_a_delivery_taken_back_later_stays_in_its_month_and_is_taken_off_in_the_later_one(delivered):
    seal_period(MARCH.last, "olive")
    before = rows("purchases", MARCH)
    number = take_back(delivered, by="oscar", note="it was another shop's")
    assert rows("purchases", MARCH) == before and before[0]["net"] == "680.000"
    (later,) = rows("purchases", LATER)
    assert (later["document"], later["containers"], later["net"], later["price"]) == ("D-1", "-2", "-680.000", "-20.00")
    made = make(REPORTS["usage"], MARCH, None, "x")
    (note,) = [note for note in made.table.notes if note.startswith("Corrected")]
    assert note == (
        f"Corrected after this period: voucher {delivered} of 2026-03-10 (receipt), by voucher {number} of {today()}: "
        "it was another shop's."
    )
    whole = Period(MARCH.first, LATER.last)
    assert rows("purchases", whole) == [] and not make(REPORTS["usage"], whole, None, "x").table.notes


def test_a_voucher_that_stands_is_named_by_nobody(delivered):
    assert (
        Voucher.objects.filter(kind="receipt").count() == 1 and not make(REPORTS["usage"], MARCH, None, "x").table.notes
    )


# -- a job corrected after its days were sealed -----------------------------------------------------


def sums(name, period, code="R-134a"):
    found = [row for row in rows(name, period) if row["substance"] == code]
    return [sum(float(row[column]) for row in found) for column in ("recovered", "charged", "line_loss")]


def sealed_with(job, technician):  # noqa: F811
    """The periods before and after a seal over a job signed yesterday."""
    eve = today() - dt.timedelta(days=1)
    whole_job(job, technician)
    change_job(job.pk, by=technician, day=eve)
    sign_job(job.pk, by=technician)
    seal_period(eve, "olive")
    return Period(eve - dt.timedelta(days=30), eve), Period(today(), today())


def correct_the_second_can(job, technician):  # noqa: F811
    new = correct_job(job.pk, by=technician, note="misread the second can")
    line = new.lines.get(container__code="CAN-2")
    enter_line(new.pk, by=technician, key=line.key, action="charge", container="CAN-2", before=440_000, after=249_000)
    sign_job(new.pk, by=technician)


def test_a_job_corrected_after_sealing_adds_up_in_both_periods(job, technician):  # noqa: F811
    earlier, later = sealed_with(job, technician)
    before = rows("jobs", earlier)
    correct_the_second_can(job, technician)
    assert rows("jobs", earlier) == before and before[0]["charged"] == "516.000"
    again, off = rows("jobs", later)
    assert (again["job"], again["charged"], off["charged"], off["oil_added"]) == (
        "J-00001",
        "526.000",
        "-516.000",
        "-30.000",
    )
    for period in (earlier, later, Period(earlier.first, later.last)):
        assert sums("jobs", period) == sums("usage", period), period
    assert rows("jobs", Period(earlier.first, later.last))[0]["charged"] == "526.000"
    assert [note for note in make(REPORTS["jobs"], earlier, None, "x").table.notes if "misread the second can" in note]


def test_a_job_of_a_sealed_day_keeps_its_day_and_is_posted_today(job, technician, technician_client):  # noqa: F811
    eve = today() - dt.timedelta(days=1)
    whole_job(job, technician)
    change_job(job.pk, by=technician, day=eve)
    seal_period(eve, "olive")
    page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
    assert f'All days up to <time datetime="{eve}">{said_day(eve)}</time> are sealed' in page
    signed = sign_job(job.pk, by=technician)
    assert (signed.day, signed.voucher.day) == (eve, today())
    assert json.loads(signed.voucher.detail)["event"]["on"] == str(eve)
    assert verify().faults == []


def test_the_first_seal_warns_of_all_that_is_open_before_it(shop, owner_client):
    """A delivery of four months ago without its paper is in the days that the first seal closes."""
    old = (today().replace(day=1) - dt.timedelta(days=100)).replace(day=5)
    line = Arrival("can", "R-134a", False, "virgin", 340_000, 1, "Store", "K", tare_mg=100_000)
    receive(lines=[line], supplier=supplier_called("Acme"), document="D-1", day=old, by="o", key="k-1")
    page = owner_client.get("/seals/new/").content.decode()
    assert "Still open in these days" in page and "Deliveries without their paper</a>: 1" in page


OF_NOW = {"location", "grade", "state", "last_weighed", "retest_due"}  # of a container, as its report says itself


def as_rows(name, period):
    sheet = REPORTS[name].rows(period, None)
    rows = [dict(zip([column.name for column in sheet.columns], row, strict=True)) for row in sheet.rows]
    return [{key: value for key, value in row.items() if name != "containers" or key not in OF_NOW} for row in rows]


def test_every_report_of_a_sealed_period_says_the_same_after_a_correction(job, technician):  # noqa: F811
    earlier, later = sealed_with(job, technician)
    before = {name: as_rows(name, earlier) for name in REPORTS if name not in {"people", "findings"}}
    correct_the_second_can(job, technician)
    assert {name: as_rows(name, earlier) for name in before} == before
    (balance,) = [row for row in as_rows("usage", later) if row["substance"] == "R-134a"]
    assert balance["charged"] and sum(row["charged"] for row in as_rows("units", later)) == balance["charged"]


def test_a_delivery_taken_back_later_stays_in_its_month(shop):
    line = Arrival("refillable", "R-134a", False, "virgin", 5_000_000, 1, "Store", "NEW", tare_mg=8_000_000)
    number = receive(
        lines=[line], supplier=supplier_called("Acme"), document="D", day=dt.date(2026, 3, 10), by="o", key="k-2"
    )
    take_back(number, by="o", note="not so")
    months = Period(dt.date(2026, 3, 1), dt.date(2026, 3, 31)), Period(today().replace(day=1), today())
    for period, closing in zip(months, (5_000_000, 0), strict=True):
        (row,) = as_rows("containers", period)
        assert row["closing"] == closing == as_rows("usage", period)[0]["closing"]


def test_a_bundle_holds_no_report_that_reaches_back_before_it(job, technician, settings, tmp_path):  # noqa: F811
    settings.DATA_DIR = tmp_path
    eve = today() - dt.timedelta(1)
    issue(seal_period(eve, "olive"), "olive")
    path = tmp_path / "b.zip"
    write_bundle(Period(eve, today()), path, "o")
    with zipfile.ZipFile(path) as bundle:
        assert not [name for name in bundle.namelist() if name.startswith("issued/")]
