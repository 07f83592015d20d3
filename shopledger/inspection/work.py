"""Making a bundle that was asked for, in a process of its own."""

import datetime as dt
import hashlib
import uuid
from pathlib import Path

from django.conf import settings
from django.db import transaction

from inventory.ledger.actions import take_turn
from inventory.measures.days import said_day
from inventory.shop.once import keep, made_by, recorded
from inventory.text.refusal import Refused
from shopledger import background
from shopledger.inspection.bundle import write_bundle
from shopledger.inspection.models import BundleOrder
from shopledger.reporting.report import Period
from shopledger.reports.usage import NotBalanced


def file_of(order: BundleOrder) -> Path:
    return settings.DATA_DIR / "bundles" / f"{order.key.hex}.zip"


def progress_of(order: BundleOrder) -> background.Progress:
    return background.Progress(settings.DATA_DIR / "bundles" / f"{order.key.hex}.progress")


def order_bundle(*, first: dt.date, last: dt.date, by: str, key: uuid.UUID) -> BundleOrder:
    """Ask for a bundle of a period; the same key asks once. Raises Refused for days that are no period, and
    while another one of this person is being made."""
    if first > last:
        raise Refused("The period ends before it begins; turn the two days round.", "last")
    with transaction.atomic():
        take_turn()
        recorded()
        if (known := made_by(BundleOrder, key)) is not None:
            return known
        for other in BundleOrder.objects.filter(state="making", by=by):
            if not progress_of(other).silent(other.at.timestamp()):
                raise Refused(
                    f"Your bundle of {said_day(other.first)} to {said_day(other.last)} is still being made; wait "
                    "for it."
                )
        made = BundleOrder.objects.create(key=key, first=first, last=last, by=by)
        keep(called=f"the bundle of {said_day(first)} to {said_day(last)}", thing=f"bundle {made.pk}")
        transaction.on_commit(lambda: background.start("make_bundle", str(made.pk)))
        return made


def words_are_gone() -> None:
    """Once words were erased: bundles that lie here hold them, and are made again by whoever needs them."""
    for order in BundleOrder.objects.filter(state="made"):
        file_of(order).unlink(missing_ok=True)
        order.state, order.said = "failed", "Words were erased since, so it was taken away here. Ask for it again."
        order.save()


def work(order_id: int) -> None:
    """What the process does."""
    order = BundleOrder.objects.get(pk=order_id)
    path = file_of(order)
    if order.state != "making" or path.exists():
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    progress = progress_of(order)
    progress.say(0, 0, force=True)
    try:
        made = write_bundle(Period(order.first, order.last), path, order.by, progress.say, order.key)
    except (Refused, NotBalanced) as error:
        order.state, order.said = "failed", str(error)
    else:
        order.state = "made"
        order.said = (
            f"{made.files} files, {made.jobs} job sheets, {made.vouchers} vouchers. Entry {made.entry} names its list "
            f"of files; the digest of that entry, kept by somebody else, attests all of it: {made.attests}"
        )
        with path.open("rb") as file:
            order.sha256 = hashlib.file_digest(file, "sha256").hexdigest()
    order.save()
