"""The papers of buying: an order that is sent, a statement. PDF, and rows for files."""

import io
from collections.abc import Callable, Iterator, Sequence

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.platypus import Spacer

from inventory.buying.billing import Missing, sort_said
from inventory.buying.statement import Statement
from inventory.measures.days import said_day
from inventory.measures.money import plain_money, show_money
from inventory.measures.quantity import csv_value
from inventory.orders.queries import Progress, sort_of
from inventory.paper.document import MARGIN, Foot, build, entries_table, facts_table, text

WIDTH = A4[0] - 2 * MARGIN
ORDER_HEADER = ("Kind", "Substance", "Grade", "Net each", "Unit", "How many", "Price each", "Expected on")


def order_rows(found: Progress, currency: str) -> Iterator[Sequence[object]]:
    """The header, then what is ordered and still wanted, for a file."""
    yield ORDER_HEADER
    for one in found.lines:
        line, count = one.line, one.came + one.open
        if not count:
            continue
        price = plain_money(line.price_minor, currency) if line.price_minor is not None else ""
        expected = line.expected_on.isoformat() if line.expected_on else ""
        net, unit = csv_value(line.net), "mL" if line.is_oil else "g"
        yield (line.kind, line.substance, line.grade, net, unit, count, price, expected)


def order_paper(found: Progress, currency: str, paper: Foot) -> bytes:
    """A PDF to send."""
    order, out, total = found.order, io.BytesIO(), found.total_minor
    rows = []
    for one in found.lines:
        line, count = one.line, one.came + one.open
        if count:
            amount = None if line.price_minor is None else count * line.price_minor
            said = sort_said(sort_of(line), line.is_oil)
            money = [show_money(each, currency) if each is not None else "" for each in (line.price_minor, amount)]
            expected = said_day(line.expected_on) if line.expected_on else ""
            rows.append([str(one.line.place), said, str(count), *money, expected])
    if total is not None:
        rows.append(["", "In all", "", "", show_money(total, currency), ""])
    facts = [("To", f"{order.supplier.name}\n{order.supplier.address}".strip()), ("Day", said_day(order.day))]
    shares = [share * WIDTH for share in (0.05, 0.37, 0.1, 0.16, 0.16, 0.16)]
    head = ("", "What", "How many", "Price each", "Amount", "Expected on")
    numeric = [False, False, True, True, True, False]
    strong = [len(rows) - 1] if total is not None else []
    story = [
        text(f"Order {order.called}", "title"),
        facts_table(facts, WIDTH),
        Spacer(0, 4 * mm),
        entries_table(head, rows, shares, numeric, strong=strong),
    ]
    if order.note:
        story += [Spacer(0, 4 * mm), text(order.note)]
    build(out, story, paper)
    return out.getvalue()


STATEMENT_HEADER = ("Part", "Day", "What", "Document", "Voucher", "Count", "Amount")


def statement_rows(found: Statement, currency: str) -> Iterator[Sequence[object]]:
    """The header, then the papers of the month, the deposits, and what is open at its end, for a file."""

    def money(minor: int | None) -> str:
        return "" if minor is None else plain_money(minor, currency)

    yield STATEMENT_HEADER
    for one in found.entries:
        yield ("papers", one.day.isoformat(), one.what, one.document, one.voucher or "", "", money(one.amount))
    for what, minor in deposits_said(found):
        yield ("deposits", "", what, "", "", "", money(minor))
    for one in found.unbilled:
        day, number = one.voucher.day.isoformat(), one.voucher.number
        yield ("not billed", day, one.words, one.voucher.document, number, len(one.codes), money(one.value_minor))
    for one in found.missing:
        invoice, amount = one.line.invoice, money(one.amount_minor)
        yield (
            "not come",
            invoice.day.isoformat(),
            missing_said(one.line),
            invoice.number,
            "",
            one.count,
            amount,
        )


def missing_said(line) -> str:
    return line.called or sort_said(sort_of(line), line.is_oil)


def deposits_said(found: Statement) -> list[tuple[str, int]]:
    """The account of deposits, line by line."""
    its = found.deposits
    return [
        ("on cylinders that were out before", its.opening),
        ("charged on cylinders that came", its.charged),
        ("due back on cylinders that went", -its.back),
        ("on cylinders that are out at the end", its.closing),
        ("billed by invoices", its.billed),
        ("credited by credit notes", -its.credited),
    ]


def statement_paper(found: Statement, currency: str, paper: Foot) -> bytes:
    """A PDF."""

    def money(minor: int | None) -> str:
        return "" if minor is None else show_money(minor, currency)

    papers = [
        [said_day(one.day), one.what, one.document, str(one.voucher or ""), money(one.amount)] for one in found.entries
    ]
    deposits = [[what, money(minor)] for what, minor in deposits_said(found)]
    waiting = [
        [said_day(one.voucher.day), one.words, str(one.voucher.number), str(len(one.codes)), money(one.value_minor)]
        for one in found.unbilled
    ]
    missing = [_missing(one, money) for one in found.missing]
    bare = f", and {found.unpriced} without a price" if found.unpriced else ""
    for rows, words, amount in (
        (papers, "Billed less credited", found.billed),
        (waiting, f"In all{bare}", found.unbilled_minor),
        (missing, "In all", found.missing_minor),
    ):
        if rows:
            rows.append(["", words, "", *([""] * (len(rows[0]) - 4)), money(amount)])
    billed = f"Billed less credited: {money(found.billed)}."
    out = io.BytesIO()
    story = [
        text(f"Statement of {found.supplier.name}", "title"),
        text(f"{said_day(found.first)} to {said_day(found.last)}. {billed}"),
        *_part("Papers", PAPERS, papers, "Nothing came and nothing was billed."),
        *_part("Deposits on cylinders", DEPOSITS, deposits),
        *_part("Came and not billed yet", WAITING, waiting, "All that came is billed."),
        *_part("Billed and did not come", MISSING, missing, "All that was billed came."),
    ]
    build(out, story, paper)
    return out.getvalue()


# The heads of a statement's parts, each with its share of the width.
PAPERS = {"Day": 0.16, "What": 0.2, "Document": 0.3, "Voucher": 0.14, "Amount": 0.2}
DEPOSITS = {"What": 0.7, "Amount": 0.3}
WAITING = {"Day": 0.16, "What": 0.4, "Voucher": 0.12, "Count": 0.12, "Amount": 0.2}
MISSING = {"Day": 0.16, "What": 0.36, "Invoice": 0.16, "Count": 0.12, "Amount": 0.2}
NUMERIC = {"Amount", "Count", "Voucher"}


def _part(title: str, head: dict[str, float], rows: list[list[str]], empty: str = "") -> list:
    """A heading and its table, whose last row sums it up; what is said where it has none. Deposits are no sum."""
    if not rows:
        return [text(title, "heading"), text(empty)]
    widths, numeric = [share * WIDTH for share in head.values()], [name in NUMERIC for name in head]
    summed = [len(rows) - 1] if empty else []
    return [text(title, "heading"), entries_table(list(head), rows, widths, numeric, strong=summed)]


def _missing(one: Missing, money: Callable[[int | None], str]) -> list[str]:
    invoice = one.line.invoice
    return [said_day(invoice.day), missing_said(one.line), invoice.number, str(one.count), money(one.amount_minor)]
