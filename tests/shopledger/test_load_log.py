"""Loading a log: every rule worked by hand, every fault named where it is, and all or nothing."""

import datetime as dt
import io
from pathlib import Path

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection

from inventory.containers.models import Container, Scale, Weighing
from inventory.ledger.accounts import AccountClass
from inventory.ledger.models import Account, Movement, Voucher
from inventory.ledger.seals import seal
from inventory.ledger.verify import verify
from inventory.shop.clock import today
from inventory.shop.models import Shop
from jobs.drafts.models import Job, JobLine
from jobs.people.models import Person
from jobs.units.models import Unit
from shopledger.logbook.models import LoadedLog
from tests.kept import made

pytestmark = pytest.mark.django_db

SHOP = (
    "name,address,timezone,rulebook,readability,capacity\nTest Garage,1 Test Street,America/Denver,generic,1 g,150 kg\n"
)
OPENING = "date,container,kind,substance,grade,net,tare,water_capacity,retest_due,location\n"
RECEIPTS = (
    "date,document,supplier,container,kind,substance,grade,net,tare,water_capacity,retest_due,location,price,"
    "received_by\n"
)
JOBS = "job,date,technician,customer,unit,vin,substance,charge_min,charge_max\n"
LINES = "job,action,container,scale,before,after,quantity,note\n"
COUNTS = "date,container,scale,gross,by,note\n"
SHIPMENTS = "date,document,party,purpose,container,quantity\n"
RETIREMENTS = "date,container,residue,by\n"
DECANTS = "date,from,to,scale,before,after,quantity,by\n"

# A can of 340 g with a known tare, a cylinder, an empty recovery cylinder, a machine, oil.
STOCK = OPENING + (
    "2026-01-01,CAN-1,can,R-134a,virgin,340 g,100 g,,,Store\n"
    "2026-01-01,CAN-2,can,R-134a,virgin,340 g,,,,Store\n"
    "2026-01-01,CYL-1,refillable,R-134a,virgin,9 kg,6 kg,12 L,2030-01-01,Store\n"
    "2026-01-01,REC-1,recovery,R-134a,,0,5 kg,12 L,,Bay\n"
    "2026-01-01,MAC-1,machine,R-134a,,2 kg,,,,Bay\n"
    "2026-01-01,YF-1,refillable,R-1234yf,virgin,5 kg,6 kg,,,Store\n"
    "2026-01-01,OIL-1,oil,PAG 46,,250 mL,,,,Store\n"
)


@pytest.fixture
def load(tmp_path):
    """Writes a log's files and loads it: (exit code, what it said, what it complained of)."""

    def run(check=False, **files):
        for path in tmp_path.glob("*.csv"):
            path.unlink()
        for name, content in {"shop": SHOP, "opening": STOCK, **files}.items():
            if content is not None:
                data = content if isinstance(content, bytes) else content.encode()
                (tmp_path / f"{name}.csv").write_bytes(data)
        out, err = io.StringIO(), io.StringIO()
        try:
            call_command("load_log", str(tmp_path), check=check, stdout=out, stderr=err)
        except CommandError as error:
            return error.returncode, out.getvalue(), err.getvalue() + str(error)
        return 0, out.getvalue(), err.getvalue()

    return run


TABLES = (Voucher, Movement, Account, Container, Weighing, Job, JobLine, Unit, Person, Scale, Shop, LoadedLog)


def counts():
    return [model.objects.count() for model in TABLES]


def faults(load, **files):
    """The faults that a log is refused with; nothing may be left behind."""
    before = counts()
    code, _, complaint = load(**files)
    assert code == 1, complaint
    assert counts() == before
    return complaint.splitlines()[:-1]


def content(code):
    return Container.objects.select_related("account").get(code=code).content


def flows():
    """(from class, to class) -> quantity, over everything."""
    found = {}
    for movement in Movement.objects.all():
        pair = AccountClass(movement.source_class).word, AccountClass(movement.target_class).word
        found[pair] = found.get(pair, 0) + movement.quantity
    return found


# -- the rules -----------------------------------------------------------------------------------


def job(lines, **more):
    jobs = JOBS + "J1,2026-01-10T09:30,tess,Ada,TST-1,,R-134a,500 g,540 g\n"
    return {"jobs": jobs, "job_lines": LINES + lines, **more}


