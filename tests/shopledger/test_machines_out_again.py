"""Machines, their checks, and containers that were checked for leaks: out of a shop and into another, and refused where
a row says what cannot be."""

import datetime as dt
import uuid

import pytest

from inventory.containers.leak_checks import check_for_leaks
from inventory.containers.models import Container, ContainerCheck
from inventory.ledger.actions import writing
from inventory.ledger.verify import verify
from inventory.machines.actions import CheckMade, check_machine
from inventory.machines.models import Machine, MachineCheck
from inventory.shop.clock import today
from shopledger.exporting.actions import export, write_folder
from shopledger.logbook.actions import LogRefused, load
from tests.shopledger.tampering import undone

pytestmark = pytest.mark.django_db
SHOP = "name,readability\nOdd,1 g\n"
OPENING = (
    "date,container,kind,substance,net,tare,location\n"
    "2026-01-01,TANK,machine,R-134a,3 kg,,Bay\n2026-01-01,CYL,refillable,R-134a,5 kg,6 kg,Store\n"
)
MACHINES = "make,model,serial,does,container,made_on\n"
CHECKS = "serial,day,passed,next_due\n"
ANEW = {"id", "key", "at", "machine_id", "container_id", "_state"}
LEAKS = "container,day,leaks\n"


def written(folder, **files):
    folder.mkdir()
    for name, text in {"shop": SHOP, "opening": OPENING, **files}.items():
        (folder / f"{name}.csv").write_text(text)
    return folder


def told():
    """All that is known of them, but for what is given anew."""
    found = []
    for model, whose in ((Machine, "container"), (MachineCheck, "machine"), (ContainerCheck, "container")):
        for one in model.objects.select_related(whose).order_by("pk"):
            said = {name: value for name, value in vars(one).items() if name not in ANEW}
            found.append({**said, whose: str(getattr(one, whose))})
    return found


def test_they_come_out_and_in_again(tmp_path) -> None:
    day = today()
    with undone():
        load(written(tmp_path / "log"))
        with writing():
            tank = Container.objects.get(code="TANK")
            said = {"statement_by": "O. Owner", "statement_sent_on": day, "statement_copy": True, "used_on": "vehicles"}
            one = Machine.objects.create(
                make="Example", model="R2", serial="17/a", standards="J2788", container=tank, note="in bay 2", **said
            )
            Machine.objects.create(make="Example", model="R1", serial="3", does="recover", retired_on=day)
        for ago, passed, due in ((40, True, 300), (30, False, None), (20, True, 200)):
            check = CheckMade(day - dt.timedelta(ago), passed, due and day + dt.timedelta(due), "as its book says")
            check_machine(machine=one, check=check, by="tess", key=uuid.uuid4())
        for leaks in (True, False):
            said = {"day": day, "leaks": leaks, "note": "soap", "by": "tess", "key": uuid.uuid4()}
            check_for_leaks(codes=["CYL", "TANK"], **said)
        before, found = told(), export()
        assert not [line for line in found.left if "machine" in line or "container check" in line], found.left
        write_folder(found, tmp_path / "out")
    assert not Machine.objects.exists()
    load(tmp_path / "out")
    assert told() == before and len(before) == 9
    assert Machine.objects.get(serial="17/a").check_due == day + dt.timedelta(200)
    assert verify().faults == []
    assert dict(export().texts()) == dict(found.texts())


@pytest.mark.parametrize(
    ("files", "said"),
    [
        ({"machines": MACHINES + "A,B,,recycle,,\n"}, "machines.csv:2: serial: this is blank; it is needed."),
        (
            {"machines": MACHINES + "A,B,1,recycle,,\nA,C,1,recycle,,\n"},
            "machines.csv:3: serial: 1 stands above already",
        ),
        ({"machines": MACHINES + "A,B,1,fly,,\n"}, "machines.csv:2: does: 'fly' is none of recover, recycle"),
        ({"machines": MACHINES + "A,B,1,recycle,CYL,\n"}, "machines.csv:2: container: 'CYL' is no machine's tank"),
        (
            {"machines": MACHINES + "A,B,1,,TANK,\nA,B,2,,TANK,\n"},
            "machines.csv:3: container: TANK is the tank of",
        ),
        ({"machines": MACHINES + "A,B,1,recycle,,1066-01-01\n"}, "machines.csv:2: made_on: "),
        (
            {"machine_checks": CHECKS + "9,2026-01-05,yes,\n"},
            "machine_checks.csv:2: serial: '9' is not in",
        ),
        (
            {"machines": MACHINES + "A,B,1,,,\n", "machine_checks": CHECKS + "1,2026-01-05,yes,2026-01-04\n"},
            "machine_checks.csv:2: next_due: The next check comes after this one.",
        ),
        (
            {"machines": MACHINES + "A,B,1,,,\n", "machine_checks": CHECKS + "1,,perhaps,\n"},
            "machine_checks.csv:2: day: this is blank; write the day of the check as 2026-03-02.",
        ),
        ({"container_checks": LEAKS + "CYL,2025-12-01,no\n"}, "container_checks.csv:2: day: CYL came in on"),
        (
            {"container_checks": LEAKS + "NONE,2026-01-05,no\n"},
            "container_checks.csv:2: container: There is no",
        ),
        ({"container_checks": LEAKS + "CYL,2026-01-05,\n"}, "container_checks.csv:2: leaks: '' is none of yes, no"),
    ],
)
def test_what_cannot_be_is_a_fault(tmp_path, files, said) -> None:
    with pytest.raises(LogRefused) as refused:
        load(written(tmp_path / "log", **files))
    assert any(one.startswith(said) for one in refused.value.faults), refused.value.faults
    assert not Machine.objects.exists() and not ContainerCheck.objects.exists()


def test_a_check_of_what_was_not_here_by_now_is_counted(tmp_path) -> None:
    load(written(tmp_path / "log", container_checks=LEAKS + "CYL,2026-01-05,no\n"))
    with writing():
        one = Container.objects.get(code="CYL")
        one.retired_on = dt.date(2026, 1, 4)
        one.save()
    assert "1 checks for leaks of containers that were not here on that day" in export().left
