"""What a posted count found, on paper: weighed, seen and assumed apart, the shop's own and customers' apart."""

import io
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import QuerySet, Sum
from django.utils import timezone
from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable, Spacer

from inventory.containers.models import Container, Weighing
from inventory.counting.models import Count, Explanation
from inventory.ledger.models import Movement, Voucher
from inventory.measures.days import said_day
from inventory.measures.quantity import show
from inventory.paper.document import MARGIN, Foot, build, entries_table, facts_table, figures_band, text

WIDTH = A4[0] - 2 * MARGIN
WEIGHED = ("Container", "It showed", "In it", "By the book", "Difference", "Weighing explains", "Reason", "Read by")
WEIGHED_SHARES = (0.14, 0.11, 0.11, 0.11, 0.11, 0.12, 0.2, 0.1)
SENT = ("Container", "Scale", "What the scale sent")
SENT_SHARES = (0.2, 0.2, 0.6)
STANDS = ("Container", "Kind", "Substance", "By the book, not by the scale")
STANDS_SHARES = (0.3, 0.25, 0.25, 0.2)
WEIGHED_TOTAL = "{code}: {0} in them, {1} by the book, difference {2}"


@dataclass(frozen=True)
class Result:
    """weighed: readings as they were posted, each with `reason`, `reason_note`, `by` and what the scale `sent`. seen,
    assumed: containers, each with `stood`, what the book had in it when the count was posted (mg, of oils uL).
    taken_back: the voucher that did so. judged_anew: codes whose readings a later voucher compared with another book.
    """

    count: Count
    weighed: Sequence[Weighing]
    seen: Sequence[Container]
    assumed: Sequence[Container]
    taken_back: Voucher | None
    judged_anew: Sequence[str]


def result_of(count: Count) -> Result:
    """What a posted count found; the latest reason of each difference."""
    detail = json.loads(count.voucher.detail)
    weighed = list(
        Weighing.objects.filter(voucher=count.voucher_id)
        .select_related("container__substance", "container__account", "scale")
        .order_by("container__code")
    )
    why = {one.weighing_id: one for one in Explanation.objects.filter(weighing__in=weighed).order_by("id")}
    entries = {one.container.code: one for one in count.entries.select_related("container", "scale")}
    for one in weighed:
        said = why.get(one.pk)
        one.reason = said.get_reason_display() if said else ""
        one.reason_note = said.note if said else ""
        entry = entries.get(one.container.code)
        one.by = entry.by if entry else ""
        one.sent = entry.sent if entry and entry.gross == one.gross else ""
    anew = Weighing.objects.filter(restates__in=weighed, voucher__reversed_by=None)
    return Result(
        count,
        weighed,
        _stood(count, detail.get("seen", ())),
        _stood(count, detail.get("assumed", ())),
        Voucher.objects.filter(reverses=count.voucher_id).first(),
        sorted(set(anew.values_list("container__code", flat=True))),
    )


def _stood(count: Count, codes: Sequence[str]) -> list[Container]:
    """Containers with what the book had in them once the count was posted."""
    found = list(Container.objects.filter(code__in=codes).select_related("substance").order_by("code"))
    accounts = [one.account_id for one in found if one.account_id]
    moved = Movement.objects.filter(voucher__lte=count.voucher_id)
    came, went = (_sums(moved.filter(**{f"{end}__in": accounts}), end) for end in ("target", "source"))
    for one in found:
        one.stood = came.get(one.account_id, 0) - went.get(one.account_id, 0)
    return found


def _sums(movements: QuerySet[Movement], end: str) -> dict[int, int]:
    return dict(movements.values_list(end).annotate(total=Sum("quantity")))


def result_paper(result: Result, paper: Foot, person) -> bytes:
    """The PDF."""
    count = result.count
    out = io.BytesIO()
    story: list[Flowable] = [text(f"Count of {count.location.name}: what it found", "title"), *_notices(result)]
    story.append(facts_table(_facts(result), WIDTH))
    if count.note:
        story += [text("Note", "heading"), text(count.note)]
    own = [one for one in result.weighed if not one.container.kept_for]
    many = [len(own), *(sum(not one.kept_for for one in part) for part in (result.seen, result.assumed))]
    words = ("read on the scale", "looked at, not weighed", "neither weighed nor seen")
    story.append(Spacer(0, 2 * mm))
    story.append(figures_band(list(zip(("Weighed", "Seen", "Assumed"), many, words, strict=True)), WIDTH))
    for theirs in (False, True):
        story += _part(result, theirs, person)
    build(out, story, paper)
    return out.getvalue()