def test_a_charge_is_weighed_taken_and_split_from_its_line_loss(load):
    """CAN-1: 440 g before, 120 g after = 320 g. CYL-1: 15,000 g to 14,800 g = 200 g. Line loss 330 g comes from the
    charge lines in their order: 320 g from the can, 10 g from the cylinder. 190 g reach the unit."""
    lines = "J1,charge,CAN-1,,440 g,120 g,,\nJ1,charge,CYL-1,,15 kg,14.8 kg,,\nJ1,line-loss,,,,,330 g,\n"
    assert load(**job(lines))[0] == 0
    assert flows()["container", "line loss"] == 330_000
    assert flows()["container", "unit"] == 190_000
    assert (content("CAN-1"), content("CYL-1")) == (20_000, 8_800_000)
    assert [
        m.source.name for m in Movement.objects.filter(target_class=AccountClass.UNIT).select_related("source")
    ] == ["CYL-1"]


@pytest.mark.parametrize(
    ("before", "account"),
    [
        # d = 1 g, both loads below 500 e, so MPE 1 g: 3 x^2 <= 4 + 1 + 4 + 1, x <= 1.825 g (OIML R 76-1, JCGM 100)
        ("438.175 g", ("container", "weighing difference")),
        ("438.174 g", ("container", "unexplained loss")),
        ("441.825 g", ("weighing difference", "container")),
        ("441.826 g", ("unexplained gain", "container")),
    ],
)
def test_a_reading_puts_the_book_right(load, before, account):
    assert load(**job(f"J1,charge,CAN-1,,{before},300 g,,\n"))[0] == 0
    difference = abs(round((float(before.split()[0]) - 440) * 1000))
    assert flows()[account] == difference
    assert content("CAN-1") == 200_000
    assert verify().faults == []


@pytest.mark.parametrize(("after", "account"), [("99 g", "weighing difference"), ("98 g", "unexplained gain")])
def test_a_can_filled_over_its_net_gives_what_was_found_in_it(load, after, account):
    """340 g by the book; down to 1 g (2 g) under the tare. 1 g is within 1.825 g, 2 g is not."""
    assert load(**job(f"J1,charge,CAN-1,,440 g,{after},,\n"))[0] == 0
    excess = 100_000 - int(after.split()[0]) * 1000
    assert flows()[account, "container"] == excess
    assert flows()["container", "unit"] == 340_000 + excess
    assert content("CAN-1") == 0


def test_a_tare_is_taken_at_the_first_weighing(load):
    assert load(**job("J1,charge,CAN-2,,455 g,300 g,,\n"))[0] == 0
    assert Container.objects.get(code="CAN-2").tare_mg == 115_000
    assert ("container", "weighing difference") not in flows()
    assert content("CAN-2") == 185_000


def test_a_reading_under_the_tare_counts_as_empty(load):
    assert load(counts=COUNTS + "2026-01-05,CAN-1,,90 g,,\n")[0] == 0
    assert (content("CAN-1"), flows()["container", "unexplained loss"]) == (0, 340_000)


def test_a_machine_s_quantity_is_taken_without_a_weighing(load):
    """2.3 kg out of a machine that holds 2 kg by the book: 300 g are an unexplained gain."""
    assert load(**job("J1,charge,MAC-1,,,,2.3 kg,\n"))[0] == 0
    assert flows()["unexplained gain", "container"] == 300_000
    assert (content("MAC-1"), Weighing.objects.count()) == (0, 0)


def test_what_is_recovered_goes_in_by_weights_or_as_the_machine_showed(load):
    lines = "J1,recover,REC-1,,5 kg,5.12 kg,,\nJ1,recover,MAC-1,,,,80 g,\n"
    assert load(**job(lines))[0] == 0
    assert (content("REC-1"), content("MAC-1")) == (120_000, 2_080_000)
    recovery = Container.objects.select_related("account").get(code="REC-1")
    assert (recovery.grade, recovery.account.grade) == ("recovered", "recovered")


def test_oil_is_added_by_volume_and_drained_oil_is_no_stock(load):
    lines = "J1,oil-drain,,,,,20 mL,\nJ1,oil-add,OIL-1,,,,35 mL,\n"
    assert load(**job(lines))[0] == 0
    assert content("OIL-1") == 215_000
    assert JobLine.objects.get(action="oil-drain").quantity == 20_000


