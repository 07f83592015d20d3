"""What a job sheet shows of its evidence: what the scales sent, what the customer signed, and the photos."""

import io

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable, Image, KeepTogether, PageBreak, Spacer

from inventory.attachments.actions import read_picture
from inventory.attachments.models import Attachment
from inventory.paper.document import MARGIN, entries_table, text
from inventory.shop.models import Shop
from jobs.drafts.models import Job, JobLine
from jobs.drafts.photos import photos_told
from jobs.drafts.signatures import TYPED, signature_of
from jobs.drafts.wording import NONE, Reader

WIDTH = A4[0] - 2 * MARGIN


def read_from_scales(lines: list[JobLine]) -> list[Flowable]:
    """What the scales sent, word for word, of the weights that were read from them."""
    rows = [
        [line.container.code if line.container else NONE, which, scale, sent]
        for line in lines
        for which, scale, sent in line.read_from_scale
    ]
    if not rows:
        return []
    widths = [share * WIDTH for share in (0.15, 0.08, 0.12, 0.65)]
    header = ("Container", "Weight", "Scale", "What the scale sent")
    table = entries_table(header, rows, widths, (False,) * 4)
    return [CondPageBreak(24 * mm), text("Read from scales", "heading"), table]


def customer_signed(job: Job, shop: Shop) -> list[Flowable]:
    """What the customer signed, where they did."""
    found = signature_of(job)
    if found is None:
        return []
    how = "name typed" if found.how == TYPED else "signed by finger"
    at = f"{found.added_at.astimezone(shop.zone):%Y-%m-%d %H:%M %Z}"
    later = "; something was changed after it" if found.changed else ""
    said = text(f"{found.title or GONE}, {how} {at}{later}{_digest(found)}", "small")
    return [KeepTogether([text("Customer", "heading"), *_picture(found, 70 * mm, 16 * mm, "LEFT"), said])]


def photos(job: Job, lines: list[JobLine], reader: Reader) -> list[Flowable]:
    """The photos that were chosen for it, two on a page, after all else."""
    story: list[Flowable] = []
    for photo in photos_told(job, lines, reader):
        if photo.chosen:
            of = f" of {photo.proves_said}" if photo.proves_said else ""
            said = f"Photo: {photo.title or GONE}{of}, {photo.added_at:%Y-%m-%d %H:%M} UTC{_digest(photo)}"
            picture = _picture(photo, WIDTH, 105 * mm)
            story.append(KeepTogether([text(said, "small"), Spacer(0, 1 * mm), *picture, Spacer(0, 4 * mm)]))
    return [PageBreak(), text("Photos", "heading"), *story] if story else []


GONE = "erased since"  # in the place of a file's words


def _digest(kept: Attachment) -> str:
    return f", SHA-256 {kept.sha256}" if kept.sha256 else ""


def _picture(kept: Attachment, width: float, height: float, align: str = "CENTER") -> list[Flowable]:
    """A picture as large as fits; none where the file was erased: the rest of the sheet stands."""
    if not kept.sha256:
        return []
    drawn = Image(io.BytesIO(read_picture(kept)), hAlign=align)
    scale = min(width / drawn.imageWidth, height / drawn.imageHeight)
    drawn.drawWidth, drawn.drawHeight = drawn.imageWidth * scale, drawn.imageHeight * scale
    return [drawn]
