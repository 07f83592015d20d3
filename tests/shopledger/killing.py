"""Kills the program's acts at moments that a seed draws, in the process of one shop; what it acknowledges is written
down outside its database, and looked for after each kill.

Each phase is done once to its end, and tells its moments (dying.py): statements, commits, files. Of their names one is
drawn, and of the times that it comes one. Whatever touches the database is done in a child of its own, so that nothing
is remembered from before a kill.
"""

import json
import os
import random
import re
import signal
import sys
import uuid
from collections import Counter
from collections.abc import Callable
from datetime import date, timedelta
from io import StringIO
from pathlib import Path

import django

django.setup()

from django.conf import settings  # noqa: E402
from django.core.management import call_command  # noqa: E402
from django.db import connection  # noqa: E402

from inventory.containers.models import Container  # noqa: E402
from inventory.ledger.models import Seal, Voucher  # noqa: E402
from inventory.ledger.verify import verify  # noqa: E402
from inventory.receiving.actions import Arrival, open_stock  # noqa: E402
from jobs.drafts.actions import enter_line, start_job  # noqa: E402
from jobs.drafts.models import Job  # noqa: E402
from jobs.people.actions import add_certificate  # noqa: E402
from jobs.people.models import Person  # noqa: E402
from jobs.signing.actions import sign_job  # noqa: E402
from jobs.units.actions import add_unit  # noqa: E402
from jobs.units.models import Unit  # noqa: E402
from shopledger.backup.archive import Reader  # noqa: E402
from tests.stock import came, delivery  # noqa: E402

G, TARE = 1000, 9_000_000
FIRST = date(2026, 3, 1)
OUTSIDE = settings.DATA_DIR.parent
LOG, BACKUPS = OUTSIDE / "acknowledged", OUTSIDE / "backups"
STATEMENT = "(?:SELECT|INSERT|UPDATE|DELETE|CREATE|ALTER|DROP|LOCK|BEGIN|SAVEPOINT|COMMIT)"
MOMENTS = rf"{STATEMENT}|\S*(?:open|connect|rename|link) {re.escape(str(OUTSIDE))}/(?!acknowledged|told)"


