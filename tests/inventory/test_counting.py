"""Counts: entered one by one, questioned, explained, posted once as one voucher or not at all."""

import datetime as dt
import io
import re
import uuid

import pytest
from django.urls import reverse
from pypdf import PdfReader

from inventory.containers.actions import count as weigh_at_once
from inventory.containers.actions import move
from inventory.containers.entries import OrderAsked
from inventory.containers.models import Container, Location, Scale, Weighing
from inventory.counting import actions, causes, entering, queries
from inventory.counting.causes import Seen
from inventory.counting.models import Count, Explanation
from inventory.ledger.models import Record, Voucher
from inventory.ledger.verify import verify
from inventory.parties.actions import supplier_called
from inventory.receiving.actions import Arrival, open_stock, receive
from inventory.scales.actions import CheckMade, check_scale
from inventory.scales.queries import doubtful_weighings, overdue
from inventory.shop.clock import today
from inventory.text.refusal import Refused
from tests.kept import made
from tests.stock import charge

pytestmark = pytest.mark.django_db
G = 1000
DAY = dt.date(2026, 3, 2)


def key():
    return uuid.uuid4()


@pytest.fixture
def stock(shop):
    """Three cylinders and a can in the store, one cylinder in the van, a bottle of oil; a scale of 1 g."""
    made(Scale, code="bench", readability_mg=G, usual=True)
    cylinder = {"kind": "refillable", "substance": "R-134a", "is_oil": False, "grade": "virgin", "count": 1}
    lines = [
        Arrival(**cylinder, net=net * G, location=place, code=code, tare_mg=8_000 * G)
        for code, net, place in (
            ("A", 5_000, "Store"),
            ("B", 6_000, "Store"),
            ("C", 7_000, "Store"),
            ("V", 4_000, "Van"),
        )
    ]
    lines.append(Arrival("oil", "PAG 46", True, "", 250_000, 1, "Store", "OIL"))
    open_stock(lines=lines, day=DAY - dt.timedelta(days=30), by="oscar", key=str(key()))
    return Location.objects.get(name="Store")


@pytest.fixture
def count(stock):
    return actions.start_count(location=stock, day=DAY, scale=None, by="oscar", key=key())


def enter(count, code, gross, **more):
    return actions.enter(count_id=count.pk, code=code, gross=gross, by="oscar", **more)


def content(code):
    return Container.objects.select_related("account").get(code=code).content


def test_a_count_is_one_voucher(count):
    enter(count, "A", 13_000 * G)
    enter(count, "OIL", 245_000)
    enter(count, "V", 12_001 * G)
    before = Voucher.objects.count()
    judged = {one.entry.container.code: one for one in actions.judge(count)}
    assert Voucher.objects.count() == before, "judging posts nothing"
    assert [judged[code].reading.outcome for code in ("A", "OIL", "V")] == [
        "agrees",
        "weighing difference",
        "weighing difference",
    ]
    assert list(queries.uncounted(count).values_list("code", flat=True)) == ["B", "C"]
    number = actions.post_count(count_id=count.pk, by="olive")
    assert (number, Voucher.objects.get(number=number).kind) == (before + 1, "count")
    assert Voucher.objects.count() == before + 1, "what it says of its readings goes under the same voucher"
    assert Container.objects.get(code="V").location.name == "Store", "found elsewhere by the book: moved by the count"
    assert content("V") == 4_001 * G and verify().faults == []


def test_a_difference_wants_a_reason_and_keeps_it(count):
    enter(count, "A", 12_900 * G)
    with pytest.raises(Refused, match="A: more than weighing can explain"):
        actions.post_count(count_id=count.pk, by="oscar")
    with pytest.raises(Refused, match="Choose one of"):
        entering.give_reason(count_id=count.pk, code="A", reason="aliens")
    entering.give_reason(count_id=count.pk, code="A", reason="leaked", note="valve hisses")
    number = actions.post_count(count_id=count.pk, by="oscar")
    weighing = Weighing.objects.get(voucher=number)
    assert (weighing.difference, weighing.explanations.get().reason) == (-100 * G, "leaked")
    assert '"leaked"' in Voucher.objects.get(number=number).detail, "the digest holds the reason too"
    actions.explain(weighing_id=weighing.pk, reason="valve", note="", by="olive")
    assert queries.explained().get(pk=weighing.pk).reason == "valve" and Explanation.objects.count() == 2
    assert list(queries.without_reason()) == []


