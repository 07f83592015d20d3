"""The pressure test as a step: its clocks, what is refused, whose limits judge it, and where it stands."""

import datetime as dt

import pytest
from django.utils import timezone

from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from jobs.drafts.actions import change_job, skip_step
from jobs.drafts.clocks import next_clock, tap_clock
from jobs.drafts.models import Job
from jobs.drafts.tested import limits_of, pressure_test_of, under_test
from jobs.planning.static_pressure import gauge_pa
from jobs.signing.actions import sign_job
from tests.jobs.test_flow import now
from tests.jobs.test_hands import words
from tests.jobs.test_job_pages import job, step_fields  # noqa: F401 (fixture)
from tests.jobs.test_jobs import bay, whole_job  # noqa: F401 (fixtures)
from tests.kept import saved

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}
READ = {"test_start_said": "20 bar", "test_start_c": "25", "test_end_said": "19.4 bar", "test_end_c": "17"}


def save(client, job, **typed):  # noqa: F811
    return client.post(f"/jobs/{job.pk}/step/test/", {**step_fields("test"), **typed}, headers=HTMX)


def test_it_stands_between_the_repair_and_the_evacuation(job, technician_client):  # noqa: F811
    page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
    places = [page.index(f'<details id="{step}"') for step in ("repair", "test", "evacuate")]
    assert places == sorted(places)
    assert "<strong>Pressure test</strong>" in page, "named among what is not recorded"
    assert "Never test for leaks or pressure with compressed air" in page and "Never oxygen, air" in page


def test_that_it_was_not_done_stands_in_nobody_s_way(job, technician):  # noqa: F811
    whole_job(job, technician)
    assert sign_job(job.pk, by=technician).is_signed


def test_a_test_from_its_first_tap_to_its_verdict(job, technician, technician_client):  # noqa: F811
    assert next_clock(job, "test").name == "test_started" and next_clock(job).name == "evacuation_started"
    typed = {**step_fields("test"), "test_medium": "nitrogen", "test_start_said": "20 bar", "test_start_c": "25"}
    answer = technician_client.post(f"/jobs/{job.pk}/clock/test_started/", typed, headers=HTMX)
    page = answer.content.decode()
    assert (
        answer.status_code == 200 and 'id="test"' in page and "under pressure" in page and "Read it again now" in page
    )
    kept = Job.objects.get()
    assert kept.test_started and (kept.test_medium, kept.test_start_c) == ("nitrogen", 25.0)
    assert kept.test_start_pa == pytest.approx(gauge_pa("20 bar", Shop.current().altitude_m))
    Job.objects.update(test_started=timezone.now() - dt.timedelta(minutes=40))
    typed = {**step_fields("test"), "test_medium": "nitrogen", **READ}
    typed["test_started"] = timezone.localtime(Job.objects.get().test_started).strftime("%Y-%m-%dT%H:%M")
    page = technician_client.post(f"/jobs/{job.pk}/clock/test_ended/", typed, headers=HTMX).content.decode()
    assert "Its temperature explains 20.45 bar" in page and "0.2 % less was read. Held" in page
    found = pressure_test_of(Job.objects.get(), Shop.current())
    assert found.passed is True and under_test(Job.objects.get(), Shop.current()).clock is None


def test_a_unit_under_pressure_stays_on_top_until_it_was_read_again(job, technician, technician_client):  # noqa: F811
    """Nobody is offered the vacuum pump while nitrogen stands in the unit."""
    skip_step(job.pk, by=technician, step="repair", reason="none")
    change_job(job.pk, by=technician, step="test", test_start_said="20 bar", test_start_pa=gauge_pa("20 bar", 0))
    assert now(technician_client, job) == "test", "typed before the tap"
    tap_clock(job.pk, by=technician, clock="test_started")
    assert now(technician_client, job) == "test"
    change_job(job.pk, by=technician, step="check", note="windscreen cracked before")
    assert now(technician_client, job) == "test", "whatever is noted meanwhile"
    job.steps.filter(step="check").delete()
    tap_clock(job.pk, by=technician, clock="test_ended")
    assert now(technician_client, job) == "test", "the reading is still wanted"
    change_job(job.pk, by=technician, step="test", test_end_said="19.9 bar", test_end_pa=gauge_pa("19.9 bar", 0))
    assert now(technician_client, job) == "evacuate"