# Beyond 5/4 of what each was ever recorded to hold: 425 g, 312.5 mL. What a weighing found counts from then on.
BEYOND = [
    ("J1,charge,CAN-1,,,,425 g,\n", "J1,charge,CAN-1,,,,425.001 g,\n", "CAN-1", "340 g"),
    ("J1,oil-add,OIL-1,,,,312.5 mL,\n", "J1,oil-add,OIL-1,,,,9 L,\n", "OIL-1", "250 mL"),
    ("J1,oil-add,OIL-1,,,,312.5 mL,\n", "J1,oil-add,OIL-1,,,,312.501 mL,\n", "OIL-1", "250 mL"),
]


@pytest.mark.parametrize(("fits", "beyond", "code", "most"), BEYOND)
def test_no_more_comes_out_of_a_container_than_its_like_can_hold(load, fits, beyond, code, most):
    found = faults(load, **job(beyond))
    assert len(found) == 1
    assert found[0].startswith(f"job_lines.csv:2: quantity: {code} was never recorded to hold more than {most}, so ")
    assert load(**job(fits))[0] == 0 and content(code) == 0


def test_a_decant_takes_no_more_either_and_a_weighing_counts(load):
    rows = "2026-01-05,CAN-1,,500 g,,\n"  # 400 g net: 500 g may follow
    decant = DECANTS + "2026-01-06,CAN-1,MAC-1,,,,500.001 g,\n"
    assert faults(load, decants=decant, counts=COUNTS + rows)[0].startswith("decants.csv:2: quantity:")
    assert load(decants=decant.replace("500.001", "500"), counts=COUNTS + rows)[0] == 0


def test_a_move_to_where_it_stands_is_accepted_and_moves_nothing(load):
    moves = "date,container,to_location,by\n2026-01-05,CAN-1,Store,\n2026-01-06,CAN-1,Van,\n2026-01-07,CAN-1,Van,\n"
    assert load(moves=moves)[0] == 0
    numbers = list(Voucher.objects.filter(kind="move").order_by("number").values_list("number", flat=True))
    assert [Movement.objects.filter(voucher=number).count() for number in numbers] == [0, 1, 0]
    assert (content("CAN-1"), Container.objects.get(code="CAN-1").location.name) == (340_000, "Van")
    assert verify().faults == []


@pytest.mark.parametrize(("left", "account"), [("240 mL", "weighing difference"), ("239.999 mL", "unexplained loss")])
def test_an_oil_count_is_the_volume_left(load, left, account):
    assert load(counts=COUNTS + f"2026-01-05,OIL-1,,{left},,\n")[0] == 0
    assert flows()["container", account] == 250_000 - round(float(left.split()[0]) * 1000)


def test_the_scale_of_the_last_weighing_widens_the_tolerance(load):
    """On 5 g steps 15 kg are 3,000 e, MPE 15 g; then on 1 g steps MPE 3 g: 3 x^2 <= 4*9 + 1 + 4*225 + 25."""
    scales = "code,capacity,readability,checked_until\nS5,150 kg,5 g,\nS1,30 kg,1 g,\n"
    rows = "2026-01-05,CYL-1,S5,15 kg,,\n2026-01-06,CYL-1,S1,14983 g,,\n"
    assert load(scales=scales, counts=COUNTS + rows)[0] == 0
    weighing = Weighing.objects.get(scale__code="S1")
    assert (weighing.difference, weighing.tolerance, weighing.outcome) == (-17_000, 17_907, "weighing difference")


def test_a_decant_takes_as_a_charge_does_and_takes_the_other_grade(load):
    assert load(decants=DECANTS + "2026-01-05,CAN-1,MAC-1,,440 g,99 g,,\n")[0] == 0
    assert (content("CAN-1"), content("MAC-1")) == (0, 2_341_000)
    assert Account.objects.get(name="MAC-1").grade == "recycled"


def test_what_is_left_at_retirement_is_lost_or_taken(load):
    rows = "date,container,residue,by\n2026-01-05,CAN-1,lost,\n2026-01-05,CAN-2,CYL-1,\n"
    assert load(retirements=rows)[0] == 0
    assert flows()["container", "heel loss"] == 340_000
    assert content("CYL-1") == 9_340_000


LOSSES = "date,container,quantity,cause,by\n"


