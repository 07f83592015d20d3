"""That a bundle was made is an entry of the ledger: its record holds the SHA-256 of the list of the bundle's files.

The order: all files and their list are written from a copy that stands at a head; then the entry is posted to the
ledger itself; then the receipt, which leads from that head to the entry, goes into the bundle, and the bundle gets its
name. So nobody is handed a bundle without its entry. Where the making fails after the entry, the entry stays: it says
that such a list was made, not that somebody holds it.

The list names files with words in them, by their SHA-256: so its own is among the record's words, and has a salt.
"""

import datetime as dt
import hashlib
import json

from inventory.ledger import canonical
from inventory.ledger.actions import Draft, writing
from inventory.ledger.chain import links
from inventory.ledger.models import Record, Voucher
from inventory.ledger.records import WORDS
from inventory.ledger.snapshot import one_moment
from inventory.shop.clock import today
from inventory.text.refusal import Refused

HANDOUT = "handout"  # the kind of the entry and of its record
ABOUT = ("ledger", "from", "to", "head")  # what the record says, as the list does


def enter(manifest: dict[str, object], listed: bytes, key: str, by: str) -> int:
    """Post the entry; returns its number. manifest, listed: the list, and its bytes. key: of the bundle. Raises Refused
    where the ledger no longer holds the head that the list names, as it was restored meanwhile."""
    head = manifest["head"]
    with writing() as ledger:
        kept = Voucher.objects.filter(number=head["number"]).values_list("digest", flat=True).first()
        if (kept or canonical.genesis(ledger.ledger_id)) != head["digest"]:
            raise Refused("The ledger was put back to another state while the bundle was made; make it again.")
        day = today()
        if ledger.sealed_through:
            day = max(day, ledger.sealed_through + dt.timedelta(days=1))
        number = ledger.post(Draft(kind=HANDOUT, day=day, recorded_by=by))
        about = {name: manifest[name] for name in ABOUT}
        ledger.state(HANDOUT, key, about, {"manifest": hashlib.sha256(listed).hexdigest()}, new=True)
    return number


def receipt(head: int, number: int) -> tuple[bytes, str]:
    """receipt.json: the links of the entries between a head and the one that names the list, and that one whole; and
    the digest of that one."""
    between, text, digest = [], "", ""
    with one_moment():
        for link in links(head + 1, number):
            between.append(canonical.link(link.text))
            text, digest = link.text, link.digest
        records = Record.objects.filter(voucher=number).filter(kind__in=[HANDOUT, WORDS]).order_by("line")
        told = list(records.values_list("kind", "key", "salt", "body"))
    said = {"links": between[:-1], "text": text, "records": told}
    return json.dumps(said, ensure_ascii=False, indent=1).encode(), digest
