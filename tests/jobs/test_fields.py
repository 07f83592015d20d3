"""Each field of a job, from the form of its step to the revision that corrects it: by the one table of fields.

A field that is added to the model and to the table is tried here without another line.
"""

import dataclasses
import datetime as dt
import html
import io
import json
import re

import pytest
from django.db import models
from pypdf import PdfReader

from inventory.ledger.stated_rows import stated
from jobs.drafts.actions import change_job
from jobs.drafts.fields import (
    BY_NAME,
    CARRIED,
    CLOCKS,
    EDITABLE,
    FIELDS,
    FIGURE_OF,
    FRAME,
    SECTIONS,
    STEPS,
    asked_in,
)
from jobs.drafts.models import Job
from jobs.drafts.steps import STEPS as SKIPPABLE
from jobs.pages.forms import CHOSEN, GAUGES
from jobs.pages.forms import STEPS as FORMS
from jobs.signing.actions import correct_job, sign_job
from tests.jobs.test_job_pages import job, step_fields  # noqa: F401 (fixture)
from tests.jobs.test_jobs import bay  # noqa: F401 (fixture)

pytestmark = pytest.mark.django_db
COLUMNS = {column.name: column for column in Job._meta.concrete_fields}
DAY = dt.date.today() - dt.timedelta(days=5)  # when the technician held a certificate
ASKED = [one for one in FIELDS if one.step]
# What is typed where the kind of the column does not say it: to what is kept, and what is read on paper.
TYPED = {
    "substance": ("R-134a", "R-134a", "R-134a"),
    "parts": (["compressor"], ["compressor"], "Compressor"),
    "test_medium": ("other", "other", "another gas: argon"),
    "test_other": ("argon", "argon", "argon"),
    "leak_result": ("found and repaired", "found and repaired", "found and repaired"),
    "recover_why": ("disposal", "disposal", "for disposal of the unit"),
    "charge_why": ("retrofit", "retrofit", "right after a retrofit"),
    "charge_min_mg": ("500", 500_000, "500 g"),
    "charge_max_mg": ("540", 540_000, "540 g"),
}


def sample(one, number):
    """What is typed into the form of a field, what is kept of it, and how it is read on paper."""
    column = COLUMNS[one.name]
    if one.name in TYPED:
        return TYPED[one.name]
    if one.gauge:
        typed = f"{300 + number} micron" if one.gauge == "vacuum" else f"{number}.5 bar"
        return typed, typed, typed
    if isinstance(column, models.DateTimeField):
        typed = f"2026-03-02T{number % 20:02d}:{number:02d}"
        # 2 March is winter time in Denver, seven hours behind UTC.
        return typed, dt.datetime.fromisoformat(f"{typed}:00-07:00"), typed[-5:]
    if isinstance(column, models.DateField):
        return DAY.isoformat(), DAY, DAY.isoformat()
    if isinstance(column, models.FloatField):
        value = (one.least + one.most) / 2 + number / 100
        return f"{value:g}", value, f"{value:g} {one.unit}"
    if isinstance(column, models.BooleanField):
        return "on", True, "yes"
    if isinstance(column, models.BigIntegerField):
        return f"{number}", number * 1000, f"{number} {'g' if one.unit == 'mg' else 'mL'}"
    return f"said {number}", f"said {number}", f"said {number}"


SAMPLES = {one.name: sample(one, number) for number, one in enumerate(ASKED, 1)}
KEPT = {name: kept for name, (_, kept, _) in SAMPLES.items()}


def plain(text):
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


def values_in(page, name):
    """The values that stand in a page's form fields of a name."""
    found = set()
    for tag in re.findall(rf'<input[^>]*name="{name}"[^>]*>', page):
        value = re.search(r'value="([^"]*)"', tag)
        if 'type="checkbox"' not in tag:
            found.add(value[1] if value else "")
        elif "checked" in tag:
            found.add(value[1] if value else "on")
    for options in re.findall(rf'<select[^>]*name="{name}"[^>]*>(.*?)</select>', page, re.DOTALL):
        found |= set(re.findall(r'<option value="([^"]*)" selected', options))
    for text in re.findall(rf'<textarea[^>]*name="{name}"[^>]*>(.*?)</textarea>', page, re.DOTALL):
        found.add(text.strip())
    return found


