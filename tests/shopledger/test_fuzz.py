"""Every form of the site and every cell of a log, filled in wrongly: never a fault, never half a voucher.

A build tries a few examples, always the same ones. `pytest -m long` tries many more, FUZZ times 400, others each time.
"""

import csv
import io
import os
import random
from html.parser import HTMLParser

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inventory.ledger.models import Movement, Voucher
from inventory.ledger.verify import verify
from inventory.shop.clock import today
from shopledger.logbook.actions import LogRefused, load
from tests.inventory.test_attachments import uploads  # noqa: F401 (a fixture)
from tests.jobs.test_jobs import bay  # noqa: F401 (a fixture)
from tests.shopledger.test_every_page import addresses  # noqa: F401 (a fixture)
from tests.shopledger.test_reports import LOG

pytestmark = pytest.mark.django_db
LONG = int(os.environ.get("FUZZ", "1")) * 400
EXAMPLES = pytest.mark.parametrize("examples", [40, pytest.param(LONG, marks=pytest.mark.long)])
NASTY = [
    "",
    " ",
    "\0",
    "\x1b[2J",
    "\u202egnp.exe",
    "\u200b",
    "'; DROP TABLE jobs_job; --",
    "<script>alert(1)</script>",
    "{{ 7 }}",
    "=1+1",
    "-1",
    "+1",
    "@SUM(A1)",
    "NaN",
    "inf",
    "-inf",
    "1e999",
    "1e-999",
    "9" * 400,
    "0x10",
    "1_000",
    "1,5",
    "1.5.2",
    "٣٤٠ g",
    "½",
    "340 stone",
    "340g340",
    "--5 g",
    "1 000 g",
    "0000-00-00",
    "0001-01-01",
    "9999-12-31",
    "99999-01-01",
    "2026-02-30",
    "2026-13-01",
    "24:61",
    "../../etc/passwd",
    "%s%n",
    "null",
    "None",
    "true",
    "[]",
    "{}",
    "é" * 5000,
    "🧊" * 300,
    "a\r\nSet-Cookie: b=c",
    "9223372036854775808",
    "-9223372036854775809",
    "99999999999 kg",
    "0.0000001 g",
]
ODD = st.one_of(
    st.sampled_from(NASTY),
    st.text(st.characters(exclude_categories=["Cs"]), max_size=300),
    st.integers(-(10**40), 10**40).map(str),
    st.floats().map(repr),
    st.decimals(allow_nan=True).map(lambda value: f"{value} g"),
    st.dates().map(str),
)


def fuzzing(examples: int) -> settings:
    return settings(
        max_examples=examples,
        deadline=None,
        derandomize=examples < LONG,
        database=None,
        print_blob=True,
        suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow, HealthCheck.data_too_large],
    )


class Forms(HTMLParser):
    """The forms of a page: where they go, and the fields of each with what stands in them."""

    def __init__(self, page: str):
        super().__init__()
        self.found: list[dict] = []
        self.select = ""
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        said = dict(attrs)
        if tag == "form":
            self.found.append({"to": said.get("action") or "", "by": said.get("method", "get").lower(), "fields": {}})
        if not self.found:
            return
        fields, name = self.found[-1]["fields"], said.get("name")
        if tag == "select" and name:
            self.select = name
            fields[name] = ("select", [], "")
        elif tag == "option" and self.select:
            fields[self.select][1].append(said.get("value", ""))
        elif tag in {"input", "textarea", "button"} and name:
            kind = said.get("type", "text") if tag == "input" else tag
            if kind in {"radio", "button"} and name in fields:
                fields[name][1].append(said.get("value", "on"))
            else:
                fields[name] = (kind, [said.get("value") or ""], said.get("inputmode") or "")

    def handle_endtag(self, tag):
        if tag == "select":
            self.select = ""