def acknowledge(phase: str, said: object) -> None:
    handle = os.open(LOG, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
    os.write(handle, f"{phase}\t{said}\n".encode())
    os.close(handle)


class Spoken(StringIO):
    """A command's output, acknowledged as it is said."""

    def __init__(self, phase: str, pattern: str):
        super().__init__()
        self.phase, self.pattern = phase, re.compile(pattern)

    def write(self, text: str) -> int:
        for found in self.pattern.finditer(text):
            acknowledge(self.phase, found[1])
        return super().write(text)


# -- the acts ----------------------------------------------------------------------------------------------


def stock() -> None:
    who = Person.objects.create_user("tess", password="wet pump 7 am", name="Tess", role="technician")
    add_certificate(by=None, person=who, scheme="Any", number="1", issued=date(2020, 1, 1))
    add_unit(by=None, name="Truck 4", refrigerant="R-134a")
    line = Arrival("refillable", "R-134a", False, "virgin", 800_000_000, 1, "Store", "GAS", tare_mg=TARE)
    open_stock(lines=[line], day=FIRST, by="olive", key=str(uuid.uuid4()))


def post_some() -> None:
    for _ in range(3):
        cylinder = came(f"C-{uuid.uuid4().hex[:8]}", net=5000 * G, grade="virgin", tare_mg=TARE)
        acknowledge("posting", delivery(cylinder, day=FIRST + timedelta(days=250)))


def draft() -> None:
    who = Person.objects.get(username="tess")
    if Job.objects.filter(state="draft").exists():
        return
    job = start_job(unit=Unit.objects.get(), technician=who, by=who, key=uuid.uuid4())
    full = Container.objects.select_related("account").get(code="GAS").content + TARE
    weights = {"before": full, "after": full - 500 * G}
    enter_line(job.pk, by=who, key=uuid.uuid4(), action="charge", container="GAS", **weights)


def sign() -> None:
    who, job = Person.objects.get(username="tess"), Job.objects.get(state="draft")
    reasons = {"no-range": "no label", "used": "asked"}
    acknowledge("signing", sign_job(job.pk, by=who, reasons=reasons).voucher_id)


def seal() -> None:
    """The day after the last that is sealed; a sealing that was cut short is gone on with first."""
    last = Seal.objects.order_by("through").last()
    through = last.through if last else FIRST
    said = Spoken("sealing", r"up to and including (\d{4}-\d\d-\d\d)")
    if last:
        call_command("seal", "--through", str(through), stdout=StringIO()) if cut_short(last) else None
        through += timedelta(days=1)
    call_command("seal", "--through", str(through), stdout=said)


def cut_short(last: Seal) -> bool:
    from shopledger.sealing.queries import missing

    return bool(missing(last))


def back_up() -> None:
    call_command(
        "backup", str(BACKUPS / f"shopledger-{uuid.uuid4().hex}.zip"), stdout=Spoken("backing up", r"Wrote (\S+\.zip):")
    )


def copy() -> None:
    if not (OUTSIDE / "copy.zip").exists():
        call_command("backup", str(OUTSIDE / "copy.zip"), stdout=StringIO())


def restore() -> None:
    call_command("restore", str(OUTSIDE / "copy.zip"), stdout=StringIO())


def migrate() -> None:
    call_command("migrate", verbosity=0, stdout=StringIO())


def move() -> None:
    call_command("move_to", f"sqlite:///{OUTSIDE}/moved-{uuid.uuid4().hex}.sqlite3", stdout=StringIO())


# what is killed, and what is made ready for it; how many of 100 kills
PHASES: dict[str, tuple[Callable, Callable | None, int]] = {
    "posting": (post_some, None, 24),
    "signing": (sign, draft, 24),
    "sealing": (seal, None, 14),
    "backing up": (back_up, None, 14),
    "restoring": (restore, copy, 10),
    "migrating": (migrate, None, 7),
    "moving": (move, None, 7),
}


# -- killing -----------------------------------------------------------------------------------------------


def apart(act: Callable, before: Callable | None = None) -> int:
    """An act in a child that has read nothing yet, to its end; the child's status, below 0 where it was killed."""
    sys.stdout.flush()
    child = os.fork()
    if child == 0:
        status = 70
        try:
            if before:
                before()
            act()
            status = 0
        except BaseException:
            import traceback

            traceback.print_exc()
            sys.stderr.flush()
        finally:
            os._exit(status)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def must(act: Callable) -> None:
    assert apart(act) == 0, act.__name__


def dying(before: str, at: int, tells: Path) -> Callable:
    """What a child does first that is to die there."""

    def prepare() -> None:
        os.setsid()
        os.environ |= {
            "DJANGO_SETTINGS_MODULE": "tests.shopledger.dying",
            "DIES_BEFORE": before,
            "DIES_AT": str(at),
            "DIES_TELLS": str(tells),
        }
        import tests.shopledger.dying  # noqa: F401

    return prepare


def moments(act: Callable, ready: Callable | None) -> dict[str, int]:
    """The names of an act's moments, as expressions, and how often each comes in one of its processes."""
    if ready:
        must(ready)
    tells = OUTSIDE / f"told-{uuid.uuid4().hex}"
    assert apart(act, dying(MOMENTS, 0, tells)) == 0, act.__name__
    found: dict[str, Counter] = {}
    for line in tells.read_text(encoding="utf-8").splitlines():
        process, what = json.loads(line)
        found.setdefault(_named(what), Counter())[process] += 1
    return {name: max(times.values()) for name, times in found.items()}


def _named(what: str) -> str:
    """An expression for a moment, whatever its numbers and random names are the next time."""
    parts = re.split(r"(/(?:restoring|copying|moving|tmp)-?[^/]*|[0-9a-f]{8,}|\d+)", what)
    named = ["[^/]*" if n % 2 and not part.startswith("/") else re.escape(part) for n, part in enumerate(parts)]
    named = ["/[^/]*" if n % 2 and parts[n].startswith("/") else part for n, part in enumerate(named)]
    return "".join(named)[:20_000] + ("$" if len(what) < 10_000 else "")


def alone() -> None:
    """Waits until the database has let go of whom was killed."""
    with connection.cursor() as cursor:
        others = connection.vendor == "postgresql"
        while others:
            cursor.execute(
                "SELECT COUNT(*) FROM pg_stat_activity "
                "WHERE datname = current_database() AND pid <> pg_backend_pid() AND backend_type = 'client backend'"
            )
            (others,) = cursor.fetchone()


def look() -> None:
    """What stands after a kill: what was acknowledged and is gone, and whether the ledger holds."""
    said = [line.split("\t") for line in LOG.read_text().splitlines()] if LOG.exists() else []
    kinds = dict(Voucher.objects.values_list("number", "kind"))
    sealed = {str(day) for day in Seal.objects.values_list("through", flat=True)}
    there = {
        "posting": lambda number: kinds.get(int(number)) == "receipt",
        "signing": lambda number: kinds.get(int(number)) == "job",
        "sealing": lambda day: day in sealed,
        "backing up": lambda path: Path(path).is_file(),
    }
    lost = [f"{phase} {what}" for phase, what in said if not there[phase](what)]
    twice = len(said) - len({(phase, what) for phase, what in said})
    for path in BACKUPS.glob("shopledger-*.zip"):  # under its name it is whole
        reader = Reader(path)
        reader.prove()
        reader.close()
    print(json.dumps({"acknowledged": len(said), "lost": lost, "twice": twice, "faults": verify().faults[:3]}))


def looked() -> dict:
    found = OUTSIDE / "looked"

    def tell() -> None:
        with found.open("w", encoding="utf-8") as file:
            sys.stdout = file
            try:
                look()
            except Exception as error:
                print(json.dumps({"lost": [], "twice": 0, "faults": [repr(error)]}))

    status = apart(tell, alone)
    return json.loads(found.read_text()) if status == 0 else {"lost": [], "twice": 0, "faults": ["not to be read"]}


def kill(act: Callable, ready: Callable | None, lot: random.Random, names: dict[str, int]) -> str:
    """Where it was killed; blank where the moment did not come this time."""
    if ready:
        must(ready)
    name = lot.choice(sorted(names))
    tells = OUTSIDE / "told"
    tells.unlink(missing_ok=True)
    status = apart(act, dying(name, lot.randint(1, names[name]), tells))
    assert status in {0, -signal.SIGKILL}, (act.__name__, name, status)
    if status == 0:
        return ""
    return json.loads(tells.read_text().splitlines()[0])[1]


def main(seed: int, kills: int) -> None:
    """Prints a line of JSON for each phase."""
    BACKUPS.mkdir()
    must(stock)
    for phase, (act, ready, share) in PHASES.items():
        lot = random.Random(f"{seed} {phase}")
        names = moments(act, ready)
        found = {"phase": phase, "moments": len(names), "kills": 0, "lost": [], "unverified": [], "lived": 0}
        while found["kills"] < max(1, kills * share // 100):
            where = kill(act, ready, lot, names)
            stands = looked()
            found["kills" if where else "lived"] += 1
            assert found["lived"] <= 10 + kills, names
            found["lost"] += [f"{gone}, killed before {where[:80]}" for gone in stands["lost"]]
            if stands["faults"] or stands["twice"]:
                found["unverified"].append([where[:80], stands])
        found["acknowledged"] = stands.get("acknowledged")
        print(json.dumps(found), flush=True)