def test_two_managers_post_one_count_once(count):
    enter(count, "A", 13_000 * G)
    number = actions.post_count(count_id=count.pk, by="oscar")
    with pytest.raises(Refused, match=f"was posted by oscar as voucher {number};"):
        actions.post_count(count_id=count.pk, by="olive")
    with pytest.raises(Refused, match="count anew"):
        enter(count, "B", 14_000 * G)
    assert Voucher.objects.latest("number").number == number


def test_a_place_has_one_count_open(count, stock):
    assert actions.start_count(location=stock, day=DAY, scale=None, by="olive", key=key()) == count
    actions.abandon(count_id=count.pk, by="oscar")
    with pytest.raises(Refused, match="was abandoned by oscar"):
        enter(count, "A", 13_000 * G)
    assert not Voucher.objects.filter(kind="count").exists() and content("A") == 5_000 * G
    assert Record.objects.get(kind="count").voucher.kind == "record", "that it was abandoned is kept all the same"
    assert actions.start_count(location=stock, day=DAY, scale=None, by="olive", key=key()) != count


def test_a_reading_of_another_container_is_questioned(count):
    with pytest.raises(Refused, match="14 kg is what B should weigh, not A") as refused:
        enter(count, "A", 14_000 * G)
    assert refused.value.field == "sure" and not count.entries.exists()
    enter(count, "A", 14_000 * G, sure=True)
    assert count.entries.get().gross == 14_000 * G


@pytest.mark.parametrize(("code", "said"), [("NOPE", "no container NOPE in this shop"), ("", "no container")])
def test_a_code_that_is_not_in_the_book_is_refused(count, code, said):
    with pytest.raises(Refused, match=said):
        enter(count, code, 1)


def test_what_was_used_since_it_was_weighed_is_weighed_again(count):
    enter(count, "A", 13_000 * G)
    moved = move(codes=["A"], location="Van", day=DAY, by="oscar", key=str(key()))
    assert [one.used_since for one in actions.judge(count)] == [True]
    with pytest.raises(Refused, match="recorded for A since it was weighed"):
        actions.post_count(count_id=count.pk, by="oscar")
    enter(count, "A", 13_000 * G)
    with pytest.raises(OrderAsked, match=f"voucher {moved}: move, with A. Say after which of them"):
        actions.post_count(count_id=count.pk, by="oscar")
    assert actions.post_count(count_id=count.pk, by="oscar", follows=moved) == moved + 1


def test_an_empty_count_is_not_posted(count):
    with pytest.raises(Refused, match="Nothing is counted yet"):
        actions.post_count(count_id=count.pk, by="oscar")


def test_oil_is_counted_by_weight_too(count, office_client):
    """PAG weighs 0.99 kg/L as a default of its family: 198 g are 200 mL."""
    answer = office_client.post(f"/counts/{count.pk}/", {"code": "OIL", "gross": "198 g"})
    assert answer.status_code == 302
    from inventory.reference.oils import parse_oil

    density = parse_oil("PAG 46").density_kg_l
    assert count.entries.get().gross == int((198_000 / density).to_integral_value())


def test_a_tare_is_corrected_with_a_reason(stock):
    with pytest.raises(Refused, match="Say how the tare was found"):
        actions.correct_tare(code="A", tare_mg=8_050 * G, by="oscar", note=" ")
    actions.correct_tare(code="A", tare_mg=8_050 * G, by="oscar", note="weighed empty")
    assert Container.objects.get(code="A").tare_mg == 8_050 * G
    change = Container.objects.get(code="A").tare_changes.get()
    assert (change.old_mg, change.new_mg, change.why) == (8_000 * G, 8_050 * G, "weighed empty")
    assert verify().faults == []


