"""manage.py verify [--head DIGEST] [--as-json] [--since-seal] | --bundle FILE.zip [--head DIGEST] | --against FILE"""

import json
from pathlib import Path

from inventory.ledger.models import Voucher
from inventory.ledger.queries import as_digest
from inventory.ledger.verify import verify, verify_since_seal
from shopledger.backup.compare import compare
from shopledger.backup.models import note
from shopledger.inspection.check import check_bundle
from shopledger.management.plain import Fault, PlainCommand


class Command(PlainCommand):
    help = "Proves the whole record: digests, balances, seals, and every row that is evidence."

    def add_arguments(self, parser) -> None:
        parser.add_argument("--head", metavar="DIGEST", help="a digest kept elsewhere, which the chain must still hold")
        parser.add_argument("--as-json", action="store_true")
        parser.add_argument("--since-seal", action="store_true", help="prove only what was posted since the last seal")
        parser.add_argument("--bundle", metavar="FILE.zip", help="prove an inspection bundle instead of this ledger")

        parser.add_argument(
            "--against", metavar="FILE", help="a backup of another copy: which one is ahead, or after what they parted"
        )

    def act(self, *, head: str | None, as_json: bool, since_seal: bool, **options) -> None:
        if options["bundle"] is not None:
            self._bundle(Path(options["bundle"]), head or "")
            return
        if options["against"] is not None:
            self._against(Path(options["against"]))
            return
        proof = verify_since_seal(head) if since_seal else verify(head, say=self._say)
        kept = f"{proof.vouchers} vouchers, last digest {proof.head}." if proof.holds else proof.faults[0][1]
        if not since_seal or not proof.holds:  # a partial proof does not stand for a complete one
            note("verify", proof.holds, kept)
        counts = {
            "vouchers": proof.vouchers,
            "movements": proof.movements,
            "records": proof.records,
            "accounts": proof.accounts,
            "seals": proof.seals,
        }
        if as_json:
            said = {
                "holds": proof.holds,
                **counts,
                "head": {"number": proof.number, "digest": proof.head},
                "first_wrong": proof.first_wrong,
                "faults": [{"voucher": number, "message": message} for number, message in proof.faults],
            }
            self.stdout.write(json.dumps(said, indent=1))
        else:
            self.stdout.write("Checked " + ", ".join(f"{count} {what}" for what, count in counts.items()) + ".")
            self.stdout.write(f"The last voucher is {proof.number}; its digest is {proof.head}.")
        if proof.holds:
            if not as_json:
                self.stdout.write("The ledger holds.")
                self._say_since(head)
            return
        first = f"The first voucher that is wrong is {proof.first_wrong}. " if proof.first_wrong is not None else ""
        raise Fault("The ledger does not hold. " + first + " ".join(message for _, message in proof.faults[:50]))

    def _say_since(self, head: str | None) -> None:
        """Of a digest kept elsewhere, or of another copy's head: how far this ledger is ahead of it."""
        entry = Voucher.objects.filter(digest=as_digest(head)).first() if head else None
        if entry is not None:
            since = Voucher.objects.filter(number__gt=entry.number).count()
            came = "one entry came" if since == 1 else f"{since or 'no'} entries came"
            self.stdout.write(f"The digest is that of entry {entry.number} of {entry.day}; {came} since.")

    def _against(self, path: Path) -> None:
        found = compare(path)
        if not found.holds:
            raise Fault(found.said)
        self.stdout.write(found.said)

    def _say(self, what: str, done: int, of: int) -> None:
        """On a terminal, what is proved next: a long ledger takes minutes."""
        if self.stderr.isatty():
            self.stderr.write(f"\r\033[K{done} of {of} proved; next: {what}", ending="")
            if done == of - 1:
                self.stderr.write("\r\033[K", ending="")

    def asks_database(self, *, bundle: str | None, **_options) -> bool:
        return bundle is None

    def _bundle(self, path: Path, head: str) -> None:
        """Needs no database: a bundle proves itself, and a digest that was kept elsewhere says whose it is."""
        found = check_bundle(path, head)
        self.stdout.write(
            f"Checked {found.files} files, {found.jobs} job sheets and {found.vouchers} vouchers. "
            f"The bundle's ledger stood at voucher {found.number}; its digest is {found.digest}."
        )
        self.stdout.write(found.proved)
        if not found.attested:
            raise Fault(found.whose)
        self.stdout.write("The bundle holds.")
        self.stdout.write(found.whose)
