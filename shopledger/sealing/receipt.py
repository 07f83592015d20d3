"""The receipt of a seal: one page with the digest of the entry that sealed, to be kept by somebody outside the shop.

All on it stood fast with that entry, the shop's name and address among it, so that the same seal gives the same bytes
whenever it is drawn by the same version of the program.
"""

import datetime as dt
import hashlib
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Spacer, Table

from inventory.ledger.accounts import AccountClass
from inventory.ledger.models import ChainHead, Movement, Record, Seal, SealBalance, Substance, Voucher
from inventory.ledger.queries import stock_through
from inventory.ledger.snapshot import one_moment
from inventory.ledger.stated_rows import as_stated
from inventory.measures.days import said_day
from inventory.measures.quantity import csv_value
from inventory.paper.document import (
    MARGIN,
    PLAIN,
    RULE,
    WASH,
    Foot,
    QrCode,
    build,
    facts_table,
    figures_band,
    rows_table,
    text,
)
from inventory.paper.foot import Origin, foot
from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from shopledger.sealing.queries import entry_of, seal_before

WIDTH = A4[0] - 2 * MARGIN
CHECKER = Path(__file__).parents[1] / "inspection" / "verify.py"  # the small program that each bundle carries
LISTED = 26  # substances: more would not leave the page whole

WHAT_FOR = (
    "Paper in other hands is what binds this shop to its past: give it to somebody outside the shop, such as the "
    "bookkeeper, the insurer, a customer or the inspector. Whoever holds it can check that nothing up to this voucher "
    "was changed since: the command verify --head, with the digest above, says so or names what is wrong."
)


@dataclass(frozen=True)
class Receipt:
    """What the page says. entry, before: the entry that sealed, and that of the seal before. counts: what there was,
    its number, and a word below. closing: (substance, quantity, unit) at the end of the last day. checker: SHA-256 of
    the program by which a bundle is checked, where there is one."""

    through: dt.date
    entry: Voucher
    before: Voucher | None
    before_through: dt.date | None
    ledger_id: str
    counts: Sequence[tuple[str, int, str]]
    closing: Sequence[tuple[str, str, str]]
    checker: str
    foot: Foot


def filename(made: Seal, entry: Voucher) -> str:
    return f"receipt-{made.through}-voucher-{entry.number}.pdf"


def place_of(made: Seal) -> Path:
    """Where the receipt is kept beside the database. Raises Refused as `entered` does."""
    return settings.DATA_DIR / "receipts" / filename(made, entered(made))


def entered(made: Seal) -> Voucher:
    """The entry that sealed. Raises Refused where the chain holds none."""
    entry = entry_of(made)
    if entry is None:
        raise Refused(
            f"No entry of the chain sealed the days up to {said_day(made.through)}; run `verify`, which says more."
        )
    return entry


def receipt_pdf(made: Seal) -> bytes:
    """The page. Raises Refused where no entry of the chain made this seal."""
    with one_moment():
        receipt = _receipt(made)
    out = io.BytesIO()
    build(out, _story(receipt), receipt.foot)
    return out.getvalue()


def _receipt(made: Seal) -> Receipt:
    entry, before = entered(made), seal_before(made)
    origin = Origin(entry.recorded_by, entry.recorded, (entry.number, entry.digest))
    shop = as_stated(Shop(id=1), entry.number)
    title = f"Receipt of the seal up to {made.through}"
    return Receipt(
        made.through,
        entry,
        entry_of(before) if before else None,
        before.through if before else None,
        ChainHead.objects.get(id=1).ledger_id,
        list(_counts(made, entry.number)),
        _closing(made),
        hashlib.sha256(CHECKER.read_bytes()).hexdigest() if CHECKER.exists() else "",
        foot(title, origin, place="report", shop=shop),
    )


def _counts(made: Seal, number: int) -> Iterator[tuple[str, int, str]]:
    """Of the chain up to the entry, itself among it; of what stood in containers at the end of the last day."""
    held = SealBalance.objects.filter(seal=made, account__cls=AccountClass.CONTAINER, balance__gt=0)
    yield "Vouchers", number, f"from 1 to {number}"
    yield "Movements", Movement.objects.filter(voucher__lte=number).count(), "in these vouchers"
    yield "Records", Record.objects.filter(voucher__lte=number).count(), "in these vouchers"
    yield "Containers", held.values("account__name").distinct().count(), "held something that day"
    yield "Substances", held.values("account__substance").distinct().count(), "in these containers"


def _closing(made: Seal) -> list[tuple[str, str, str]]:
    """As the usage report closes, in g and mL."""
    stock = stock_through(made.through)
    known = Substance.objects.in_bulk([one for one, quantity in stock.items() if quantity])
    rows = sorted((one.is_oil, one.code, stock[one.pk]) for one in known.values())
    return [(code, csv_value(quantity), "mL" if is_oil else "g") for is_oil, code, quantity in rows]