def test_the_pages_of_a_count(count, office_client, technician_client):
    page = office_client.get(f"/counts/{count.pk}/").content.decode()
    assert "Not counted yet" in page and ">B<" in page
    answer = office_client.post(f"/counts/{count.pk}/", {"code": "A", "gross": "14000"})
    assert answer.status_code == 422 and "is what B should weigh" in answer.content.decode()
    assert office_client.post(f"/counts/{count.pk}/", {"code": "A", "gross": "12900"}).status_code == 302
    answer = office_client.post(f"/counts/{count.pk}/post/")
    assert answer.status_code == 422 and "Give the reason of each" in answer.content.decode()
    office_client.post(f"/counts/{count.pk}/reason/", {"code": "A", "reason": "unknown"})
    office_client.post(f"/counts/{count.pk}/remove/", {"code": "nothing"})
    answer = office_client.post(f"/counts/{count.pk}/post/")
    weighing = Weighing.objects.get()
    assert answer.url == f"/ledger/{weighing.voucher_id}/"
    assert "unknown" in office_client.get("/differences/?first=2026-03-01&last=2026-03-05").content.decode()
    page = office_client.get(f"/differences/{weighing.pk}/").content.decode()
    assert "first weighing since it arrived" in page
    answer = office_client.post(f"/differences/{weighing.pk}/", {"reason": "tare", "note": "stamp was wrong"})
    assert answer.status_code == 302 and queries.explained().get().reason == "tare"
    assert technician_client.get("/differences/").status_code == 403
    sheet = office_client.get(f"/counting/{count.location_id}/sheet.pdf").content
    words = PdfReader(io.BytesIO(sheet)).pages[0].extract_text()
    assert "Count of Store" in words and "OIL" in words


def test_questions_do_not_grow_with_the_place(count, office_client, django_assert_max_num_queries):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    enter(count, "A", 13_000 * G)
    with CaptureQueriesContext(connection) as few:
        office_client.get(f"/counts/{count.pk}/")
    lines = [Arrival("can", "R-134a", False, "virgin", 340 * G, 60, "Store", "K-001", tare_mg=100 * G)]
    open_stock(lines=lines, day=DAY, by="oscar", key=str(key()))
    for number in range(1, 40):
        enter(count, f"K-{number:03d}", 440 * G)
    with CaptureQueriesContext(connection) as many:
        office_client.get(f"/counts/{count.pk}/")
    assert len(many) <= len(few) + 1


# -- causes ------------------------------------------------------------------------------------------------


def seen(container, difference, **more):
    values = {"scale": "S", "person": "tess", "days": 10, "gross": 10_000 * G, "tolerance": 5 * G} | more
    return Seen(container, difference=difference * G, **values)


def kinds(*rows):
    return [(one.kind, one.subject) for one in causes.patterns(rows)]


def test_a_steady_loss_of_one_container_is_a_leak():
    fine = [seen(f"F{n}", 1) for n in range(5)]
    assert kinds(*fine, seen("L", -30), seen("L", -36)) == [("leak", "L")]
    assert kinds(*fine, seen("L", -30)) == [("leak", "L")], "nothing was recorded in between"
    assert kinds(*fine, seen("L", -30, jobs=2)) == [], "a single loss with jobs in between proves nothing"
    assert kinds(*fine, seen("L", -30, days=1), seen("L", -30, days=100)) == [], "not steady"


def test_a_scale_that_differs_by_a_share_is_seen_before_its_containers():
    rows = [seen(f"C{n}", 0.005 * n * 2000, scale="BAD", gross=n * 2_000_000, other_scale=True) for n in range(1, 8)]
    assert kinds(*rows) == [("scale", "BAD")]
    assert "0.5 % more" in causes.patterns(rows)[0].sentence
    assert kinds(*rows[:2]) == [], "two containers are not enough"
    mixed = [seen(f"C{n}", 40 * (-1) ** n, scale="X", other_scale=True, jobs=1) for n in range(8)]
    assert ("scale", "X") not in kinds(*mixed)


