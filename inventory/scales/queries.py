"""Which scales are due, and which weighings rest on a scale that failed."""

import datetime as dt

from django.db.models import Exists, OuterRef, Q, QuerySet

from inventory.containers.models import Scale, Weighing
from inventory.scales.models import ScaleCheck


def overdue(day: dt.date) -> QuerySet[Scale]:
    """Scales in use whose check is due before a day, or that were never given a day."""
    due = Q(checked_until__lt=day) | Q(checked_until=None)
    return Scale.objects.filter(due, retired=False).order_by("checked_until", "code")


def doubtful_weighings() -> QuerySet[Weighing]:
    """Weighings on a scale that failed as found, from its last check that passed until that failing one."""
    failed = ScaleCheck.objects.filter(scale=OuterRef("scale"), passed=False, day__gte=OuterRef("day"))
    between = ScaleCheck.objects.filter(scale=OuterRef("scale"), left_passed=True, day__gte=OuterRef(OuterRef("day")))
    # A failing check on or after the weighing, with no passing one between the two.
    failed = failed.exclude(Exists(between.filter(day__lt=OuterRef("day")).filter(passed=True)))
    return Weighing.objects.filter(Exists(failed))