def test_a_test_that_was_forgotten_stands_in_no_pump_s_way(job, technician, technician_client):  # noqa: F811
    tap_clock(job.pk, by=technician, clock="test_started")
    skip_step(job.pk, by=technician, step="test", reason="the gauge broke")
    assert now(technician_client, job) == "evacuate"
    change_job(job.pk, by=technician, step="test", test_medium="nitrogen")
    tap_clock(job.pk, by=technician, clock="evacuation_started")
    assert now(technician_client, job) == "evacuate"


def test_a_unit_that_does_not_hold_is_not_led_on(job, technician, technician_client):  # noqa: F811
    """Neither the pump after a pressure test that fell, nor oil and charge after a vacuum that rose, until somebody
    begins them by their line."""
    save(technician_client, job, test_medium="nitrogen", **(READ | {"test_end_said": "15 bar"}))
    page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
    assert now(technician_client, job) == "test" and "Find out why before anything is charged" in page
    tap_clock(job.pk, by=technician, clock="evacuation_started")
    assert now(technician_client, job) == "evacuate"
    long_ago = timezone.now() - dt.timedelta(hours=1)
    held = {"hold_started": long_ago, "hold_ended": long_ago + dt.timedelta(minutes=20)}
    held |= {"evacuation_ended": long_ago, "hold_start_said": "500 micron", "hold_start_pa": 66.7}
    Job.objects.update(**held, hold_end_said="2000 micron", hold_end_pa=266.6)
    page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
    assert now(technician_client, job) == "evacuate" and "Find out why before anything is charged" in page
    Job.objects.update(hold_end_said="600 micron", hold_end_pa=80.0)
    assert now(technician_client, job) == "oil"


def test_the_altitude_of_the_shop_counts(job, technician):  # noqa: F811
    """3 bar by the gauge are 4.01 bar absolute at the sea and 3.84 at 1,524 m: the same cooling explains less there."""
    change_job(job.pk, by=technician, test_start_said="3 bar", test_start_pa=gauge_pa("3 bar", 0), test_start_c=30.0)
    change_job(job.pk, by=technician, test_end_pa=gauge_pa("2.8 bar", 0), test_end_c=15.0)
    low = pressure_test_of(Job.objects.get(), Shop.current())
    change_job(job.pk, by=technician, test_start_pa=gauge_pa("3 bar", 1524), test_end_pa=gauge_pa("2.8 bar", 1524))
    high = pressure_test_of(Job.objects.get(), Shop.current())
    assert low.expected_pa == pytest.approx(401325 * 288.15 / 303.15)
    assert high.expected_pa == pytest.approx(384307.3 * 288.15 / 303.15, abs=1)


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ({"test_medium": "other", "test_other": "oxygen"}, "Never test with oxygen"),
        ({"test_medium": "other", "test_other": "shop air"}, "40 CFR part 82 subpart B, Appendix C, 5.2"),
        ({"test_medium": "other", "test_other": "propane"}, "Never test with a gas that burns"),
        ({"test_medium": "other"}, "Write which other gas"),
        ({"test_start_said": "300"}, "Write a pressure with its unit|needs a unit|psi, bar"),
        ({"test_started": "2026-03-02T10:00", "test_ended": "2026-03-02T09:00"}, "before the start"),
    ],
)
def test_what_cannot_be_is_refused_and_leaves_nothing(job, technician_client, typed, why):  # noqa: F811
    import html
    import re

    answer = save(technician_client, job, **typed)
    assert answer.status_code == 422 and re.search(why, html.unescape(answer.content.decode()))
    kept = Job.objects.get()
    assert (kept.test_medium, kept.test_other, kept.test_started) == ("", "", None) and not kept.steps.exists()
    for name, value in typed.items():
        assert value in answer.content.decode(), f"{name} is kept to be put right"


def test_the_action_refuses_it_too(job, technician):  # noqa: F811
    with pytest.raises(Refused, match="Never test with air"):
        change_job(job.pk, by=technician, test_medium="other", test_other="air")
    with pytest.raises(Refused, match="Never test with oxygen"):
        change_job(job.pk, by=technician, test_other="O2")
    change_job(job.pk, by=technician, test_medium="other", test_other="argon")
    with pytest.raises(Refused, match="leave this blank: above, helium"):
        change_job(job.pk, by=technician, test_medium="helium")