@pytest.fixture
def filled(job, technician_client):  # noqa: F811
    """A draft, each of its fields typed into the form of its step."""
    for step in STEPS:
        typed = {one.name: SAMPLES[one.name][0] for one in asked_in(step)}
        answer = technician_client.post(f"/jobs/{job.pk}/step/{step}/", step_fields(step) | typed)
        if answer.status_code == 422:  # made-up readings are asked about: each is right as it was typed
            sure = re.findall(r'name="sure" value="([^"]+)"', answer.content.decode())
            assert {one.partition(" ")[0] for one in sure} <= set(typed)
            answer = technician_client.post(f"/jobs/{job.pk}/step/{step}/", step_fields(step) | typed | {"sure": sure})
        assert answer.status_code == 302, plain(answer.content.decode())
    return Job.objects.get(pk=job.pk)


# -- the table and the model -----------------------------------------------------------------------------


def test_every_column_of_a_job_stands_in_the_table_or_in_its_frame():
    assert FRAME | BY_NAME.keys() == COLUMNS.keys()
    assert not FRAME & BY_NAME.keys() and len(BY_NAME) == len(FIELDS)


def test_what_the_table_names_is_there():
    for one in FIELDS:
        assert not one.section or one.section in SECTIONS
        assert {one.behind, one.read_from} - {""} <= BY_NAME.keys()
        assert not one.gauge or one.gauge in GAUGES
        assert not one.step or one.step in {"start", "charge"} or one.step in SKIPPABLE
    assert CHOSEN.keys() <= {one.name for one in ASKED}
    assert set(FORMS) == set(STEPS)


def test_free_words_are_known_as_personal():
    words = {name for name, column in COLUMNS.items() if isinstance(column, models.TextField)} & BY_NAME.keys()
    assert words | {"reasons"} == {one.name for one in FIELDS if one.personal}


def test_figures_of_readings_are_pascals_and_typed_by_nobody():
    for reading, figure in FIGURE_OF.items():
        assert BY_NAME[reading].gauge and not BY_NAME[figure].step and BY_NAME[figure].unit == "Pa"
    assert {name for name in COLUMNS if name.endswith("_pa")} == set(FIGURE_OF.values())


def test_a_clock_is_a_moment_and_so_is_the_one_before_it():
    for name, before in CLOCKS.items():
        assert isinstance(COLUMNS[name], models.DateTimeField)
        assert not before or before in CLOCKS


# -- a field on its way ------------------------------------------------------------------------------------


def test_what_is_typed_is_kept(filled):
    assert {name: getattr(filled, name) for name in KEPT} == KEPT
    for reading, figure in FIGURE_OF.items():
        assert getattr(filled, figure) > 0, reading


def test_the_draft_s_page_shows_it_in_the_form_of_its_step(filled, technician_client):
    page = technician_client.get(f"/jobs/{filled.pk}/").content.decode()
    for name, (typed, _, _) in SAMPLES.items():
        assert set(typed if isinstance(typed, list) else [typed]) <= values_in(page, name), name


def test_it_stands_on_the_sheet_of_a_draft_and_of_a_signed_job(filled, technician, technician_client):
    for signed in (False, True):
        if signed:
            sign_job(filled.pk, by=technician)
        pages = PdfReader(io.BytesIO(technician_client.get(f"/jobs/{filled.pk}/sheet.pdf").content)).pages
        words = " ".join(" ".join(page.extract_text() for page in pages).split())
        for name, (_, _, read) in SAMPLES.items():
            assert read in words, (name, signed)


def test_it_stands_on_the_page_of_the_signed_job(filled, technician, technician_client):
    sign_job(filled.pk, by=technician)
    page = plain(technician_client.get(f"/jobs/{filled.pk}/").content.decode())
    for name, (_, _, read) in SAMPLES.items():
        if name != "day":  # which the page writes with the month's name
            assert read in page, name


def test_its_record_says_it_in_full(filled, technician):
    signed = sign_job(filled.pk, by=technician)
    kept = stated("job", f"{signed.number}/1")
    said = {name: value for name, value in kept.said.items() if name in BY_NAME}
    assert kept.voucher == signed.voucher_id, "under the digest of its own voucher"
    assert set(said) == BY_NAME.keys() - {"correction_note"}, "what was typed, and nothing blank"
    assert (said["unit"], said["technician"]) == (filled.unit.code, technician.username)
    assert said["vent_c"] == repr(KEPT["vent_c"]) and said["day"] == DAY.isoformat()
    assert said["hold_started"] == f"{KEPT['hold_started'].astimezone(dt.UTC):%Y-%m-%dT%H:%M:%S.%fZ}"
    assert said["charge_min_mg"] == 500_000 and said["system_opened"] is True
    as_kept = {name: KEPT[name] for name, column in COLUMNS.items() if name in KEPT and not column_said(column)}
    assert {name: said[name] for name in as_kept} == as_kept