def test_one_difference_at_the_first_weighing_is_a_tare():
    assert kinds(seen("T", -70, first=True, days=None), seen("T", 1)) == [("tare", "T")]
    assert ("tare", "T") not in kinds(seen("T", -70, first=True, days=None), seen("T", -70))


def test_a_habit_shows_beside_other_people():
    rows = [seen(f"A{n}", -20, person="tom", jobs=1, days=None) for n in range(4)]
    rows += [seen(f"B{n}", 0, person="tess", jobs=1, days=None) for n in range(8)]
    assert ("person", "tom") in kinds(*rows)


def test_a_single_difference_is_told_what_it_fits():
    assert "not written down" in causes.of_one(seen("A", -50, jobs=1), [])[0]
    assert "Nothing was recorded" in causes.of_one(seen("A", -50), [])[0]
    assert "more than the book" in causes.of_one(seen("A", 50), [])[0]


# -- what weighing explains of a month ---------------------------------------------------------------------


def test_a_month_says_what_weighing_can_explain(count):
    """Three cylinders: opened by paper, counted once on the bench (c = +1 each): sum(c^2) = 3, sum(cR) = 39.9 kg."""
    for code, gross in (("A", 12_990), ("B", 14_000), ("C", 12_910)):
        enter(count, code, gross * G, sure=True)
        entering.give_reason(count_id=count.pk, code=code, reason="unknown")
    actions.post_count(count_id=count.pk, by="oscar")
    (found,) = queries.unexplained(DAY, DAY)
    assert (found.substance, found.total) == ("R-134a", -2_100 * G)
    independent, span = 3 / 12, (500e-6 / 3**0.5 * 39_900) ** 2
    assert found.expanded / G == pytest.approx(2 * (independent + span) ** 0.5, abs=0.001)
    assert found.proven
    again = actions.start_count(location=count.location, day=DAY + dt.timedelta(1), scale=None, by="oscar", key=key())
    for code, gross in (("A", 12_990), ("B", 14_000), ("C", 12_910)):
        enter(again, code, gross * G)
    actions.post_count(count_id=again.pk, by="oscar")
    (found,) = queries.unexplained(DAY + dt.timedelta(1), DAY + dt.timedelta(1))
    # What was read before and now: c = +1 and -1, the span cancels, six roundings stay.
    assert found.total == 0 and found.expanded / G == pytest.approx(2 * (6 / 12) ** 0.5, abs=0.001)
    (both,) = queries.unexplained(DAY, DAY + dt.timedelta(1))
    assert both.expanded / G == pytest.approx(2 * (independent + span) ** 0.5, abs=0.001), (
        "the readings between drop out"
    )


# -- scales ------------------------------------------------------------------------------------------------


def checked(scale, reference, found, left=None, day=DAY, due=None):
    check = CheckMade(day, reference, found, left, due)
    return check_scale(scale=scale, check=check, by="oscar", key=key())


# OIML R 76-1, table 6, class III, doubled for service; e = 1 g.
@pytest.mark.parametrize(
    ("reference", "found", "passed"),
    [
        (500, 501, True),
        (500, 502, False),
        (501, 503, True),
        (501, 504, False),
        (2000, 2002, True),
        (2000, 2003, False),
        (2001, 2004, True),
        (2001, 2005, False),
        (5000, 4997, True),
        (5000, 4996, False),
    ],
)
def test_a_scale_passes_within_the_limits_in_service(stock, reference, found, passed):
    assert checked(Scale.objects.get(), reference * G, found * G).passed is passed


def test_a_scale_that_failed_puts_its_weighings_in_doubt(count):
    scale = Scale.objects.get()
    checked(scale, 5000 * G, 5000 * G, day=DAY - dt.timedelta(days=1), due=DAY + dt.timedelta(days=365))
    enter(count, "A", 13_000 * G)
    actions.post_count(count_id=count.pk, by="oscar")
    assert not doubtful_weighings().exists() and not overdue(DAY).exists()
    checked(scale, 5000 * G, 5025 * G, left=5000 * G, day=DAY + dt.timedelta(days=2), due=DAY + dt.timedelta(days=90))
    assert list(doubtful_weighings()) == list(Weighing.objects.all())
    later = actions.start_count(location=count.location, day=DAY + dt.timedelta(days=3), scale=None, by="o", key=key())
    enter(later, "B", 14_000 * G)
    actions.post_count(count_id=later.pk, by="oscar")
    assert doubtful_weighings().count() == 1, "what was weighed after it was adjusted is not in doubt"