def test_what_got_out_by_accident_is_other_loss(load):
    """A quantity, or all that is in it; the cause in words, or in words of one's own."""
    rows = "2026-01-05,CYL-1,1 kg,Burst hose,\n2026-01-06,OIL-1,,the bottle fell,\n2026-01-07,CAN-1,,leaking valve,\n"
    people = "username,name,role\ntess,Tess,technician\n"
    assert load(losses=LOSSES + rows, people=people)[0] == 0
    assert flows()["container", "other loss"] == 1_000_000 + 250_000 + 340_000
    assert (content("CYL-1"), content("CAN-1"), content("OIL-1")) == (8_000_000, 0, 0)
    first, second, third = Voucher.objects.filter(kind="release").order_by("number")
    assert [one.note for one in (first, second, third)] == ["", "the bottle fell", ""]
    assert '"cause":"hose"' in first.detail and '"cause":"other"' in second.detail


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("2026-01-05,CYL-1,10 kg,fire,", "losses.csv:2: quantity: CYL-1 holds"),
        ("2026-01-05,CYL-1,1 kg,,", "losses.csv:2: cause: this is blank"),
        ("2026-01-05,REC-1,,fire,", "losses.csv:2: container: REC-1 holds nothing"),
        ("2026-01-05,CYL-1,1000,fire,", "losses.csv:2: quantity:"),
        ("2026-01-05,CYL-9,1 kg,fire,", "losses.csv:2: container: 'CYL-9' came in with no row"),
    ],
)
def test_a_loss_that_cannot_be_is_a_fault(load, row, said):
    assert faults(load, losses=LOSSES + row + "\n")[0].startswith(said)


def test_events_run_by_time_then_file_then_row(load):
    """The move at 08:00 comes before the job at 09:30; of the same day without time, receipts before counts."""
    receipts = RECEIPTS + "2026-01-20,INV-1,Acme,CAN-9,can,R-134a,,340 g,100 g,,,Store,9.5,\n"
    files = job(
        "J1,charge,CAN-1,,440 g,300 g,,\n",
        moves="date,container,to_location,by\n2026-01-10T08:00,CAN-1,Van,\n",
        receipts=receipts,
        counts=COUNTS + "2026-01-20,CAN-9,,440 g,,\n",
    )
    assert load(**files)[0] == 0
    kinds = list(Voucher.objects.order_by("number").values_list("kind", flat=True))
    assert kinds == ["opening", "move", "job", "receipt", "count", "record"]
    assert Movement.objects.get(target_class=AccountClass.UNIT).source.location == "Van"


def test_history_is_not_judged_by_what_signing_asks_today(load):
    """No certificate, over the label, no evacuation, recovered refrigerant charged: it loads all the same."""
    lines = "J1,recover,REC-1,,5 kg,6 kg,,\nJ1,charge,REC-1,,6 kg,5.2 kg,,\n"
    assert load(**job(lines))[0] == 0
    loaded = Job.objects.get()
    assert (loaded.state, loaded.loaded, loaded.technician.username) == ("signed", True, "tess")


def test_people_of_a_log_without_a_file_of_people_are_made_up_as_they_are_called(load):
    jobs = JOBS + "J1,2026-01-10,Tess Arbor,Ada,TST-1,,R-134a,,\n"
    assert load(jobs=jobs)[0] == 0
    assert Voucher.objects.get(kind="job").done_by == "Tess Arbor"
    assert not Person.objects.get(username="Tess Arbor").has_usable_password()


def test_a_shipment_takes_all_or_a_part(load):
    rows = "2026-02-01,S1,Renew,reclaim,MAC-1,\n2026-02-01,S2,Acme,return,CYL-1,1 kg\n"
    assert load(shipments=SHIPMENTS + rows)[0] == 0
    assert flows()["container", "reclaimer"] == 2_000_000
    assert flows()["container", "supplier"] == 1_000_000


def test_byte_order_mark_crlf_and_blank_lines_are_fine(load):
    shop = ("\ufeff" + SHOP).replace("\n", "\r\n").encode()
    opening = STOCK.replace("\n", "\r\n\r\n")
    assert load(shop=shop, opening=opening)[0] == 0
    assert Container.objects.count() == 7


# -- all or nothing ------------------------------------------------------------------------------


def test_checking_loads_nothing(load):
    before = counts()
    code, said, _ = load(check=True, **job("J1,charge,CAN-1,,440 g,300 g,,\n"))
    assert code == 0 and "has no fault: 2 events (1 opening, 1 job)" in said
    assert counts() == before


