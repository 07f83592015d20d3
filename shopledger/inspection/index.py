"""The pages of a bundle: they open from a disk, in any browser, without this program, scripts or a network."""

import html
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from django.utils import timezone

from inventory.shop.models import Shop
from shopledger.inspection import verify
from shopledger.reporting.report import Period


@dataclass(frozen=True)
class Told:
    """What the first page tells. by: who made the bundle. head: the ledger's, number and digest. listed: (file, title).
    rows: how many each report has."""

    period: Period
    by: str
    head: tuple[int, str]
    listed: Sequence[tuple[str, str]]
    rows: Mapping[str, int]


def verifier() -> bytes:
    """verify.py as it goes into a bundle: with line feeds, whatever the checkout made of them."""
    return Path(verify.__file__).read_text(encoding="utf-8").encode()


def index_page(told: Told) -> str:
    shop = Shop.current()
    number, digest = told.head
    cautions = " ".join(html.escape(caution.sentence) for caution in shop.rules.cautions("report", told.period.last))
    invented = "<p><strong>An invented shop: nothing in it is real.</strong></p>" if shop.invented else ""
    files = "".join(f"<li>{_link(name, title)} <small>{html.escape(name)}</small></li>" for name, title in told.listed)
    return _page(
        "Inspection bundle",
        f"<p>{html.escape(shop.name)}, {html.escape(shop.address)}</p>{invented}"
        f"<p>{told.period.first} to {told.period.last}. Made {timezone.now():%Y-%m-%d %H:%M} UTC by "
        f"{html.escape(told.by)}. Rulebook: {html.escape(str(shop.rules))}.</p>"
        f"<p>The ledger stood at entry {number}; its digest was <code>{digest}</code>.</p>"
        f"{PROVES}<h2>The first ten minutes</h2><ol>{''.join(_answer(told, *one) for one in ASKED)}</ol>"
        f"<h2>All that is in it</h2><ul>{files}</ul>"
        f"<p>{cautions}</p><p>Check local rules; licensed practice comes first.</p>",
    )


def check_page() -> str:
    return _page("How to check this bundle by hand", CHECK)


def _answer(told: Told, asked: str, reports: Sequence[str], files: Sequence[str], more: str) -> str:
    """A question of the first ten minutes, and where its answer stands."""
    there = []
    for name in reports:
        if name not in told.rows:
            there.append("the rulebook asks for none")
            continue
        rows = told.rows[name]
        count = f"{rows} line{'s' if rows > 1 else ''}" if rows else "none in this period"
        there.append(f"{_link(f'reports/{name}.pdf', name)} ({_link(f'reports/{name}.csv', 'CSV')}; {count})")
    there += [_link(name, name) for name in files]
    there += [html.escape(more)] if more else []
    return f"<li><strong>{html.escape(asked)}</strong>: {'; '.join(there)}.</li>"


def _link(name: str, title: str) -> str:
    return f'<a href="{html.escape(name)}">{html.escape(title)}</a>'


def _page(title: str, body: str) -> str:
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{html.escape(title)}</title></head>"
        f"<body><h1>{html.escape(title)}</h1>{body}</body></html>"
    )


# In the order in which an inspector asks: what, the reports that answer, other files, and what else is to be said.
ASKED: tuple[tuple[str, tuple[str, ...], tuple[str, ...], str], ...] = (
    ("People and their certificates", ("people",), ("certificates.csv",), "scans lie in papers/"),
    (
        "Machines, their checks, and the certification to the authority",
        (),
        ("records.jsonl",),
        "there the lines of kind machine and machine-check; the certification to the authority is not recorded here",
    ),
    ("The company's own certificate", (), ("records.jsonl",), "there the lines of kind settings"),
    ("Where used refrigerant went", ("shipments",), (), "receipts lie in papers/"),
    ("What was bought in the last year", ("purchases",), (), "of the days of this bundle; invoices lie in papers/"),
    ("What was sold over the counter, and to whom", ("shipments", "usage"), (), "lines with the purpose sell"),
    ("Appliances disposed of, month by month", (), (), "not recorded here"),
    ("Equipment, leak checks, and what is open", ("units", "findings"), (), "job sheets lie in jobs/"),
    ("Containers", ("containers", "variances"), (), ""),
    (
        "What was corrected, by whom and why",
        (),
        ("trail.jsonl", "vouchers.jsonl", "records.jsonl"),
        "the first tells changes beside the ledger; in the second look for reversal and restatement; the third holds "
        "the reasons, of kind words; each report names below its table what was corrected after its days",
    ),
    ("The figures of each quarter or other period", ("returns",), (), ""),
    ("Whether the stock adds up", ("usage",), (), "verify.py works its figures out again from the entries"),
    ("Whether anything was altered or left out", (), ("verify.py", "check.html"), ""),
)