def test_checks_are_kept_with_their_due_day(stock, office_client):
    scale = Scale.objects.get()
    assert list(overdue(today())) == [scale], "never checked"
    with pytest.raises(Refused, match="At least 20 g|at least 20 g"):
        checked(scale, 10 * G, 10 * G)
    form = {
        "key": str(key()),
        "day": "2026-03-02",
        "reference_mg": "5 kg",
        "as_found_mg": "5.001 kg",
        "next_due": "2056-01-01",
    }
    for _ in range(2):
        answer = office_client.post(f"/scales/{scale.pk}/check/", form)
        assert answer.status_code == 302, answer.context["form"].errors
    assert scale.checks.count() == 1
    page = office_client.get(f"/scales/{scale.pk}/").content.decode()
    assert "passed" in page and not overdue(today()).exists()
    assert Count.objects.count() == 0


# -- what was corrected since counts once ------------------------------------------------------------------


def job_of(code, quantity):
    return charge(code, quantity=quantity, day=today())


def corrected(number, code, quantity):
    return charge(code, quantity=quantity, day=today(), corrects=number, why="x")


def weighed(code, grams):
    weigh_at_once(readings={code: grams * G}, day=today(), by="o", key=str(uuid.uuid4()))


def missing():
    return [one.total for one in queries.unexplained(today(), today())], [w.difference for w in queries.differences()]


def test_a_difference_counts_once_after_a_correction(stock):
    """13 kg gross at first; 500 g used, 12.3 kg weighed: 200 g are missing; 550 g used: 150 g."""
    first = job_of("A", 500 * G)
    weighed("A", 12_300)
    assert missing() == ([-200 * G], [-200 * G])
    second = corrected(first, "A", 550 * G)
    assert missing() == ([-150 * G], [-150 * G])
    third = corrected(second, "A", 700 * G)
    assert missing() == ([0], [])
    corrected(third, "A", 500 * G)
    assert missing() == ([-200 * G], [-200 * G]), "corrected back, it is there again"


def test_a_difference_counts_once_after_two_jobs_before_it_were_corrected(stock):
    one, two = job_of("A", 500 * G), job_of("A", 300 * G)
    weighed("A", 12_000)
    corrected(one, "A", 550 * G)
    corrected(two, "A", 350 * G)
    assert missing() == ([-100 * G], [-100 * G])
    assert [one.difference for one in queries.seen(today(), today()).values() if one.difference] == [-100 * G]


# -- a sheet that is typed in ------------------------------------------------------------------------------


def typed(client, place, key=None, **readings):
    data = {"post": "1", "key": str(key or uuid.uuid4()), "day": str(today()), "note": "", "scale": ""}
    return client.post(reverse("count-place", args=[place.pk]), data | {f"gross-{c}": g for c, g in readings.items()})


def test_a_typed_sheet_does_not_end_somebody_else_s_count(stock, office_client):
    other = actions.start_count(location=stock, day=today(), scale=None, by="ann", key=uuid.uuid4())
    actions.enter(count_id=other.pk, code="B", gross=14_000 * G, by="ann")
    answer = typed(office_client, stock, A="13000 g")
    assert answer.status_code == 422 and "ann began it" in answer.content.decode()
    assert not Voucher.objects.filter(kind="count").exists() and not other.entries.filter(container__code="A").exists()