def test_whose_limit_it_is_is_said(job, shop):  # noqa: F811
    assert limits_of(job, Shop.current()).minutes_by == "common practice, no source"
    saved(shop, test_minutes=60, test_most_percent=2)
    found = limits_of(job, Shop.current())
    assert (found.least_minutes, found.most_percent) == (60, 2)
    assert found.minutes_by == found.percent_by == "the shop's own limit"


def test_a_rulebook_s_limit_comes_before_common_practice(job, shop, monkeypatch):  # noqa: F811
    import dataclasses

    from inventory.reference.rulebook import rulebook

    book = rulebook("generic")
    pattern = next(rule for rule in book.sections["practice"] if rule.key == "hold_minutes")
    own = dataclasses.replace(pattern, key="test_minutes", value=45)
    changed = dataclasses.replace(book, sections={**book.sections, "practice": (*book.sections["practice"], own)})
    monkeypatch.setattr(Shop, "rules", property(lambda self: changed))
    found = limits_of(job, Shop.current())
    assert (found.least_minutes, found.minutes_by) == (45, pattern.cited())
    assert found.percent_by == "common practice, no source"


def test_it_stands_on_the_signed_page_and_the_sheet(job, technician, technician_client):  # noqa: F811
    whole_job(job, technician)
    at = timezone.now().replace(second=0, microsecond=0)
    start, end = (gauge_pa(said, 0) for said in ("20 bar", "18 bar"))
    said = {"test_medium": "traced", "test_start_said": "20 bar", "test_end_said": "18 bar"}
    clocks = {"test_started": at - dt.timedelta(minutes=50), "test_ended": at}
    figures = {"test_start_pa": start, "test_end_pa": end, "test_start_c": 20.0, "test_end_c": 20.0}
    change_job(job.pk, by=technician, step="test", **said, **clocks, **figures)
    sign_job(job.pk, by=technician)
    page = technician_client.get(f"/jobs/{job.pk}/").content.decode()
    assert "Not held: at most 1 % less" in page and "20 bar to 18 bar" in page
    sheet = words(technician_client.get(f"/jobs/{job.pk}/sheet.pdf").content)
    assert "Pressure test" in sheet and "Not held" in sheet and "20 °C to 20 °C" in sheet


# -- what temperature and altitude make of a vacuum --------------------------------------------------------


def test_the_vacuum_is_judged_by_the_temperature_of_the_unit(job, technician, technician_client):  # noqa: F811
    typed = {**step_fields("evacuate"), "vacuum_said": "1500 Pa", "evacuation_c": "5", "sure": "vacuum_said 1500 Pa"}
    page = technician_client.post(f"/jobs/{job.pk}/step/evacuate/", typed, headers=HTMX).content.decode()
    assert "The unit is at 5 °C: water in it does not boil off. It would under 6545 micron (873 Pa)" in page
    sheet = words(technician_client.get(f"/jobs/{job.pk}/sheet.pdf").content)
    assert "water in it does not boil off" in sheet and "Air at the unit 5 °C" in sheet


def test_a_reading_beyond_the_air_is_doubted_or_refused_with_the_most(job, shop, technician_client):  # noqa: F811
    saved(shop, altitude_m=1524)
    typed = {**step_fields("evacuate"), "vacuum_said": "25.2 inHg"}
    page = technician_client.post(f"/jobs/{job.pk}/step/evacuate/", typed, headers=HTMX).content.decode()
    assert "25.2 inHg is more than a gauge reads at 1524 m: 24.9 inHg at most" in page
    typed = {**step_fields("evacuate"), "vacuum_said": "29 inHg"}
    answer = technician_client.post(f"/jobs/{job.pk}/step/evacuate/", typed, headers=HTMX)
    assert answer.status_code == 422 and "can read more than 24.9 inHg" in answer.content.decode()


def test_taps_of_one_step_do_not_touch_another(job, technician):  # noqa: F811
    tap_clock(job.pk, by=technician, clock="test_started")
    kept = Job.objects.get()
    assert kept.evacuation_started is None and [one.step for one in kept.steps.all()] == ["test"]
