"""manage.py demo [--no-serve] [--port 8000]"""

import socket

from django.conf import settings
from django.core.management import call_command
from django.db import connection, transaction

from inventory.shop.clock import today
from inventory.shop.models import Shop
from jobs.drafts.models import Job
from jobs.sheet.job_sheet import job_sheet
from shopledger.demo.cast import OFFICE, OWNER, PASSWORD, TECHNICIANS
from shopledger.demo.shop import Story, anything_there, demonstration_there, first_day
from shopledger.management.plain import Fault, PlainCommand, Wrong, whole_option
from shopledger.reporting.output import make, written
from shopledger.reporting.periods import quarter
from shopledger.reports.registry import REPORTS


class Command(PlainCommand):
    help = "Loads the invented demonstration shop into an empty database, and serves the site."
    requires_system_checks: list = []  # a fresh checkout has no tables yet

    def add_arguments(self, parser) -> None:
        parser.add_argument("--no-serve", action="store_true", help="load it, but do not serve")
        parser.add_argument("--port", type=whole_option, default=8000)

    def act(self, *, no_serve: bool, port: int, **_options) -> None:
        if not 1 <= port <= 65535:
            raise Wrong(f"{port} is no port; write a number from 1 to 65535, such as 8000.")
        if not no_serve:
            self._port_free(port)
        if self._loaded():
            self.stdout.write("The demonstration shop is loaded already; nothing was loaded again.")
        else:
            call_command("migrate", verbosity=0, skip_checks=True)
            self.stdout.write("Loading the invented shop ...")
            with transaction.atomic():
                Story(today()).tell()
        self._papers()
        self._say_who()
        if not no_serve:
            self._serve(port)

    def _loaded(self) -> bool:
        """Whether the demonstration is there. Looked up before any table is made or changed: a database that holds
        anything else is left as it is. Raises Fault for such a one."""
        tables = set(connection.introspection.table_names())
        if not tables:
            return False
        ours = Shop._meta.db_table in tables
        if ours and demonstration_there():
            return True
        if not ours or anything_there():
            raise Fault(
                "This database holds something already; the demonstration loads into an empty one only. "
                "Name another with DATA_DIR or DATABASE_URL."
            )
        return False

    def _say_who(self) -> None:
        self.stdout.write(f"Sign in with the password: {PASSWORD}")
        people = [("technician", name) for name, *_ in TECHNICIANS] + [("office", OFFICE[0]), ("owner", OWNER[0])]
        for role, name in people:
            self.stdout.write(f"  {name} ({role})")

    def _papers(self) -> None:
        folder = settings.DATA_DIR / "demo"
        folder.mkdir(parents=True, exist_ok=True)
        job = Job.objects.select_related("unit__customer", "technician", "voucher", "corrects", "signed_by")
        job = job.filter(state="signed", revision=2).first() or job.filter(state="signed").first()
        sheet = folder / f"job-{job.number}.pdf"
        sheet.write_bytes(job_sheet(job))
        made = make(REPORTS["usage"], quarter(first_day()), None, "the demonstration", drawn=True)
        report = folder / made.filename("pdf")
        report.write_bytes(written(made, "pdf"))
        self.stdout.write(f"A job sheet is in {sheet}")
        self.stdout.write(f"A quarter's usage report is in {report}")

    def _port_free(self, port: int) -> None:
        with socket.socket() as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind(("127.0.0.1", port))
            except OSError:
                raise Fault(
                    f"Port {port} cannot be used on this machine, perhaps since something runs there; name another "
                    "with --port."
                ) from None

    def _serve(self, port: int) -> None:
        from shopledger.serving.server import make_server, run
        from shopledger.wsgi import application

        self.stdout.write(f"Serving at http://localhost:{port}/ (end it with Ctrl-C)")
        run(make_server(application, f"127.0.0.1:{port}"))
