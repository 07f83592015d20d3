"""manage.py health [--as-json]"""

import json
from dataclasses import asdict

from shopledger.health.queries import lines
from shopledger.management.plain import Fault, PlainCommand


class Command(PlainCommand):
    help = "Says how the records are kept: backup, proof, disk, failed sign-ins, versions."

    def add_arguments(self, parser) -> None:
        parser.add_argument("--as-json", action="store_true")

    def act(self, *, as_json: bool, **_options) -> None:
        found = lines()
        if as_json:
            self.stdout.write(json.dumps([asdict(line) for line in found], indent=1))
        else:
            for line in found:
                self.stdout.write(f"{'ok  ' if line.well else 'LOOK'} {line.about}: {line.said}")
        todo = [line.todo for line in found if not line.well]
        if todo:
            raise Fault(" ".join(todo))
