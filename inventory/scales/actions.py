"""Checking a scale."""

import datetime as dt
import uuid

from django.db import IntegrityError, transaction
from django.utils import timezone

from inventory.containers.actions import not_in_the_future
from inventory.containers.models import Scale
from inventory.measures.balance_uncertainty import SPAN_PPM
from inventory.measures.quantity import show
from inventory.measures.tolerance import mpe_in_service_mg
from inventory.scales.models import ScaleCheck
from inventory.text.clean import clean
from inventory.text.refusal import Refused


def check_scale(
    *,
    scale: Scale,
    day: dt.date,
    reference_mg: int,
    as_found_mg: int,
    as_left_mg: int | None,
    next_due: dt.date | None,
    by: str,
    key: uuid.UUID,
    reference: str = "",
    note: str = "",
) -> ScaleCheck:
    """Keep a check. It passes where the error is at most the in-service limit of OIML R 76-1 class III at that load.
    next_due: when the scale is checked again; kept only where it is left passing. The same key checks once."""
    not_in_the_future(day)
    known = ScaleCheck.objects.filter(key=key).first()
    if known:
        return known
    if reference_mg < 20 * scale.readability_mg:
        raise Refused(
            f"A reference mass of at least {show(20 * scale.readability_mg, 'g')} says something about this scale "
            "(20 steps: the least load of OIML R 76-1, class III); take a heavier one.",
            "reference_mg",
        )
    if scale.capacity_mg and reference_mg > scale.capacity_mg:
        raise Refused(f"This scale takes {show(scale.capacity_mg, 'g')} at the most.", "reference_mg")
    if next_due is not None and next_due <= day:
        raise Refused("The next check comes after this one.", "next_due")
    limit = mpe_in_service_mg(reference_mg, scale.readability_mg)
    passed = abs(as_found_mg - reference_mg) <= limit
    left = passed if as_left_mg is None else abs(as_left_mg - reference_mg) <= limit
    with transaction.atomic():
        made = ScaleCheck.objects.create(
            scale=scale,
            day=day,
            reference_mg=reference_mg,
            as_found_mg=as_found_mg,
            as_left_mg=as_left_mg,
            limit_mg=limit,
            passed=passed,
            left_passed=left,
            reference=clean(reference, "reference", 100),
            note=clean(note, "note", 300),
            by=by,
            at=timezone.now(),
            key=key,
        )
        latest = scale.checks.order_by("-day", "-id").first()
        if latest == made:
            scale.checked_until = next_due if left else day - dt.timedelta(days=1)
            scale.save(update_fields=["checked_until"])
        return made


@transaction.atomic
def save_scale(
    *,
    code: str,
    readability_mg: int,
    capacity_mg: int | None,
    checked_until: dt.date | None,
    usual: bool,
    scale: Scale | None = None,
    span_ppm: int | None = None,
) -> Scale:
    """Add a scale, or change what is known of one; its code stays, since weighings name it."""
    if readability_mg <= 0:
        raise Refused("A scale's smallest step is more than nothing; write e.g. 1 g.", "readability_mg")
    if scale is None:
        scale = Scale(code=clean(code, "code"))
        if not scale.code:
            raise Refused("Give the scale a code, e.g. S1.", "code")
    if usual:
        for other in Scale.objects.filter(usual=True).exclude(pk=scale.pk):
            other.usual = False
            other.save(update_fields=["usual"])  # one by one: what happened to each is kept
    scale.readability_mg, scale.capacity_mg = readability_mg, capacity_mg
    scale.span_ppm = span_ppm or SPAN_PPM
    scale.checked_until, scale.usual = checked_until, usual or not Scale.objects.filter(usual=True).exists()
    try:
        with transaction.atomic():
            scale.save()
    except IntegrityError:
        raise Refused(f"There is a scale {scale.code} already; give this one another code.", "code") from None
    return scale
