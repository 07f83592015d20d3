"""Questions about what happened."""

import datetime as dt
import json
from collections.abc import Iterator

from django.db.models import Model, QuerySet

from inventory.audit.models import Change
from inventory.shop.models import Shop


def changes_of(record: Model, most: int = 50) -> list[Change]:
    """What happened to one record, the latest first; one statement."""
    found = Change.objects.filter(what=str(record._meta.verbose_name), key=str(record.pk))
    return list(found[:most])


def changes_between(first: dt.date | None, last: dt.date | None) -> QuerySet[Change]:
    """Changes of the shop's days from first to last, both included; None is open."""
    zone = Shop.current().zone
    found = Change.objects.all()
    if first:
        found = found.filter(at__gte=dt.datetime.combine(first, dt.time.min, zone))
    if last:
        end = min(last, dt.date.max - dt.timedelta(days=1)) + dt.timedelta(days=1)
        found = found.filter(at__lt=dt.datetime.combine(end, dt.time.min, zone))
    return found


def as_lines(changes: QuerySet[Change]) -> Iterator[bytes]:
    """JSON, a line a change, the oldest first."""
    for one in changes.order_by("id").iterator(2000):
        said = {
            "number": one.pk,
            "at": one.at.isoformat(),
            "by": one.by,
            "kind": one.kind,
            "what": one.what,
            "key": one.key,
            "title": one.title,
            "before": one.before,
            "after": one.after,
        }
        yield (json.dumps(said, ensure_ascii=False) + "\n").encode()
