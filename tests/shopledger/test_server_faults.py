"""What happens to a shop on PostgreSQL: its server gone and back, taking no writing, copied to a second one.

Each test runs on servers of its own; they are skipped where PostgreSQL is not installed.
"""

import os
import subprocess
import tempfile
import threading
import time
import uuid
from pathlib import Path

import pytest

from tests.forked import LONG
from tests.forms import sent
from tests.shopledger.cluster import Cluster
from tests.shopledger.site import Site, sentence

pytestmark = pytest.mark.processes
MARCH = ["--from", "2026-03-01", "--to", "2026-03-31"]


@pytest.fixture(scope="module")
def cluster():
    found = Cluster()
    yield found
    found.end()


@pytest.fixture(scope="module")
def shop(cluster, tmp_path_factory):
    cluster.sql("CREATE DATABASE shop")
    return Site(tmp_path_factory.mktemp("shop"), cluster.url("shop")).set_up()


@pytest.fixture
def site(shop, cluster):
    if not cluster.running():
        cluster.start()
    yield shop
    shop.end()


def holds(site):
    return "The ledger holds." in site.do("verify")


def test_a_server_gone_and_back(site, cluster):
    server = site.serve()
    before = site.documents()
    assert server.deliver("GONE-1")[0] == 302
    cluster.stop()
    try:
        key = str(uuid.uuid4())
        for answer in (server.get("/stock/"), server.deliver("GONE-2", key)):
            assert sentence(answer), answer
        form = sent(answer[1])
        assert (form["document"], form["key"]) == ("GONE-2", key), "what was typed is on the page"
        assert server.get("/healthz") == (503, "not ok\n")
        done = site.run("health")
        assert done.returncode == 1 and "wrong  Database" in done.stdout and "Traceback" not in done.stderr
    finally:
        cluster.start()
    assert server.ask("POST", "/receiving/new/", form)[0] == 302, "the first request after it is back is answered"
    assert server.deliver("GONE-2", key)[0] == 302
    assert server.get("/healthz") == (200, "ok\n")
    assert site.documents() == [*before, "GONE-1", "GONE-2"]
    assert holds(site)


def test_connections_cut_while_people_post(site, cluster):
    """Each sends the same form again when told that the ledger is away, as the page asks, until 30 were cut in the
    middle of a transaction: all is posted, once. What is sent after the last cut is taken at once."""
    servers = [site.serve(), site.serve()]
    before = site.documents()
    wanted, odd, enough = [], [], threading.Event()

    def person(name):
        number = 0
        while number < 3 or not enough.is_set():
            document, key = f"CUT-{name}-{number}", str(uuid.uuid4())
            wanted.append(document)
            while True:
                still_cut = not enough.is_set()
                answer = servers[name % 2].deliver(document, key)
                if answer[0] == 302:
                    break
                if not (still_cut and sentence(answer)):
                    odd.append(answer)
                    return
            number += 1

    people = [threading.Thread(target=person, args=(name,)) for name in range(4)]
    for one in people:
        one.start()
    cut = 0
    while cut < 30 and any(one.is_alive() for one in people):
        cut += cluster.throw_out("shop", "AND xact_start IS NOT NULL")
    enough.set()
    for one in people:
        one.join()
    assert not odd and cut >= 30
    after = site.documents()[len(before) :]
    assert sorted(after) == sorted(wanted)
    assert holds(site)


def test_a_server_that_takes_no_writing(site, cluster):
    server = site.serve()
    before = site.documents()
    cluster.sql("ALTER DATABASE shop SET default_transaction_read_only = on")
    cluster.throw_out("shop")
    try:
        assert server.get("/stock/")[0] == 200
        assert sentence(server.deliver("RO-1"))
        assert holds(site)
    finally:
        cluster.sql("ALTER DATABASE shop RESET default_transaction_read_only")
        cluster.throw_out("shop")
    assert server.deliver("RO-1")[0] == 302
    assert site.documents() == [*before, "RO-1"]


@pytest.fixture
def small_cluster(site, cluster):
    """A server whose disk is a small one of its own, in memory; it begins as a copy of the other one."""
    folder = Path(tempfile.mkdtemp(prefix="small-disk-"))
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=120m", "tmpfs", folder], capture_output=True)
    if mounted.returncode:
        folder.rmdir()
        pytest.skip("this user may not mount a small disk")
    found = None
    try:
        found = Cluster(copied_from=cluster, base=folder)
        found.promote()
        yield found
    finally:
        if found:
            found.end()
        subprocess.run(["umount", "-l", folder], check=True)
        folder.rmdir()