def plausible(kind: str, values: list[str], mode: str, choose: random.Random) -> object:
    """What somebody might enter who means no harm."""
    if kind == "file":
        return SimpleUploadedFile("x.csv", b"date,container\n")
    if kind in {"select", "radio", "button", "checkbox", "hidden"} or any(values):
        return choose.choice(values) if values else ""
    if kind == "date":
        return str(today())
    return "100" if mode in {"decimal", "numeric"} else choose.choice(["x", "100 g", ""])


def filled(form: dict, odd: dict[str, object], seed: int) -> dict:
    choose = random.Random(seed)
    data = {name: plausible(*field, choose) for name, field in form["fields"].items()}
    return {**data, **odd}


def held() -> tuple[int, int]:
    return Voucher.objects.count(), Movement.objects.count()


@EXAMPLES
@pytest.mark.parametrize("role", ["technician", "office", "owner"])
def test_no_form_filled_in_wrongly_breaks_anything(addresses, role, examples, request):  # noqa: F811
    client = request.getfixturevalue(f"{role}_client")
    client.raise_request_exception = False
    forms = []
    for name, address in addresses.items():
        if name in {"sign-out", "worker"}:
            continue
        page = client.get(address)
        if page.status_code == 200 and page.get("Content-Type", "").startswith("text/html"):
            found = [
                one for one in Forms(page.content.decode()).found if "/sign-out" not in one["to"] and one["fields"]
            ]
            forms += [(name, one["to"] or address, one) for one in found]
    seen = {(to, tuple(one["fields"])): (name, to, one) for name, to, one in forms}
    forms = list(seen.values())
    assert len(forms) > 10
    faults = verify().faults  # one: the file of a report as issued, of which the addresses need no more than its row

    @fuzzing(examples)
    @given(st.data())
    def fuzz(data):
        name, to, form = data.draw(st.sampled_from(forms))
        fields = [field for field, said in form["fields"].items() if said[0] != "file"] or ["nothing"]
        wrong = data.draw(st.lists(st.sampled_from(fields), min_size=1, max_size=2, unique=True))
        odd = {field: data.draw(ODD) for field in wrong}
        sent = filled(form, odd, data.draw(st.integers(0, 50)))
        before = held()
        with transaction.atomic():
            answer = getattr(client, form["by"])(to, sent)
            assert answer.status_code < 500, (name, to, sent)
            if answer.status_code >= 400:
                assert held() == before, ("refused, and something is left behind", name, sent)
            elif held() != before:
                assert verify().faults == faults, (name, sent)
            transaction.set_rollback(True)
        client.get("/")  # messages are read, and the session is the one that the database holds

    fuzz()


CELLS = [
    (name, row, column)
    for name, text in LOG.items()
    for row, cells in enumerate(csv.reader(io.StringIO(text)))
    for column, _ in enumerate(cells)
]


@EXAMPLES
def test_no_cell_of_a_log_breaks_the_loading(examples, tmp_path):
    @fuzzing(examples)
    @given(st.lists(st.tuples(st.sampled_from(CELLS), ODD), min_size=1, max_size=2), st.booleans())
    def fuzz(changes, quoted):
        files = {name: list(csv.reader(io.StringIO(text))) for name, text in LOG.items()}
        for (name, row, column), value in changes:
            files[name][row][column] = value
        for name, rows in files.items():
            with (tmp_path / f"{name}.csv").open("w", encoding="utf-8", newline="") as out:
                csv.writer(out, quoting=csv.QUOTE_ALL if quoted else csv.QUOTE_MINIMAL).writerows(rows)
        with transaction.atomic():
            before = held()
            try:
                load(tmp_path)
            except LogRefused as refused:
                assert refused.faults and held() == before
            else:
                assert verify().holds
            transaction.set_rollback(True)

    fuzz()


def test_ten_million_letters_are_refused_with_a_sentence(addresses, owner_client):  # noqa: F811
    owner_client.raise_request_exception = False
    before = held()
    for name in ("unit-new", "settings", "receiving", "people", "job"):
        answer = owner_client.post(addresses[name], {"note": "x" * 10_000_000, "name": "y"})
        assert answer.status_code in {400, 403, 405, 413}, (name, answer.status_code)
    assert held() == before
