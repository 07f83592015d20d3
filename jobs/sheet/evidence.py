"""What a job sheet shows of its evidence: what the scales sent, what the customer signed, and the photos."""

import io

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable, Image, KeepTogether, PageBreak, Spacer

from inventory.attachments.actions import read_picture
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
    picture = Image(io.BytesIO(read_picture(found)))
    scale = min(70 * mm / picture.imageWidth, 16 * mm / picture.imageHeight)
    picture.drawWidth, picture.drawHeight = picture.imageWidth * scale, picture.imageHeight * scale
    picture.hAlign = "LEFT"
    how = "name typed" if found.how == TYPED else "signed by finger"
    at = f"{found.added_at.astimezone(shop.zone):%Y-%m-%d %H:%M %Z}"
    later = "; something was changed after it" if found.changed else ""
    said = text(f"{found.title}, {how} {at}{later}, SHA-256 {found.sha256}", "small")
    return [KeepTogether([text("Customer", "heading"), picture, said])]


def photos(job: Job, lines: list[JobLine], reader: Reader) -> list[Flowable]:
    """The photos that were chosen for it, two on a page, after all else."""
    story: list[Flowable] = []
    for photo in photos_told(job, lines, reader):
        if not photo.chosen:
            continue
        picture = Image(io.BytesIO(read_picture(photo)))
        scale = min(WIDTH / picture.imageWidth, 105 * mm / picture.imageHeight)
        picture.drawWidth, picture.drawHeight = picture.imageWidth * scale, picture.imageHeight * scale
        of = f" of {photo.proves_said}" if photo.proves_said else ""
        said = f"Photo: {photo.title}{of}, {photo.added_at:%Y-%m-%d %H:%M} UTC, SHA-256 {photo.sha256}"
        story.append(KeepTogether([text(said, "small"), Spacer(0, 1 * mm), picture, Spacer(0, 4 * mm)]))
    return [PageBreak(), text("Photos", "heading"), *story] if story else []
