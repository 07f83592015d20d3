"""manage.py health [--as-json]"""

import json

from shopledger.health.queries import health
from shopledger.management.plain import Fault, PlainCommand


class Command(PlainCommand):
    help = "Says how the records are kept: backup, proof, disk, versions, slow pages, failed sign-ins."
    requires_system_checks: list = []  # it says itself what is missing

    def add_arguments(self, parser) -> None:
        parser.add_argument("--as-json", action="store_true")

    def act(self, *, as_json: bool, **_options) -> None:
        found = health()
        if as_json:
            self.stdout.write(json.dumps(found.as_json(), indent=1, default=str))
        else:
            for line in found.lines:
                self.stdout.write(f"{line.state:5}  {line.label}: {line.said} {line.advice}".rstrip())
            self.stdout.write("Versions: " + ", ".join(f"{name} {said}" for name, said in found.versions.items()) + ".")
            for row in found.slow[:5]:
                self.stdout.write(f"Slow: {row['ms']} ms {row['method']} {row['page']} at {row['at']:%Y-%m-%d %H:%M}")
            for row in found.failed[:5]:
                who = row["username"] or "a name nobody has"
                self.stdout.write(f"Failed: {row['count']} sign-ins for {who} from {row['address'] or 'here'}")
        if not found.well:
            wrong = [line.label for line in found.lines if line.state == "wrong"]
            raise Fault(f"Not well: {', '.join(wrong)}.")
