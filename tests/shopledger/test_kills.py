"""Two hundred SIGKILLs in the middle of what a shop does, told by phase: nothing acknowledged is lost.

The moments are drawn by a seed from those that each act names itself (killing.py). By name:
`pytest -m long -s tests/shopledger/test_kills.py`, with DATABASE_URL on PostgreSQL.
"""

import json
import os

import pytest

from tests.forked import Forked
from tests.shopledger.site import Site
from tests.shopledger.test_restoring import database, drop

pytestmark = [pytest.mark.processes, pytest.mark.both]
KILLS, SEED = int(os.environ.get("KILLS", 200)), int(os.environ.get("KILLS_SEED", 16))


@pytest.fixture
def site(tables, tmp_path):
    url = database()
    yield Site(tmp_path / "data", url).set_up(None if url else tables)
    drop(url)


def told(site, seed, kills, phases=()):
    """Kills so many times; the line of each phase, printed as a table."""
    only = f"for name in set(killing.PHASES) - {set(phases)!r}: del killing.PHASES[name]\n" if phases else ""
    run = Forked(f"from tests.shopledger import killing\n{only}killing.main({seed}, {kills})", site.environment)
    where = "PostgreSQL" if site.url else "SQLite"
    print(f"\n{where}, seed {seed}\n| phase | moments | kills | lived | lost | unverified |\n|---|---|---|---|---|---|")
    found = []
    for line in run.stdout:
        if not line.startswith("{"):
            continue
        found.append(one := json.loads(line))
        counts = [one["moments"], one["kills"], one["lived"], len(one["lost"]), len(one["unverified"])]
        print(f"| {one['phase']} | " + " | ".join(map(str, counts)) + " |", flush=True)
    said = run.ended()
    if found:
        print(sum(one["kills"] for one in found), "kills;", found[-1]["acknowledged"], "acknowledged")
    assert said.returncode == 0, said.stderr
    return found


def nothing_lost(found):
    for one in found:
        assert (one["lost"], one["unverified"]) == ([], []), one
        assert one["kills"] > 0


def test_killed_while_posting_and_signing(site):
    found = told(site, SEED, 12, phases=["posting", "signing"])
    nothing_lost(found)
    assert [one["phase"] for one in found] == ["posting", "signing"] and found[-1]["acknowledged"] > 3


@pytest.mark.long
def test_two_hundred_kills(site):
    found = told(site, SEED, KILLS)
    nothing_lost(found)
    assert sum(one["kills"] for one in found) == KILLS and len(found) == 7
