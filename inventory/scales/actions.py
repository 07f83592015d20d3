"""Scales: what is known of them, and their checks."""

import datetime as dt
import uuid
from dataclasses import dataclass

from django.db import IntegrityError, transaction
from django.utils import timezone

from inventory.containers.models import Scale
from inventory.ledger.actions import stated
from inventory.measures.balance_uncertainty import SPAN_PPM
from inventory.measures.quantity import show
from inventory.measures.tolerance import mpe_in_service_mg
from inventory.scales.models import ScaleCheck
from inventory.shop.days import happened, may_be_due
from inventory.shop.once import made_by
from inventory.text.clean import clean
from inventory.text.refusal import Refused


@dataclass(frozen=True)
class CheckMade:
    """A check of a scale with a reference mass, all in mg. as_left_mg: what it showed once adjusted, None where nothing
    was. next_due: when it is checked again. reference: which mass that was."""

    day: dt.date
    reference_mg: int
    as_found_mg: int
    as_left_mg: int | None = None
    next_due: dt.date | None = None
    reference: str = ""
    note: str = ""


@stated
def check_scale(*, scale: Scale, check: CheckMade, by: str, key: uuid.UUID) -> ScaleCheck:
    """Keep a check. It passes where the error is at most the in-service limit of OIML R 76-1 class III at that load.
    Its next due day is kept only where the scale is left passing. The same key checks once."""
    day, reference_mg = check.day, check.reference_mg
    happened(day)
    if (known := made_by(ScaleCheck, key)) is not None:
        return known
    if reference_mg < 20 * scale.readability_mg:
        raise Refused(
            f"A reference mass of at least {show(20 * scale.readability_mg, 'g')} says something about this scale "
            "(20 steps: the least load of OIML R 76-1, class III); take a heavier one.",
            "reference_mg",
        )
    if scale.capacity_mg and reference_mg > scale.capacity_mg:
        raise Refused(f"This scale takes {show(scale.capacity_mg, 'g')} at the most.", "reference_mg")
    may_be_due(check.next_due, "next_due")
    if check.next_due is not None and check.next_due <= day:
        raise Refused("The next check comes after this one.", "next_due")
    limit = mpe_in_service_mg(reference_mg, scale.readability_mg)
    passed = abs(check.as_found_mg - reference_mg) <= limit
    left = passed if check.as_left_mg is None else abs(check.as_left_mg - reference_mg) <= limit
    made = ScaleCheck.objects.create(
        scale=scale,
        day=day,
        reference_mg=reference_mg,
        as_found_mg=check.as_found_mg,
        as_left_mg=check.as_left_mg,
        limit_mg=limit,
        passed=passed,
        left_passed=left,
        reference=clean(check.reference, "reference", 100),
        note=clean(check.note, "note", 300),
        by=by,
        at=timezone.now(),
        key=key,
    )
    latest = scale.checks.order_by("-day", "-id").first()
    if latest == made:
        scale.checked_until = check.next_due if left else day - dt.timedelta(days=1)
        scale.save(update_fields=["checked_until"])
    return made


@dataclass(frozen=True)
class Plate:
    """What a scale can do, as its plate or its papers say. readability_mg: its smallest step. span_ppm: the limit of
    its span error in millionths, None where its maker claims none."""

    readability_mg: int
    capacity_mg: int | None = None
    span_ppm: int | None = None


@stated
def save_scale(
    *, code: str, plate: Plate, checked_until: dt.date | None, usual: bool, scale: Scale | None = None
) -> Scale:
    """Add a scale, or change what is known of one; its code stays, since weighings name it."""
    may_be_due(checked_until, "checked_until")
    if plate.readability_mg <= 0:
        raise Refused("A scale's smallest step is more than nothing; write e.g. 1 g.", "readability_mg")
    if scale is None:
        scale = Scale(code=clean(code, "code"))
        if not scale.code:
            raise Refused("Give the scale a code, e.g. S1.", "code")
    if usual:
        for other in Scale.objects.filter(usual=True).exclude(pk=scale.pk):
            other.usual = False
            other.save(update_fields=["usual"])  # one by one: what happened to each is kept
    scale.readability_mg, scale.capacity_mg = plate.readability_mg, plate.capacity_mg
    scale.span_ppm = plate.span_ppm or SPAN_PPM
    scale.checked_until, scale.usual = checked_until, usual or not Scale.objects.filter(usual=True).exists()
    try:
        with transaction.atomic():
            scale.save()
    except IntegrityError:
        raise Refused(f"There is a scale {scale.code} already; give this one another code.", "code") from None
    return scale