def test_the_same_log_is_not_loaded_twice(load):
    files = job("J1,charge,CAN-1,,440 g,300 g,,\n")
    assert load(**files)[0] == 0
    before = counts()
    code, _, complaint = load(**files)
    assert code == 1 and "was loaded before" in complaint
    assert counts() == before


def test_a_folder_that_is_not_there_was_called_wrongly():
    with pytest.raises(CommandError) as refused:
        call_command("load_log", "/nowhere/at/all")
    assert refused.value.returncode == 2


FAULTS = [
    ({"shop": None}, "shop.csv:1: file:"),
    ({"shop": SHOP.replace("America/Denver", "Mars")}, "shop.csv:2: timezone:"),
    ({"shop": SHOP.replace("generic", "martian")}, "shop.csv:2: rulebook:"),
    ({"shop": SHOP.replace("1 g", "1")}, "shop.csv:2: readability:"),
    ({"shop": SHOP + "Other,,,,1 g,\n"}, "shop.csv:3: name:"),
    ({"opening": STOCK.replace("tare,", "taar,")}, "opening.csv:1: taar:"),
    ({"opening": "date,container,kind\n"}, "opening.csv:1: substance:"),
    ({"opening": OPENING + "2026-02-30,C,can,R-134a,,1 kg,,,,\n"}, "opening.csv:2: date:"),
    ({"opening": OPENING + "2026-01-01,C,tin,R-134a,,1 kg,,,,\n"}, "opening.csv:2: kind:"),
    ({"opening": OPENING + "2026-01-01,C,can,R-134x,,1 kg,,,,\n"}, "opening.csv:2: substance:"),
    ({"opening": OPENING + "2026-01-01,C,can,R-134a,used,1 kg,,,,\n"}, "opening.csv:2: grade:"),
    ({"opening": OPENING + '2026-01-01,C,can,R-134a,,"1,250 g",,,,\n'}, "opening.csv:2: net:"),
    ({"opening": OPENING + "2026-01-01,C,can,R-134a,,340,,,,\n"}, "opening.csv:2: net:"),
    ({"opening": OPENING + "2026-01-01,C,oil,R-134a,,340 g,,,,\n"}, "opening.csv:2: net:"),
    ({"opening": OPENING + "2026-01-01,C,oil,PAG 46,virgin,250 mL,,,,\n"}, "opening.csv:2: grade:"),
    ({"opening": STOCK + "2026-01-02,CAN-1,can,R-134a,,340 g,,,,\n"}, "opening.csv:9: container:"),
    ({"moves": "date,container,to_location,by\n2026-01-05,NONE,Van,\n"}, "moves.csv:2: container:"),
    ({"moves": "date,container,to_location,by\n2025-12-31,CAN-1,Van,\n"}, "moves.csv:2: container:"),
    (
        {"counts": COUNTS + "2026-01-05,CAN-1,S9,1 kg,,\n", "scales": "code,readability\nS1,1 g\n"},
        "counts.csv:2: scale:",
    ),
    ({"counts": COUNTS + "2026-01-05,OIL-1,,100 g,,\n"}, "counts.csv:2: gross:"),
    ({"counts": COUNTS + "2026-01-05,CAN-2,,100 g,,\n"}, "counts.csv:2: gross:"),
    ({"decants": DECANTS + "2026-01-05,CYL-1,CAN-1,,,,1 kg,\n"}, "decants.csv:2: to:"),
    ({"decants": DECANTS + "2026-01-05,YF-1,CYL-1,,,,1 kg,\n"}, "decants.csv:2: to:"),
    ({"decants": DECANTS + "2026-01-05,CYL-1,MAC-1,,15 kg,,,\n"}, "decants.csv:2: after:"),
    ({"decants": DECANTS + "2026-01-05,CYL-1,MAC-1,,14 kg,15 kg,,\n"}, "decants.csv:2: after:"),
    (job("J1,charge,CAN-1,,300 g,440 g,,\n"), "job_lines.csv:2: after:"),
    (job("J1,charge,CAN-1,,440 g,,,\n"), "job_lines.csv:2: after:"),
    (job("J1,charge,YF-1,,11 kg,10 kg,,\n"), "job_lines.csv:2: container:"),
    (job("J1,recover,CAN-1,,440 g,450 g,,\n"), "job_lines.csv:2: container:"),
    (job("J1,recover,REC-1,,6 kg,5 kg,,\n"), "job_lines.csv:2: after:"),
    (job("J1,line-loss,,,,,5 g,\n"), "job_lines.csv:2: quantity:"),
    (job("J1,charge,CAN-1,,440 g,430 g,,\nJ1,line-loss,,,,,11 g,\n"), "job_lines.csv:3: quantity:"),
    (job("J1,topup,CAN-1,,440 g,430 g,,\n"), "job_lines.csv:2: action:"),
    (job("J9,charge,CAN-1,,440 g,430 g,,\n"), "job_lines.csv:2: job:"),
    (job("J1,oil-add,OIL-1,,,,30 g,\n"), "job_lines.csv:2: quantity:"),
    ({"jobs": JOBS + "J1,2026-01-10,,Ada,TST-1,,R-134a,,\n"}, "jobs.csv:2: technician:"),
    ({"jobs": JOBS + "J1,2026-01-10,tess,Ada,,,R-134a,,\n"}, "jobs.csv:2: unit:"),
    ({"jobs": JOBS + "J1,2026-01-10,tess,Ada,T,,R-134a,540 g,500 g\n"}, "jobs.csv:2: charge_min:"),
    ({"jobs": JOBS + 2 * "J1,2026-01-10,tess,Ada,T,,R-134a,,\n"}, "jobs.csv:3: job:"),
    ({"people": "username,name,role\nbob,Bob,technician\n", **job("")}, "jobs.csv:2: technician:"),
    ({"shipments": SHIPMENTS + "2026-01-05,S,Acme,return,CYL-1,10 kg\n"}, "shipments.csv:2: quantity:"),
    ({"retirements": RETIREMENTS + "2026-01-05,CAN-1,,\n"}, "retirements.csv:2: residue:"),
    (
        {"retirements": RETIREMENTS + "2026-01-05,CAN-1,lost,\n", "counts": COUNTS + "2026-01-06,CAN-1,,440 g,,\n"},
        "counts.csv:2: container:",
    ),
    ({"counts": (COUNTS + "2026-01-05,CAN-1,,440 g,,\xff\n").encode("latin-1")}, "counts.csv:2: file:"),
    ({"counts": COUNTS + '2026-01-05,CAN-1,,"440 g,,\n'}, "counts.csv:2: file:"),
    ({"counts": COUNTS + "2026-01-05,CAN-1,,440 g,,a\0b\n"}, "counts.csv:2: file:"),
    ({"counts": COUNTS + "2026-01-05,CAN-1,,440 g,,x,y,z\n"}, "counts.csv:2: note:"),
    ({"weighings": "a\n"}, "weighings.csv:1: file:"),
    ({"receipts": RECEIPTS + "2026-01-05,I,Acme,C9,can,R-134a,,340 g,,,,Store,about 9,\n"}, "receipts.csv:2: price:"),
]


