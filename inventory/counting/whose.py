"""Whose gas a weighing was of. What is kept for a customer is theirs from the entry on that took it in or set it apart
until the one that gives it back; a difference of it never is the shop's, whoever the container is of by now."""

from django.db.models import QuerySet
from django.db.models.expressions import RawSQL

from inventory.containers.models import Weighing

# The ids of the weighings of customers' gas. The containers come first: there are few that ever were kept for one. An
# entry that sets apart ends with the owner; blank, it ends the keeping.
THEIRS = """
SELECT t.id FROM inventory_weighing t WHERE t.container_id IN (
  SELECT e.container_id FROM inventory_containerentry e JOIN inventory_voucher v ON v.number = e.voucher_id
  WHERE v.kind IN ('taking-in', 'setting-apart')
) AND (
  SELECT CASE WHEN v.kind = 'giving-back' OR SUBSTR(e.ops, LENGTH(e.ops) - 3) = '""]]' THEN 0 ELSE 1 END
  FROM inventory_containerentry e JOIN inventory_voucher v ON v.number = e.voucher_id
  WHERE e.container_id = t.container_id AND e.position <= t.position
    AND v.kind IN ('taking-in', 'setting-apart', 'giving-back')
  ORDER BY e.position DESC LIMIT 1
) = 1
"""


def whose(weighings: QuerySet[Weighing], theirs: bool = False) -> QuerySet[Weighing]:
    """Those of the shop's own; theirs: those of customers' gas instead."""
    among = {"pk__in": RawSQL(THEIRS, ())}  # noqa: S611 (a constant)
    return weighings.filter(**among) if theirs else weighings.exclude(**among)


def is_theirs(weighing: Weighing) -> bool:
    return whose(Weighing.objects.filter(pk=weighing.pk), theirs=True).exists()