def test_a_server_whose_disk_is_full(small_cluster, shop):
    """Whether the server refuses the row or ends for want of room for its log: people read the same sentence."""
    site = Site(shop.folder, small_cluster.url("shop"))
    before = site.documents()
    filler = small_cluster.base / "holiday.mov"
    try:
        server = site.serve()
        acknowledged = []
        left = os.statvfs(small_cluster.base)
        filler.write_bytes(b"x" * (left.f_bavail * left.f_frsize - 1_500_000))
        for number in range(300):
            document, key = f"FULL-{number}", str(uuid.uuid4())
            answer = server.deliver(document, key, count=40)
            if answer[0] != 302:
                break
            acknowledged.append(document)
        assert sentence(answer), answer
        filler.unlink()
        small_cluster.revive()
        assert server.deliver(document, key, count=40)[0] == 302
        assert site.documents() == [*before, *acknowledged, document]
        assert holds(site)
    finally:
        site.end()


def caught_up(primary, replica):
    """Once the second server has replayed all that the first one wrote."""
    (last,) = primary.sql("SELECT pg_current_wal_lsn()::text")[0]
    for _ in range(20 * LONG):
        if replica.sql(f"SELECT pg_last_wal_replay_lsn() >= '{last}'::pg_lsn")[0][0]:
            return
        time.sleep(0.05)
    raise AssertionError("the second server does not follow")


def test_a_second_server_serves_reports_and_takes_over(site, cluster):
    """A streaming replica: reports, pages and the proof come from it; it takes no entry until it is promoted."""
    server = site.serve()
    assert server.deliver("CHAIN-1", count=24)[0] == 302
    replica = Cluster(copied_from=cluster)
    reading = Site(site.folder, replica.url("shop"))
    try:
        assert server.deliver("CHAIN-2")[0] == 302, "posted after the copy was made: it must follow"
        caught_up(cluster, replica)
        usage = site.do("report", "usage", *MARCH, "--format", "csv")
        assert usage == reading.do("report", "usage", *MARCH, "--format", "csv") and "R-134a" in usage
        second = reading.serve()
        page = "/reports/usage/?first=2026-03-01&last=2026-03-31"
        assert second.get(page)[0] == 200 and second.get("/stock/")[0] == 200
        assert sentence(second.deliver("CHAIN-3"))
        assert holds(reading)
        cluster.stop("fast")
        replica.promote()
        assert second.deliver("CHAIN-3")[0] == 302
        assert reading.documents()[-3:] == ["CHAIN-1", "CHAIN-2", "CHAIN-3"]
        assert holds(reading)
    finally:
        reading.end()
        replica.end()


def test_movements_by_year_give_the_same_sums_and_read_one_year(site, cluster):
    """The partitioning that shopledger/deploy/README.md writes down, on a copy of the table."""
    server = site.serve()
    assert server.deliver("YEAR-1")[0] == 302
    cluster.sql(
        "CREATE TABLE by_year (LIKE inventory_movement, PRIMARY KEY (voucher_id, line, day)) PARTITION BY RANGE (day);"
        "CREATE TABLE by_year_2026 PARTITION OF by_year FOR VALUES FROM ('2026-01-01') TO ('2027-01-01');"
        "CREATE TABLE by_year_2025 PARTITION OF by_year FOR VALUES FROM ('2025-01-01') TO ('2026-01-01');"
        "INSERT INTO by_year SELECT * FROM inventory_movement",
        "shop",
    )
    sums = "SELECT substance_id, source_class, target_class, SUM(quantity) FROM {} {} GROUP BY 1, 2, 3 ORDER BY 1, 2, 3"
    quarter = "WHERE day BETWEEN '2026-01-01' AND '2026-03-31'"
    whole = cluster.sql(sums.format("inventory_movement", quarter), "shop")
    assert whole and whole == cluster.sql(sums.format("by_year", quarter), "shop")
    plan = str(cluster.sql("EXPLAIN " + sums.format("by_year", quarter), "shop"))
    assert "by_year_2026" in plan and "by_year_2025" not in plan
