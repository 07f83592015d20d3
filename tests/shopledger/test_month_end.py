"""The walk through a month: each step says what is open, and nothing where all is done."""

import datetime as dt
import uuid
from dataclasses import replace
from html import unescape
from urllib.parse import urlencode

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.attachments.models import Attachment
from inventory.containers.actions import count
from inventory.containers.models import Scale
from inventory.counting import entering
from inventory.counting.actions import explain, start_count
from inventory.counting.models import Location
from inventory.kept.actions import find
from inventory.parties.actions import save_party, supplier_called
from inventory.receiving.actions import Arrival, receive
from inventory.scales.actions import CheckMade, check_scale
from inventory.shop.clock import today
from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from jobs.drafts.actions import change_job, drop_job, start_job
from jobs.units.actions import add_unit
from shopledger.monthend.actions import leave_open
from shopledger.monthend.queries import steps
from shopledger.sealing.actions import seal_period
from tests.kept import made

pytestmark = pytest.mark.django_db
G = 1000
FIRST, LAST = dt.date(2026, 3, 1), dt.date(2026, 3, 31)


def counts():
    return [one.count for one in steps(FIRST, LAST)]


def test_a_month_is_walked_to_its_end(shop, technician, owner, office_client):
    scale = made(Scale, code="bench", readability_mg=G, usual=True)
    kinds = {"substance": "R-134a", "is_oil": False, "count": 1, "location": "Store", "tare_mg": 8_000 * G}
    number = receive(
        lines=[
            Arrival("refillable", grade="virgin", net=5_000 * G, code="A", **kinds),
            Arrival("recovery", grade="recovered", net=900 * G, code="R", **kinds),
        ],
        supplier=supplier_called("Acme"),
        document="D-1",
        day=dt.date(2026, 2, 20),
        by="o",
        key=str(uuid.uuid4()),
    )
    unit = add_unit(by=technician, customer="Ada", plate="T", refrigerant="R-134a")
    draft = start_job(unit=unit, technician=technician, by=technician, key=uuid.uuid4())
    change_job(draft.pk, by=technician, day=dt.date(2026, 3, 5))
    started = start_count(location=Location.objects.get(), day=FIRST, scale=None, by="o", key=uuid.uuid4())
    assert counts() == [1, 1, 2, 0, 1, 1, 0], "the delivery is of February"
    assert [one.count for one in steps(dt.date(2026, 2, 1), dt.date(2026, 2, 28))][-1] == 1
    drop_job(draft.pk, by=technician)
    from inventory.counting.actions import abandon

    abandon(count_id=started.pk, by="o")
    count(readings={"A": 12_500 * G, "R": 8_900 * G}, day=FIRST, by="o", key=str(uuid.uuid4()))
    assert counts() == [0, 0, 0, 1, 1, 1, 0]
    from inventory.containers.models import Weighing

    explain(weighing_id=Weighing.objects.get(container__code="A").pk, reason="leaked", note="", by="o")
    check_scale(
        scale=scale,
        check=CheckMade(LAST, 5_000 * G, 5_000 * G, next_due=dt.date(2027, 1, 1)),
        by="o",
        key=uuid.uuid4(),
    )
    from inventory.shipping.actions import ship

    ship(
        parcels={"R": None},
        purpose="reclaim",
        party=save_party(name="Renew", role="reclaimer", address="", registration=""),
        document="",
        day=LAST,
        by="o",
        key=str(uuid.uuid4()),
    )
    assert counts() == [0] * 7
    made(
        Attachment,
        subject=f"voucher:{number}",
        name="i.pdf",
        type="application/pdf",
        size=1,
        sha256="0" * 64,
        added_by="o",
        added_at=dt.datetime(2026, 3, 1, tzinfo=dt.UTC),
    )
    assert [one.count for one in steps(dt.date(2026, 2, 1), dt.date(2026, 2, 28))][-1] == 0
    page = office_client.get("/month/?month=2026-03").content.decode()
    assert "Nothing is open" in page and "-500 g" in page and "of which weighing can explain" in page
    assert "R-134a" in page and "The owner seals the month" in page


def test_odd_months_show_the_one_that_ended_last(shop, office_client):
    eve = today().replace(day=1) - dt.timedelta(days=1)
    for odd in ("", "?month=2026-13", "?month=0000-01", "?month=x"):
        assert eve.strftime("%B %Y") in office_client.get(f"/month/{odd}").content.decode()


def test_a_month_that_is_sealed_is_not_what_opens(shop, office_client):
    """The one that runs does; a seal of days before leaves the one that ended last to be closed."""
    running = today().replace(day=1)
    eve = running - dt.timedelta(days=1)
    seal_period(eve.replace(day=1) - dt.timedelta(days=1), "olga")
    assert f"Month end, {eve:%B %Y}" in office_client.get("/month/").content.decode()
    seal_period(eve, "olga")
    assert f"Month end, {running:%B %Y}" in office_client.get("/month/").content.decode()


def test_the_walk_asks_the_same_however_much_there_is(shop, office_client, technician):
    with CaptureQueriesContext(connection) as few:
        office_client.get("/month/?month=2026-03")
    unit = add_unit(by=technician, customer="Ada", plate="T", refrigerant="R-134a")
    for _ in range(8):
        job = start_job(unit=unit, technician=technician, by=technician, key=uuid.uuid4())
        change_job(job.pk, by=technician, day=dt.date(2026, 3, 5))
    line = Arrival("refillable", "R-134a", False, "virgin", 5_000 * G, 30, "Store", "A-01", tare_mg=8_000 * G)
    receive(lines=[line], supplier=supplier_called("Acme"), document="D", day=FIRST, by="o", key=str(uuid.uuid4()))
    with CaptureQueriesContext(connection) as many:
        office_client.get("/month/?month=2026-03")
    assert len(many) <= len(few) + 6, "a count of what is more than shown, one a step"