# -- the page ------------------------------------------------------------------------------------------------


def _story(receipt: Receipt) -> list[Flowable]:
    gap = Spacer(0, 3.5 * mm)
    return [
        text(receipt.foot.title, "title"),
        text(f"All days up to and including {receipt.through} are closed.", "big"),
        Spacer(0, 2 * mm),
        _digest(receipt.entry),
        gap,
        facts_table(list(_facts(receipt)), WIDTH, columns=1, label_share=0.2),
        gap,
        figures_band(receipt.counts, WIDTH),
        gap,
        *_stock(receipt),
        gap,
        text("What this paper is for", "heading"),
        text(WHAT_FOR),
        text("Handed on", "heading"),
        _signing(),
    ]


def groups(digest: str, size: int) -> list[str]:
    """A digest in pieces that an eye can hold."""
    return [digest[at : at + size] for at in range(0, len(digest), size)]


def _digest(entry: Voucher) -> Table:
    """What the paper is about: whose digest, in rows of four groups, and the same for a camera."""
    pieces = groups(entry.digest, 4)
    rows = [[text(piece, "big") for piece in pieces[at : at + 4]] for at in range(0, len(pieces), 4)]
    grid = Table(rows, colWidths=[22 * mm] * 4, rowHeights=[8.5 * mm] * 4, style=PLAIN, hAlign="LEFT")
    what = text(f"Voucher {entry.number}, of the kind seal. Its digest (SHA-256), in groups of four:")
    said = [what, Spacer(0, 3 * mm), grid]
    look = [
        ("BACKGROUND", (0, 0), (-1, -1), WASH),
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
        ("LEFTPADDING", (0, 0), (-1, -1), 8),
        ("RIGHTPADDING", (0, 0), (-1, -1), 8),
        ("TOPPADDING", (0, 0), (-1, -1), 8),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 8),
        ("ALIGN", (1, 0), (1, 0), "RIGHT"),
    ]
    side = 44 * mm
    return Table([[said, QrCode(entry.digest, side)]], colWidths=[WIDTH - side - 16, side + 16], style=look)


def _facts(receipt: Receipt) -> Iterator[tuple[str, str]]:
    made = receipt.foot.made_at
    yield "Sealed", f"{made:%Y-%m-%d %H:%M %Z} by {receipt.entry.recorded_by}"
    yield "Ledger", receipt.ledger_id
    before = receipt.before
    if before is None:
        yield "Receipt before", "none: this is the first seal of this ledger"
    else:
        pieces = " ".join(groups(before.digest, 8))
        yield "Receipt before", f"voucher {before.number}, up to {receipt.before_through}, digest\n{pieces}"
    if receipt.checker:
        pieces = " ".join(groups(receipt.checker, 8))
        yield "Checking program", f"verify.py, which each inspection bundle carries; its SHA-256\n{pieces}"


def _stock(receipt: Receipt) -> list[Flowable]:
    """What the containers held, in two columns."""
    if not receipt.closing:
        return [text(f"No container held anything at the end of {receipt.through}.")]
    shown = receipt.closing[:LISTED]
    half = (len(shown) + 1) // 2
    columns = [shown[:half], shown[half:] or []]
    width = (WIDTH - 8 * mm) / 2
    tables = [
        rows_table(
            ("Substance", "Closing stock", "Unit"), rows, [width * share for share in (0.5, 0.35, 0.15)], [0, 1, 0]
        )
        for rows in columns
    ]
    over = len(receipt.closing) - len(shown)
    rest = f" {over} more stand in the usage report." if over else ""
    return [
        text(f"In all containers at the end of {receipt.through}, as the usage report closes.{rest}", "small"),
        Table([[tables[0], "", tables[1] if columns[1] else ""]], colWidths=[width, 8 * mm, width], style=PLAIN),
    ]


def _signing() -> Table:
    """Two lines for hands: who gave it, and who has it now."""
    rows = [
        [text(who), text("Name", "small"), text("Day", "small"), text("Signature", "small")]
        for who in ("Handed out by", "Received by")
    ]
    look = [
        ("VALIGN", (0, 0), (0, -1), "BOTTOM"),
        ("VALIGN", (1, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (0, -1), 0),
        ("LEFTPADDING", (1, 0), (-1, -1), 4),
        ("TOPPADDING", (0, 0), (-1, -1), 1),
        ("LINEBELOW", (1, 0), (-1, -1), 0.6, RULE),
        ("LINEBEFORE", (1, 0), (-1, -1), 0.25, RULE),
    ]
    shares = (0.15, 0.33, 0.17, 0.35)
    return Table(rows, colWidths=[WIDTH * share for share in shares], rowHeights=[14 * mm] * 2, style=look)
