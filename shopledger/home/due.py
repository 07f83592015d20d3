"""What is open, late or due in the shop: columns beside those of the ledger's head, so that it is one question."""

import datetime as dt

from django.db.models import Count, IntegerField, Model, Q, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce

from inventory.counting.models import Count as StockCount
from inventory.machines.models import Machine
from inventory.orders.queries import late_orders
from inventory.scales.queries import overdue
from jobs.drafts.models import Job
from jobs.people.models import Person
from jobs.people.queries import certificates_ending

LONG_OPEN = dt.timedelta(days=7)  # a draft that is older waits for somebody: common practice, no source


def _many(found: QuerySet[Model]) -> Coalesce:
    """How many rows there are, as a column; none are none."""
    counted = found.order_by().annotate(all_of_them=Value(1)).values("all_of_them").annotate(many=Count("pk"))
    return Coalesce(Subquery(counted.values("many"), output_field=IntegerField()), 0)


def of_the_shop(day: dt.date) -> dict[str, object]:
    """Columns: checks of scales and machines that are due on a day, orders of which something is late, counts that are
    under way, drafts that are old."""
    machines = Machine.objects.filter(check_due__lt=day).filter(Q(retired_on=None) | Q(retired_on__gt=day))
    return {
        "scales_due": _many(overdue(day)),
        "machines_due": _many(machines),
        "counts_open": _many(StockCount.objects.filter(state="open")),
        "orders_late": _many(late_orders(day)),
        "drafts_old": _many(Job.objects.filter(state="draft", day__lt=day - LONG_OPEN)),
    }


def of_own_certificates(person: Person, day: dt.date) -> dict[str, object]:
    """Columns: of a person's certificates that ended or end soon, the first to end, and how many there are."""
    ending = certificates_ending(day).filter(person=person)
    first = ending.order_by("expires", "id")
    names = {"certificate_scheme": "scheme", "certificate_number": "number", "certificate_expires": "expires"}
    columns = {name: Subquery(first.values(column)[:1]) for name, column in names.items()}
    return {**columns, "certificates_many": _many(ending)}