def column_said(column):
    """Whether a document writes the values of a column otherwise than they are."""
    return isinstance(column, models.DateTimeField | models.DateField | models.FloatField)


def test_what_people_wrote_stands_where_it_can_be_erased_and_nowhere_else(filled, technician):
    signed = sign_job(filled.pk, by=technician)
    kept = stated("job", f"{signed.number}/1")
    personal = {one.name for one in ASKED if one.personal}
    assert set(kept.words) == personal | {"reasons"} and not kept.body.keys() & personal
    beside = signed.voucher.detail + json.dumps(kept.body)
    assert not [name for name in personal if KEPT[name] in beside]


def test_what_was_signed_is_shown_whatever_stands_in_the_row(filled, technician, technician_client):
    sign_job(filled.pk, by=technician)
    addresses = f"/jobs/{filled.pk}/sheet.pdf", f"/jobs/{filled.pk}/"
    before = [technician_client.get(address).content for address in addresses]
    Job.objects.filter(pk=filled.pk).update(repairs="nothing at all", vent_c=1.0, charge_max_mg=900_000)
    assert technician_client.get(addresses[0]).content == before[0]
    page = plain(technician_client.get(addresses[1]).content.decode())
    assert SAMPLES["repairs"][2] in page and "nothing at all" not in page


def test_a_correction_carries_it_over(filled, technician):
    signed = sign_job(filled.pk, by=technician)
    new = correct_job(signed.pk, by=technician, note="misread")
    before, after = (Job.objects.filter(pk=pk).values().get() for pk in (signed.pk, new.pk))
    for name, column in COLUMNS.items():
        if name in CARRIED:
            assert after[column.attname] == before[column.attname], name
        elif name != "correction_note":
            assert name in FRAME
    assert new.correction_note == "misread"
    sign_job(new.pk, by=technician)
    assert stated("job", f"{signed.number}/2").said["correction_note"] == "misread"


def test_a_draft_s_fields_are_those_that_can_be_changed(job, technician):  # noqa: F811
    assert set(BY_NAME) - {"started_at"} == EDITABLE
    for name in (*FRAME, "started_at", "nonsense"):
        with pytest.raises(ValueError, match="not fields of a draft"):
            change_job(job.pk, by=technician, **{name: "x"})


# -- how a fact is put together ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fields", "read"),
    [
        ({"identified_as": "R-134a"}, "Identified R-134a"),
        ({"identified_how": "label"}, "Identified by label"),
        ({"hold_start_said": "500 micron"}, "Readings 500 micron to –"),
        ({"hold_end_said": "600 micron"}, "Readings – to 600 micron"),
        ({"vacuum_said": "500 micron", "vacuum_pa": 66.66}, "Vacuum reached 500 micron (67 Pa absolute)"),
        (
            {
                "evacuation_started": dt.datetime(2026, 3, 3, 6, 30, tzinfo=dt.UTC),
                "evacuation_ended": dt.datetime(2026, 3, 3, 7, 10, tzinfo=dt.UTC),
            },
            "Pump 2026-03-02 23:30 to 2026-03-03 00:10",
        ),
        ({"hold_started": dt.datetime(2026, 3, 2, 16, 30, tzinfo=dt.UTC)}, "Hold 2026-03-02 09:30 to –"),
        ({"leak_result": "none found", "leak_detector": "Sniffer"}, "Leak check none found, Sniffer"),
        ({"compressor_drained_ul": 0}, "0 mL"),
    ],
)
def test_fields_of_one_fact_stand_together(job, technician, technician_client, fields, read):  # noqa: F811
    change_job(job.pk, by=technician, **fields)
    pages = PdfReader(io.BytesIO(technician_client.get(f"/jobs/{job.pk}/sheet.pdf").content)).pages
    assert read in " ".join(" ".join(page.extract_text() for page in pages).split())


def test_the_table_cannot_be_written_to():
    with pytest.raises(dataclasses.FrozenInstanceError):
        FIELDS[0].carried = False