@pytest.mark.parametrize(("files", "place"), FAULTS, ids=[place for _, place in FAULTS])
def test_each_fault_is_named_where_it_is(load, files, place):
    found = faults(load, **files)
    assert [line for line in found if line.startswith(place)], found


def test_all_faults_are_named_and_echoes_are_not(load):
    """A faulty arrival makes its can doubtful: what follows of it says nothing new. Other rows are still judged."""
    opening = STOCK.replace("2026-01-01,CAN-1,can,R-134a,virgin,340 g", "2026-01-01,CAN-1,can,R-134a,virgin,340")
    rows = "2026-01-05,CAN-1,,440 g,,\n2026-01-05,CAN-1,,4 40 g,,\n2026-01-06,CAN-2,,90 g,,\n"
    found = faults(load, opening=opening, counts=COUNTS + rows)
    assert [line.split(": ")[0] for line in found] == ["opening.csv:2", "counts.csv:3", "counts.csv:4"]


def test_a_row_of_a_sealed_day_is_posted_today_and_keeps_its_day(load):
    assert load()[0] == 0
    seal(dt.date(2026, 1, 31), "olive")
    code, out, err = load(opening=None, counts=COUNTS + "2026-01-31,CAN-1,,440 g,,\n2026-02-01,CAN-2,,440 g,,\n")
    assert (code, err) == (0, "") and "1 of a sealed day is dated today" in out
    days = [voucher.day for voucher in Voucher.objects.filter(kind="count").order_by("number")]
    assert days == [today(), dt.date(2026, 2, 1)]
    assert str(Container.objects.get(code="CAN-1").last_weighed_on) == "2026-01-31"
    assert verify().faults == []