def _notices(result: Result) -> list[Flowable]:
    found = []
    if result.taken_back:
        found.append(text(f"Taken back by voucher {result.taken_back.number}: nothing of this stands.", "strong"))
    if result.judged_anew:
        codes = ", ".join(result.judged_anew)
        found.append(text(f"Recorded since, of a day before it: the book beside {codes} is another by now.", "strong"))
    return found


def _facts(result: Result) -> list[tuple[str, object]]:
    count = result.count
    begun, ended = (timezone.localtime(at) for at in (count.started_at, count.ended_at))
    return [
        ("Day of the count", said_day(count.day)),
        ("Voucher", count.voucher_id),
        ("Started", f"{said_day(begun)}, {begun:%H:%M}, by {count.started_by}"),
        ("Posted", f"{said_day(ended)}, {ended:%H:%M}, by {count.ended_by}"),
        ("Scale", count.scale.code if count.scale else "the usual one"),
        ("Read by", ", ".join(sorted({one.by for one in result.weighed if one.by})) or "nobody: none was weighed"),
    ]


def _part(result: Result, theirs: bool, person) -> list[Flowable]:
    """The shop's own, or customers': weighed, seen, assumed, each with its totals."""
    weighed = [one for one in result.weighed if bool(one.container.kept_for) == theirs]
    seen, assumed = ([c for c in part if bool(c.kept_for) == theirs] for part in (result.seen, result.assumed))
    if not (weighed or seen or assumed):
        return []
    story: list[Flowable] = []
    if theirs:
        story += _head("Customers' cylinders: no stock of the shop's", 35 * mm)
    if weighed:
        numeric = [False, *[True] * 5, False, False]
        story += [
            text("Weighed", "heading"),
            _table(WEIGHED, [_read(w, person) for w in weighed], WEIGHED_SHARES, numeric),
        ]
        story += _totals(((w.container, (w.net, w.book, w.difference)) for w in weighed), WEIGHED_TOTAL, person)
        if sent := [[w.container.code, w.scale.code if w.scale else "", w.sent] for w in weighed if w.sent]:
            story += [*_head("As the scales sent it"), _table(SENT, sent, SENT_SHARES, [False] * 3)]
    for name, part in (("Seen, not weighed", seen), ("Assumed: neither weighed nor seen", assumed)):
        if part:
            rows = [[c.code, c.kind, c.substance.code if c.substance else "", _shown(c, c.stood, person)] for c in part]
            story += [*_head(name), _table(STANDS, rows, STANDS_SHARES, [False, False, False, True])]
            story += _totals(((c, (c.stood,)) for c in part), "{0} {code} by the book", person)
    return story


def _head(words: str, room: float = 25 * mm) -> list[Flowable]:
    """A heading that stands above its table. room: points that it needs on its page."""
    return [CondPageBreak(room), text(words, "heading")]


def _totals(rows: Iterable[tuple[Container, tuple[int, ...]]], words: str, person) -> list[Flowable]:
    """By substance what some rows come to, in one line."""
    sums: dict[str, tuple[Container, tuple[int, ...]]] = {}
    for container, figures in rows:
        if container.substance:
            _, before = sums.get(container.substance.code, (None, (0,) * len(figures)))
            added = tuple(a + b for a, b in zip(before, figures, strict=True))
            sums[container.substance.code] = container, added
    said = [
        words.format(*(_shown(one, figure, person) for figure in figures), code=code)
        for code, (one, figures) in sorted(sums.items())
    ]
    return [Spacer(0, 1 * mm), text(f"In all: {'; '.join(said)}.", "small")] if said else []


def _table(header: Sequence[str], rows: list[list[str]], shares: Sequence[float], numeric: Sequence[bool]):
    return entries_table(header, rows, [share * WIDTH for share in shares], numeric)


def _read(one: Weighing, person) -> list[str]:
    container = one.container
    reason = ": ".join(filter(None, [one.reason, one.reason_note]))
    if not reason:
        reason = {"tare taken": "its tare is taken from it"}.get(one.outcome, one.outcome)
    figures = (one.gross, one.net, one.book, one.difference)
    said = [container.code, *(_shown(container, figure, person) for figure in figures)]
    return [*said, f"± {_shown(container, one.tolerance, person)}", reason, one.by]


def _shown(container: Container, quantity: int, person) -> str:
    return show(quantity, person.volume_unit if container.is_oil else person.mass_unit)