@pytest.fixture
def counting(shop):
    """A count under way: B agrees, A lacks 500 g and has no reason, C was seen, D is not entered."""
    line = Arrival("refillable", "R-134a", False, "virgin", 5_000 * G, 1, "Store", "A", tare_mg=8_000 * G)
    lines = [replace(line, code=code) for code in "ABCD"]
    receive(lines=lines, supplier=supplier_called("Acme"), document="D", day=FIRST, by="o", key=str(uuid.uuid4()))
    made(Scale, code="bench", readability_mg=G, usual=True)
    count = start_count(location=Location.objects.get(), day=today(), scale=None, by="o", key=uuid.uuid4())
    for code, gross in (("A", 12_500 * G), ("B", 13_000 * G), ("C", None)):
        entering.enter(count_id=count.pk, code=code, gross=gross, by="o")
    return count


def step_of_counts(client):
    page = client.get("/month/?month=2026-03").content.decode()
    return page.split('id="step-count"')[1].split("</section>")[0].replace("\u202f", " ")


def test_a_count_says_what_it_found_before_it_is_posted_on_the_walk(counting, office_client):
    said = step_of_counts(office_client)
    assert "2 weighed, 1 seen, 1 neither" in said and "R-134a: 9 500 g weighed, 10 kg by the book" in said
    assert "A: -500 g, more than weighing can explain; it wants a reason first." in said
    assert "Post the count" not in said, "it would be refused"
    back = {"back": "/month/?month=2026-03&at=count"}
    answer = office_client.post(
        f"/counts/{counting.pk}/reason/?{urlencode(back)}", {"code": "A", "reason": "leaked", "note": ""}
    )
    assert answer.status_code == 302 and answer.url == back["back"]
    said = step_of_counts(office_client)
    assert "the reason given: leaked" in said and "Post the count" in said
    counting.refresh_from_db()
    assert counting.state == "open"


def test_a_blind_count_keeps_its_figures_on_the_walk(counting, office_client):
    Shop.objects.update(blind_counts=True)
    said = step_of_counts(office_client)
    assert "9 500 g" not in said and "-500 g" not in said and "Counted blind" in said and "Post the count" not in said
    entering.enter(count_id=counting.pk, code="D", gross=None, by="o")
    assert "-500 g" in step_of_counts(office_client)


def test_a_month_lists_what_was_there_in_it_and_says_where_it_stands(shop):
    made(Scale, code="bench", readability_mg=G, usual=True)
    found = {"kind": "recovery", "gross_mg": 9_000 * G, "location": "Yard", "by": "o"}
    find(**found, code="F-3", found_where="behind the lift", day=LAST, key=str(uuid.uuid4()))
    find(**found, code="F-4", found_where="in the van", day=LAST + dt.timedelta(1), key=str(uuid.uuid4()))
    line = Arrival("recovery", "R-134a", False, "recovered", 900 * G, 1, "Store", "R", tare_mg=8_000 * G)
    came = {"supplier": supplier_called("Acme"), "document": "D", "by": "o"}
    receive(lines=[line], **came, day=LAST + dt.timedelta(2), key=str(uuid.uuid4()))

    def open_in(first):
        last = (first + dt.timedelta(31)).replace(day=1) - dt.timedelta(1)
        return [row.words for step in steps(first, last) if step.kind == "settle" for row in step.rows]

    assert open_in(FIRST) == ["F-3 at Yard, found, held until known since 31 Mar 2026"]
    assert [said.partition(",")[0] for said in open_in(dt.date(2026, 4, 1))] == [
        "F-3 at Yard",
        "F-4 at Yard",
        "R at Store",
    ]


def test_what_is_left_open_is_called_by_what_it_is(shop, office, office_client):
    """Not by a bare number, of which nobody knows whose it is."""
    made(Scale, code="bench", readability_mg=G, usual=True)
    line = Arrival("refillable", "R-134a", False, "virgin", 5_000 * G, 1, "Store", "A", tare_mg=8_000 * G)
    said = {"lines": [line], "supplier": supplier_called("Acme"), "document": "D-1", "by": "o"}
    number = receive(**said, day=dt.date(2026, 3, 2), key=str(uuid.uuid4()))
    count(readings={"A": 12_500 * G}, day=dt.date(2026, 3, 9), by="o", key=str(uuid.uuid4()))
    for step in (one for one in steps(FIRST, LAST) if one.kind in {"difference", "paper"}):
        things = [row.thing for row in step.rows]
        leave_open(month=FIRST, step=step.kind, things=things, why="asked for", by="o")
    page = unescape(office_client.get("/month/?month=2026-03").content.decode())
    assert f"Voucher {number}, D-1 stays open: asked for" in page
    assert "A on 9 Mar 2026 stays open: asked for" in page
    with pytest.raises(Refused, match=f"^voucher {number}: why it stays open"):
        leave_open(month=FIRST, step="paper", things=[str(number)], why="again", by="o")


def test_of_a_sealed_month_it_says_when_what_is_done_now_is_dated(counting, office_client):
    page, said = f"/month/?month={FIRST:%Y-%m}", "These days are sealed: what is done of it now is dated today."
    assert said not in office_client.get(page).content.decode()
    seal_period(LAST, "o")
    assert said in office_client.get(page).content.decode()