def test_loading_asks_the_database_no_more_for_each_event(load):
    """Queries grow with the units and people named, not with the events."""
    from django.test.utils import CaptureQueriesContext

    def queries(events, first):
        rows = "".join(f"2026-02-01,CAN-1,,{440 - (n % 2)} g,,\n" for n in range(first, first + events))
        with CaptureQueriesContext(connection) as captured:
            assert load(opening=None if first else STOCK, counts=COUNTS + rows)[0] == 0
        return len(captured)

    few = queries(10, 0)
    assert queries(400, 10) <= few + 5


def test_paths_do_not_matter_only_content(load, tmp_path):
    assert load()[0] == 0
    elsewhere = tmp_path / "copy"
    elsewhere.mkdir()
    for path in tmp_path.glob("*.csv"):
        (elsewhere / path.name).write_bytes(Path(path).read_bytes())
    with pytest.raises(CommandError, match="was loaded before"):
        call_command("load_log", str(elsewhere), stdout=io.StringIO(), stderr=io.StringIO())


# -- a second log ------------------------------------------------------------------------------------------


EARLIER = [
    # 15 kg gross on the 10th are what there was; 14.5 kg are left since the 20th.
    ({"counts": COUNTS + "2026-01-10,CYL-1,,15 kg,,\n"}, 8_500, 0),
    # 100 g too little on the 10th; what the job took then is what it took.
    ({"counts": COUNTS + "2026-01-10,CYL-1,,14.9 kg,,\n"}, 8_500, 0),
    ({"decants": DECANTS + "2026-01-10,CYL-1,REC-1,,15 kg,14 kg,,\n"}, 8_500, 1_000),
]


@pytest.mark.parametrize(("files", "left", "passed_on"), EARLIER)
def test_a_row_of_a_day_before_what_the_first_log_says_stands_before_it(load, files, left, passed_on):
    jobs, lines = JOBS + "J-1,2026-01-20,tess,Ada,EX 1,,R-134a,,\n", LINES + "J-1,charge,CYL-1,,15 kg,14.5 kg,,\n"
    assert load(jobs=jobs, job_lines=lines)[0] == 0
    code, _, err = load(opening=None, **files)
    assert (code, err) == (0, "")
    assert Container.objects.select_related("account").get(code="CYL-1").content == left * 1000
    assert Container.objects.select_related("account").get(code="REC-1").content == passed_on * 1000
    assert verify().faults == []


@pytest.mark.parametrize(
    "files",
    [
        {"counts": COUNTS + "2025-06-10,REC-1,,5 kg,,\n"},
        {"retirements": RETIREMENTS + "2025-06-01,REC-1,,\n"},
        {"retirements": RETIREMENTS + "2026-01-10,CYL-1,lost,\n"},
    ],
)
def test_a_row_that_cannot_have_been_is_a_fault(load, files):
    """Before its container came; before it was used again."""
    jobs, lines = JOBS + "J-1,2026-01-20,tess,Ada,EX 1,,R-134a,,\n", LINES + "J-1,charge,CYL-1,,15 kg,14.5 kg,,\n"
    assert load(jobs=jobs, job_lines=lines)[0] == 0
    before = Voucher.objects.count()
    code, _, err = load(opening=None, **files)
    assert code == 1 and ".csv:2: " in err and Voucher.objects.count() == before


def test_a_name_that_stands_in_other_letters_is_a_fault(load, technician):
    jobs, lines = JOBS + "J-1,2026-01-12,Tess,Ada,EX 1,,R-134a,,\n", LINES + "J-1,charge,CYL-1,,,,100 g,\n"
    code, _, err = load(jobs=jobs, job_lines=lines)
    assert code == 1 and "'Tess' is tess in other letters; write tess." in err


def test_a_role_that_differs_from_the_shop_s_is_a_fault(load, technician):
    code, _, err = load(people="username,name,role\ntess,Tess,owner\n")
    assert code == 1 and "tess is technician here already" in err


def test_a_scale_of_the_usual_name_becomes_the_usual_one(load):
    made(Scale, code="shop scale", readability_mg=5_000)
    assert load()[0] == 0 and Scale.objects.get().usual and Scale.objects.get().readability_mg == 1_000
