"""What the pictures of reports draw comes to what the reports say."""

import datetime as dt
import io
import re
from html import unescape

import pytest
from pypdf import PdfReader

from inventory.containers.models import Container, Scale
from jobs.drafts.models import Job
from jobs.drafts.year import year_of, year_of_person, year_of_unit
from jobs.people.models import Person
from shopledger.reporting.output import as_pdf, make
from shopledger.reporting.report import Period
from shopledger.reports import charts, usage
from shopledger.reports.registry import REPORTS
from tests.shopledger.test_reports import QUARTER, log  # noqa: F401 (a fixture)

pytestmark = pytest.mark.django_db
PERIOD = Period(dt.date.fromisoformat(QUARTER[0]), dt.date.fromisoformat(QUARTER[1]))
COLUMNS = {
    "received": ["received"],
    "recovered": ["recovered"],
    "charged": ["charged"],
    "lost": ["line_loss", "heel_loss", "other_loss", "unexplained_loss"],
    "sent away": ["returned", "reclaimed", "destroyed"],
    "unexplained gain": ["unexplained_gain"],
}


def sums():
    """Of each column of the usage report over all refrigerants, added up here."""
    table = usage.rows(PERIOD)
    names = [column.name for column in table.columns]
    rows = [dict(zip(names, row, strict=True)) for row in table.rows]
    return {name: sum(row[name] for row in rows if row["unit"] == "g") for name in names[2:]}


def test_the_flow_of_a_period_is_the_mass_balance_of_its_report(log):  # noqa: F811
    said, shown = sums(), charts.flow_of(PERIOD)
    drawn = {name: came or left for name, came, left in shown.rows[:-1]}
    for name, columns in COLUMNS.items():
        assert drawn.get(name, 0) == sum(said[column] for column in columns), name
    assert drawn.get("before 1 Jan 2026", 0) == said["opening"] and drawn["on 31 Mar 2026"] == said["closing"]
    assert shown.rows[-1][1] == shown.rows[-1][2] == sum(row[1] or 0 for row in shown.rows[:-1])
    assert shown.rows[-1][2] == sum(row[2] or 0 for row in shown.rows[:-1])


def test_the_months_of_a_picture_come_to_the_report(log):  # noqa: F811
    said, shown = sums(), charts.usage_by_month(PERIOD)
    assert sum(row[1] for row in shown.rows) == said["charged"]
    assert sum(row[2] for row in shown.rows) == said["recovered"]
    assert charts.stock_over_time(PERIOD).rows[-1][1] > 0


def test_a_report_shows_its_pictures_with_their_figures_on_page_and_paper(log, office_client):  # noqa: F811
    address = f"/reports/usage/?first={QUARTER[0]}&last={QUARTER[1]}"
    page = office_client.get(address).content.decode()
    assert page.count('class="chart"') == 2 and "Before and in" in page
    for which in (0, 1):
        answer = office_client.get(f"/reports/usage/chart.svg?first={QUARTER[0]}&last={QUARTER[1]}&which={which}")
        assert answer.status_code == 200 and b"<desc>" in answer.content
    for which in ("2", "-1", "x", ""):
        asked = f"/reports/usage/chart.svg?first={QUARTER[0]}&last={QUARTER[1]}&which={which}"
        assert office_client.get(asked).status_code == 404, which
    paper = PdfReader(io.BytesIO(as_pdf(make(REPORTS["usage"], PERIOD, None, "Olive", drawn=True))))
    words = "".join(one.extract_text() for one in paper.pages)
    assert "What came and where it went" in words and "Before and in" in words


def test_a_year_is_what_the_signed_jobs_say(log, owner_client, django_assert_num_queries):  # noqa: F811
    job = Job.objects.filter(state="signed", charged_mg__gt=0).first()
    last = job.day.replace(day=28)
    theirs = Job.objects.filter(state="signed", technician=job.technician_id)
    with django_assert_num_queries(1):
        shown = year_of_person(job.technician_id, last)
    assert len(shown.rows) == 12 and shown.rows[-1][0] == f"{last:%Y-%m}"
    assert sum(row[1] for row in shown.rows) == sum(one.charged_mg for one in theirs.filter(day__lte=last))
    assert sum(row[2] for row in shown.rows) == sum(one.recovered_mg for one in theirs.filter(day__lte=last))
    assert year_of_unit(job.unit_id, last).rows[-1][1] == job.charged_mg
    assert year_of_unit(job.unit_id, last - dt.timedelta(days=400)) is None
    assert year_of(Job.objects.filter(state="dropped"), "", last) is None
    person = Person.objects.get(pk=job.technician_id)
    assert owner_client.get(f"/people/{person.pk}/").status_code == 200
    assert owner_client.get(f"/people/{person.pk}/year.svg").status_code in {200, 404}  # by the day it is today


def size_of(svg):
    root = re.search(rb"<svg[^>]*>", svg)[0].decode()
    return tuple(float(re.search(rf' {side}="([\d.]+)', root)[1]) for side in ("width", "height"))


def test_a_page_keeps_the_room_that_its_pictures_take(log, owner_client):  # noqa: F811
    """The size that a page says of a picture, at a desk and on a phone, is the size of what is drawn then."""
    days = f"first={QUARTER[0]}&last={QUARTER[1]}"
    code = Container.objects.filter(kind="refillable").first().code
    scale = Scale.objects.get(usual=True).code
    pages = [f"/reports/{name}/?{days}" for name, one in REPORTS.items() if one.pictures]
    pages += ["/", f"/stock/containers/{code}/", f"/differences/over-time/?scale={scale}&{days}"]
    seen = 0
    for page in pages:
        text = owner_client.get(page).content.decode()
        drawn = re.findall(
            r'srcset="([^"]*)" width="(\d+)" height="(\d+)">\s*'
            r'<img class="chart" src="([^"]*)"[^>]* width="(\d+)" height="(\d+)"',
            text,
        )
        assert drawn and len(drawn) == text.count('class="chart"'), page
        for narrow, *thin, wide, broad, high in drawn:
            for address, said in ((narrow, thin), (wide, (broad, high))):
                svg = owner_client.get(unescape(address)).content
                assert size_of(svg) == tuple(map(float, said)), address
                seen += 1
    assert seen >= 14
