"""Reports, balances and proofs, each beside the best statements by hand; exports, by the memory that they take."""

import datetime as dt
import hashlib
import uuid

from django.conf import settings
from django.contrib.auth import get_user_model
from django.test import Client

from inventory.ledger import canonical
from inventory.ledger.models import Account, ChainHead, Movement, Seal
from inventory.ledger.queries import balances_of
from inventory.ledger.seals import seal
from inventory.ledger.verify import verify, verify_since_seal
from shopledger.reporting.report import Period
from shopledger.reports import usage
from tests.bench.byhand import Raw
from tests.bench.timing import Found, ms, peak_mb, turns

FLOWS = (
    "SELECT substance_id, source_class, target_class, reversal, SUM(q) FROM (SELECT day, substance_id, source_class, "
    "target_class, reversal, SUM(quantity) q FROM inventory_movement WHERE day > %s AND day <= %s "
    "GROUP BY 1, 2, 3, 4, 5) AS days GROUP BY 1, 2, 3, 4"
)
OPENING = (
    "SELECT a.substance_id, SUM(b.balance) FROM inventory_sealbalance b JOIN inventory_account a "
    "ON a.id = b.account_id WHERE b.seal_id = %s AND a.cls = 1 GROUP BY 1"
)
TOTALS = (
    "SELECT substance_id, source_class, target_class, reversal, SUM(quantity) FROM inventory_sealtotal "
    "WHERE seal_id = %s GROUP BY 1, 2, 3, 4"
)
BALANCES = (
    "SELECT a.id, COALESCE((SELECT balance FROM inventory_sealbalance WHERE seal_id = %s AND account_id = a.id), 0) "
    "+ COALESCE((SELECT SUM(quantity) FROM inventory_movement WHERE target_id = a.id AND day > %s AND day <= %s), 0) "
    "- COALESCE((SELECT SUM(quantity) FROM inventory_movement WHERE source_id = a.id AND day > %s AND day <= %s), 0) "
    "FROM inventory_account a WHERE a.id IN ({marks})"
)

VOUCHERS = "SELECT number, day, kind, recorded_at, detail, digest FROM inventory_voucher ORDER BY number"


def measure(found: Found) -> None:
    """An open and a sealed quarter, and balances on a day, over the same snapshots; then the proofs."""
    last = Movement.objects.order_by("-day").first().day
    ends = [last - dt.timedelta(days) for days in (184, 92)]
    seals = [seal(day, "bench") for day in ends]
    raw, day = Raw(), dt.timedelta(days=1)

    def open_by_hand() -> None:
        raw.run(OPENING, (seals[1].id,)).fetchall()
        raw.run(FLOWS, (ends[1].isoformat(), last.isoformat())).fetchall()

    def sealed_by_hand() -> None:
        raw.run(OPENING, (seals[0].id,)).fetchall()
        raw.run(TOTALS, (seals[1].id,)).fetchall()

    found.keep("usage report, open quarter", *turns(lambda: usage.rows(Period(ends[1] + day, last)), open_by_hand))
    sealed = Period(ends[0] + day, ends[1])
    found.keep("usage report, sealed quarter", *turns(lambda: usage.rows(sealed), sealed_by_hand))
    accounts = list(Account.objects.filter(cls=1).values_list("id", flat=True)[:100])
    statement = BALANCES.format(marks=", ".join(["%s"] * len(accounts)))
    through, now = ends[1].isoformat(), last.isoformat()
    found.keep(
        "balances of 100 containers on a day",
        *turns(
            lambda: balances_of(accounts, last),
            lambda: raw.run(statement, (seals[1].id, through, now, through, now, *accounts)).fetchall(),
        ),
    )
    raw.close()


def proofs(found: Found) -> None:
    """The complete proof beside a loop that only hashes the same text, and the proof since a seal of the last days."""
    raw = Raw()

    def hashing() -> None:
        previous = canonical.genesis(ChainHead.objects.get().ledger_id)
        for row in raw.each(
            "SELECT number, day, kind, recorded_at, detail, digest FROM inventory_voucher ORDER BY number"
        ):
            hashlib.sha256(f"{previous}\n{row}".encode()).hexdigest()
            previous = row[5]

    before = peak_mb()
    loop = [ms(hashing)]
    whole = ms(verify)
    loop.append(ms(hashing))  # before and after: a minute lies between
    found.keep("verify, complete", [whole], loop)
    found["verify, complete, MB more memory"] = peak_mb() - before
    if Seal.objects.exists():  # made where reports are measured
        since = ms(verify_since_seal)
        found.keep("verify since the last seal", [since])
        found["verify since the last seal, share of complete"] = since / whole
    raw.close()


def exports(found: Found) -> None:
    """All jobs, containers and movements as files. What counts is the memory: it is to stay as it is."""
    person = get_user_model().objects.create_user("exporter", password=uuid.uuid4().hex, name="E", role="owner")
    settings.ALLOWED_HOSTS = ["testserver"]
    client = Client()
    client.force_login(person)
    for address in ("/jobs/", "/ledger/?export=xlsx&kind=decant"):  # what the first request of a process loads
        client.get(address)
    for name, address in (
        ("movements", "/ledger/?export=csv"),
        ("jobs", "/jobs/?export=csv"),
        ("jobs, XLSX", "/jobs/?export=xlsx"),
    ):
        counted = [0]

        def export(address: str = address, counted: list[int] = counted) -> None:
            answer = client.get(address)
            assert answer.status_code == 200, address
            counted[0] = sum(part.count(b"\n") for part in answer.streaming_content) - 1
            answer.close()

        before = peak_mb()
        seconds = ms(export) / 1000
        if "XLSX" not in name:
            found[f"export of {name}, rows"] = counted[0]
        found[f"export of {name}, s"] = seconds
        found[f"export of {name}, MB more memory"] = peak_mb() - before