def test_a_typed_sheet_that_is_refused_leaves_nothing_and_can_be_mended(stock, office_client):
    line = Arrival("refillable", "", False, "", 0, 1, "Store", "N", tare_mg=8_000 * G)
    receive(lines=[line], supplier=supplier_called("Acme"), document="", day=today(), by="o", key=str(uuid.uuid4()))
    key = uuid.uuid4()
    assert typed(office_client, stock, key, A="13000 g", N="9000 g").status_code == 422
    assert not Count.objects.exists(), "a refused sheet leaves nothing behind"
    assert typed(office_client, stock, key, A="13000 g", N="").status_code == 302
    assert Count.objects.get().state == "posted"
    assert typed(office_client, stock, key, A="13000 g").status_code == 302, "sent twice"
    assert Voucher.objects.filter(kind="count").count() == 1


def test_a_typed_sheet_that_waits_for_reasons_is_not_typed_over(stock, office_client):
    """It is an open count by then: its reasons stay, and other readings are entered there."""
    key = uuid.uuid4()
    opened = typed(office_client, stock, key, A="12500 g")
    made = Count.objects.get()
    assert opened.url == f"/counts/{made.pk}/" and made.state == "open"
    entering.give_reason(count_id=made.pk, code="A", reason="leaked", note="at the valve")
    assert typed(office_client, stock, key, A="12500 g").url == opened.url
    assert made.entries.get().reason == "leaked"
    refused = typed(office_client, stock, key, A="12400 g")
    said = f'already recorded as <a href="{opened.url}">the count of Store</a>.'
    assert refused.status_code == 422 and said in refused.content.decode() and "12400 g" in refused.content.decode()
    assert made.entries.get().gross == 12_500 * G


# 8 kg tare; A came with 5 kg. Slips that no other container explains.
def test_a_single_weighing_far_off_is_asked_once(stock, office_client):
    form = {"key": str(uuid.uuid4()), "day": str(today()), "gross": "12500 g", "note": "", "scale": ""}
    answer = office_client.post("/stock/containers/A/weigh/", form)
    page = answer.content.decode()
    assert answer.status_code == 422 and "500 g less than the book says (4\u202f500 g beside 5\u202f000 g)" in page
    assert 'type="checkbox" name="sure"' in page and content("A") == 5_000 * G
    assert office_client.post("/stock/containers/A/weigh/", form | {"sure": "on"}).status_code == 302
    assert content("A") == 4_500 * G
    form = form | {"key": str(uuid.uuid4()), "gross": "12501 g"}
    answer = office_client.post("/stock/containers/A/weigh/", form)
    assert answer.status_code == 302, "what weighing explains is not asked"


def test_differences_without_a_reason_are_listed_whatever_their_age(stock, office_client):
    weigh_at_once(readings={"A": 12_500 * G}, day=DAY, by="o", key=str(uuid.uuid4()))
    assert "1 difference" in office_client.get("/counting/").content.decode()
    listed = office_client.get("/differences/?open=1").content.decode()
    assert len(set(re.findall(r'href="/differences/\d+/"', listed))) == 1


def test_a_count_of_yesterday_stands_before_what_was_used_since(stock):
    """13 kg gross at first; 100 g less yesterday, 500 g used today: 4.4 kg are left, and 100 g were missing."""
    job_of("A", 500 * G)
    session = actions.start_count(location=stock, day=today() - dt.timedelta(1), scale=None, by="oscar", key=key())
    enter(session, "A", 12_900 * G)
    assert [one.reading.difference for one in actions.judge(session)] == [-100 * G]
    entering.give_reason(count_id=session.pk, code="A", reason="unknown")
    number = actions.post_count(count_id=session.pk, by="oscar")
    assert Voucher.objects.get(number=number).day == today() - dt.timedelta(1)
    assert Container.objects.select_related("account").get(code="A").content == 4_400 * G
    assert verify().faults == []


def test_a_count_whose_container_was_used_since_it_was_weighed_is_not_posted(stock):
    session = actions.start_count(location=stock, day=today() - dt.timedelta(1), scale=None, by="oscar", key=key())
    enter(session, "B", 14_000 * G)
    job_of("B", 500 * G)
    with pytest.raises(Refused, match="since it was weighed"):
        actions.post_count(count_id=session.pk, by="oscar")