PROVES = """<h2>What this proves and what it does not</h2>
<p><strong>Proved by what is in this file alone.</strong> Every file is as <code>manifest.json</code> lists it. That
list was entered in the ledger (<code>receipt.json</code>) after everything else in here was written. Each entry of the
period, and each record that it names, is what the chain of digests holds; none between the first and the last of them
is left out. The usage report is what these entries come to. <code>verify.py</code> works all of this out anew.</p>
<p><strong>Not proved by it alone: whose it is.</strong> Whoever forges one thing can forge the rest to match. Ask for a
digest that lay elsewhere: on a report or job sheet printed earlier, on the receipt of sealed days, in the name of a
backup. <code>python3 verify.py --head DIGEST</code> says whether this chain holds it, and up to which entry it so
stands. Or ask the shop's ledger itself: <code>manage.py verify --bundle FILE.zip</code> there says whether it holds the
entry that names this list; that attests all files at once.</p>
<p><strong>Not proved by anything here.</strong> That what was entered is true: that a scale was read as it was typed,
that nobody did work that was never entered. That a drawing (PDF) or another table shows the entries rightly: it is as
the program wrote it. That a name is the right one: <code>who.csv</code> says how people, customers, units and partners
were called on the day when this was made; everywhere else they stand by their codes. What was erased since, as the law
allows, is named with the entry that erased it.</p>
<p><strong>verify.py in here may be forged too.</strong> Compare its SHA-256 with the one in the README of the program
(Shopledger) and on the receipts of sealed days, or take the file from there.</p>"""

CHECK = """<p>The files: <code>sha256sum FILE</code> must say what <code>manifest.json</code> lists. The SHA-256 of
<code>manifest.json</code> stands in <code>receipt.json</code>: there <code>text</code> is the ledger's entry, and the
last list in it names the records below by kind, key and digest. <code>python3 verify.py</code> does all of this, and
more; it is the file whose SHA-256 the program's README names.</p>
<p>The entries: each line of <code>vouchers.jsonl</code> is one; <code>text</code> is all that it says. Its link is the
SHA-256 of the text, its digest that of the digest before, a line feed and the link, all in UTF-8 and lower-case
hexadecimal. Before the first stands the SHA-256 of <code>shopledger </code> and the ledger's id. The digest of a record
is the SHA-256 of its salt, a line feed and its body.</p>
<p>One entry by hand: <code>printf '%s\\n%s' "$previous" "$(printf %s "$text" | sha256sum | cut -c-64)" |
sha256sum</code>. All of them:</p>
<pre>python3 - &lt;&lt;'END'
import hashlib, json
sha = lambda text: hashlib.sha256(text.encode()).hexdigest()
digest, links = sha("shopledger " + json.load(open("manifest.json"))["ledger"]), open("links.bin", "rb")
chain = [digest] + [digest := sha(digest + "\\n" + link.hex()) for link in iter(lambda: links.read(32), b"")]
for line in open("vouchers.jsonl", encoding="utf-8"):
    v = json.loads(line)
    assert json.loads(v["text"])[1:3] == [v["number"], v["day"]], v["number"]
    assert v["digest"] == chain[v["number"]] == sha(chain[v["number"] - 1] + "\\n" + sha(v["text"])), v["number"]
print("the chain holds, its last digest is", digest)
END</pre>
<p>Papers printed earlier carry the digest of their day: it must be among these.</p>"""
