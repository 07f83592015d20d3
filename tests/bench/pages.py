"""Pages through the production server on loopback, beside a plain Django page and bare tables of the same rows."""

import http.client
import threading
import uuid

import django_tables2 as tables
from django.conf import settings
from django.contrib.auth import get_user_model
from django.core.wsgi import get_wsgi_application
from django.http import HttpRequest, HttpResponse
from django.template import engines
from django.test import Client
from django.urls import path
from waitress.server import create_server

from inventory.containers.models import Container
from inventory.ledger.models import Voucher
from jobs.drafts.actions import start_job
from jobs.drafts.models import Job
from jobs.units.models import Unit
from shopledger import urls
from tests.bench.timing import Act, Found, turns

ROWS = [{"a": n, "b": f"row {n}", "c": n * 2} for n in range(50)]
PLAIN = (
    "{% for row in rows %}<tr><td>{{ row.a }}</td><td>{{ row.b }}</td><td>{{ row.c }}</td></tr>{% endfor %}"
    "{{ request.user.name }}"
)


def _plain(request: HttpRequest) -> HttpResponse:
    """The session, the user, 50 rows."""
    template = engines["django"].from_string(PLAIN)
    return HttpResponse(template.render({"rows": ROWS, "request": request}, request))


def _bare(model: type, fields: tuple[str, ...], related: tuple[str, ...], order: str, per_page: int):
    """A page with a table of these rows and nothing else, as the table library makes it."""
    meta = type("Meta", (), {"model": model, "fields": fields, "template_name": "django_tables2/table.html"})
    made = type("Bare", (tables.Table,), {"Meta": meta})

    def page(request: HttpRequest) -> HttpResponse:
        assert request.user.name
        table = made(model.objects.select_related(*related).order_by(order))
        tables.RequestConfig(request, paginate={"per_page": per_page}).configure(table)
        return HttpResponse(table.as_html(request))

    return page


BARE = {
    "jobs": _bare(
        Job, ("number", "day", "unit", "substance", "technician", "state"), ("unit__customer", "technician"), "-day", 25
    ),
    "stock": _bare(
        Container,
        ("code", "kind", "substance", "grade", "location", "tare_mg", "arrived_on", "account", "last_weighed_on"),
        ("substance", "location", "account", "last_scale"),
        "code",
        50,
    ),
    "ledger": _bare(Voucher, ("number", "day", "kind", "document", "done_by", "recorded_by"), (), "-number", 50),
}


class Visitor:
    """Somebody signed in, on one connection that stays open."""

    def __init__(self, port: int, cookie: str):
        self.line = http.client.HTTPConnection("127.0.0.1", port)
        self.headers = {"Cookie": f"{settings.SESSION_COOKIE_NAME}={cookie}"}

    def get(self, address: str) -> Act:
        def act() -> None:
            self.line.request("GET", address, headers=self.headers)
            answer = self.line.getresponse()
            answer.read()
            assert answer.status == 200, (address, answer.status)

        act()
        return act


def measure(found: Found) -> None:
    urls.urlpatterns.append(path("bench/plain/", _plain))
    urls.urlpatterns.extend(path(f"bench/{name}/", view) for name, view in BARE.items())
    settings.ALLOWED_HOSTS = ["127.0.0.1", "testserver"]
    server = create_server(get_wsgi_application(), host="127.0.0.1", port=0, threads=4)
    threading.Thread(target=server.run, daemon=True).start()
    person = get_user_model().objects.create_user("visitor", password=uuid.uuid4().hex, name="V", role="owner")
    client = Client()
    client.force_login(person)
    visitor = Visitor(server.effective_port, client.cookies[settings.SESSION_COOKIE_NAME].value)
    job = start_job(unit=Unit.objects.first(), technician=person, by=person, key=uuid.uuid4())
    for name, address, reference in (
        ("home", "/", "plain"),
        ("job page", f"/jobs/{job.pk}/", "plain"),
        ("list of jobs", "/jobs/", "jobs"),
        ("list of jobs, last page", "/jobs/?page=999999", "jobs"),
        ("list of containers", "/stock/", "stock"),
        ("list of vouchers", "/ledger/", "ledger"),
    ):
        found.keep(
            f"{name}, to a {'plain page' if reference == 'plain' else 'bare table'}",
            *turns(visitor.get(address), visitor.get(f"/bench/{reference}/"), 9),
        )
