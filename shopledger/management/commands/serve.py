"""manage.py serve [--listen 127.0.0.1:8000] [--threads 8] [--behind-proxy]"""

from shopledger.management.plain import Fault, PlainCommand


class Command(PlainCommand):
    help = "Serves the site, until it is ended."
    requires_system_checks = ()  # it serves sentences where the database is away, and the site once it is back

    def add_arguments(self, parser) -> None:
        parser.add_argument("--listen", default="127.0.0.1:8000", help="addresses and ports; *:8000 is every one")
        parser.add_argument("--threads", type=int, default=8)
        parser.add_argument(
            "--behind-proxy", action="store_true", help="believe a proxy on this machine from where a request came"
        )

    def asks_database(self, **_options) -> bool:
        return False

    def act(self, *, listen, threads, behind_proxy, **_options) -> None:
        from shopledger.serving.server import make_server, run
        from shopledger.wsgi import application

        try:
            server = make_server(application, listen, threads, behind_proxy)
        except (OSError, ValueError) as error:
            raise Fault(
                f"Cannot listen at {listen} ({error}); write an address and a port that is free, as 127.0.0.1:8000."
            ) from None
        self.stdout.write(f"Serving at {listen} (end it with Ctrl-C)")
        run(server)
