"""Putting right what was recorded: taking a voucher back, and correcting one in its place.

A weighing puts the book right to the scale, so a later mistake cannot hide in an earlier one. That has a
price: when an earlier entry is corrected, the difference that the next weighing found was partly the
mistake. So the next weighing of each container concerned is judged again: its old difference is reversed
and the right one posted. The container's balance stays what the scale said last.

Words: the chain is a voucher and those that corrected it; its place is the first one's number. Weighings
of later revisions stand in that place too, so that they are compared with the neighbours they had.
"""

import datetime as dt
import json
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from django.db import connection
from django.db.models import QuerySet

from inventory.containers.holdings import ContainerState, Holdings, Postings, Reading
from inventory.containers.models import Container, Weighing
from inventory.containers.recorder import OPENS, Recorder, readings_said, recording
from inventory.ledger.accounts import AccountClass, Spot, Transfer
from inventory.ledger.actions import transfers_of
from inventory.ledger.models import Movement, Voucher
from inventory.measures.tolerance import OIL_TOLERANCE_UL, tolerance_mg
from inventory.text.refusal import Refused

OUTCOMES = {
    "weighing difference": AccountClass.WEIGHING_DIFFERENCE,
    "unexplained gain": AccountClass.UNEXPLAINED_GAIN,
    "unexplained loss": AccountClass.UNEXPLAINED_LOSS,
}
LAST_ONLY = {"opening", "receipt", "move", "regrade", "retirement", "reclassification"}


def reverse_voucher(number: int, *, day: dt.date, by: str, note: str, key: str = "") -> int:
    """Take a voucher back; returns the reversal's number. Raises Refused, naming what stands in the way.
    A job's voucher is corrected through its job, which keeps both revisions."""
    with recording() as recorder:
        posted = recorder.ledger.posted(key) if key else None
        if posted:
            return posted
        voucher = Voucher.objects.filter(number=number).first()
        if voucher is not None and voucher.kind == "job":
            raise Refused(f"Voucher {number} belongs to a job; correct it on the job's own page.")
        if not note.strip():
            raise Refused("Say why the voucher is taken back.", "note")
        amendment = Amendment(recorder, number, number)
        if voucher is not None and voucher.kind in LAST_ONLY:
            amendment.refuse_if_used_since()
        reversal = amendment.take_back(day=day, by=by, note=note, key=key)
        amendment.finish(day)
        gone = [code for code, changed in amendment.detail.get("changes", {}).items() if "retired" in changed]
        Container.objects.filter(code__in=gone).update(deposit_back_on=None)
    return reversal


@dataclass
class _Judged:
    """A weighing; what judges it once the old voucher is reversed; and what judges it before that. Each is
    the weighing itself or the latest row that judged it again and stands."""

    weighing: Weighing
    prior: Weighing
    effective: Weighing


class Amendment:
    """One correction inside one recorder: `take_back` the voucher; where another entry replaces it,
    `put_in_its_place`; then `finish`."""

    def __init__(self, recorder: Recorder, number: int, place: int):
        self.recorder, self.number, self.place = recorder, number, place
        recorder.ledger.flush()
        voucher = Voucher.objects.filter(number=number).first()
        self.detail = json.loads(voucher.detail) if voucher else {}
        self.old = transfers_of(number)
        self.own = self._own_weighings()
        self.codes = {s.name for t in self.old for s in (t.source, t.target) if s.cls == AccountClass.CONTAINER}
        self.codes |= {*self.detail.get("changes", ()), *self.detail.get("arrivals", ())}
        self.codes |= {judged.weighing.container.code for judged in self.own}
        self.next: dict[str, _Judged | None] = {}
        self.spots: set[Spot] = set()
        # A tare that the old voucher took is to be taken anew: None until it is.
        self.tares: dict[str, int | None] = {
            judged.weighing.container.code: None for judged in self.own if judged.weighing.outcome == "tare taken"
        }
        self._bring_in(self.codes)
        self.opened = {code: recorder.rows[code].opened_on for code in self.codes}
        self.nets = {code: self._old_net(code) for code in self.codes}

    # -- what stands -----------------------------------------------------------------------------

    def _own_weighings(self) -> list[_Judged]:
        rows = Weighing.objects.filter(voucher=self.number, again=None).order_by("line").select_related("container")
        return [_Judged(row, row, _effective(row)) for row in rows]

    def _bring_in(self, codes: Iterable[str]) -> None:
        """Load containers, and the weighing of each that comes next after the chain's place."""
        self.recorder.load(codes)
        for code in set(codes) - set(self.next):
            standing = _standing(code).filter(place__gt=self.place).order_by("place", "line")
            row = standing.select_related("scale").first()
            self.next[code] = _Judged(row, _effective(row, besides=self.number), _effective(row)) if row else None

    def _old_net(self, code: str) -> int:
        """What the old voucher's own entries did to a container, as its weighings are judged now."""
        net = _net(self.old, code)
        net += sum(
            j.effective.difference - j.weighing.difference for j in self.own if j.weighing.container.code == code
        )
        for row in Weighing.objects.filter(voucher=self.number, again__isnull=False, container__code=code):
            net -= row.difference - _effective(row.again, besides=self.number).difference
        return net

    def refuse_if_used_since(self) -> None:
        for code in sorted(self.codes):
            last = self.recorder.rows[code].last_voucher_id
            if last and last > self.number:
                raise Refused(
                    f"Voucher {last} recorded something for {code} since; take that back first, "
                    "or record what is right as a new voucher."
                )

    # -- taking back -----------------------------------------------------------------------------

    def take_back(
        self, *, day: dt.date, by: str, note: str, key: str = "", done_by: str = "", replaced: bool = False
    ) -> int:
        """Post the reversal and bring its containers back; replaced: `put_in_its_place` follows."""
        sheet = Postings()
        restored = self._restored()
        for judged in self.own:
            if judged.effective is not judged.weighing:
                # Its difference was replaced meanwhile: reverse what stands in its stead.
                spot = restored[judged.weighing.container.code].spot
                sheet.transfers += [t.reversed() for t in difference_transfers(spot, judged.effective)]
                sheet.transfers += difference_transfers(spot, judged.weighing)
        backs = {code: _net(sheet.transfers, code) - _net(self.old, code) for code in self.codes}
        sheet.transfers += self._between_accounts(restored)
        book = self.recorder.holdings
        for code, held in restored.items():
            book.containers[code] = replace(
                held, balance=held.balance + backs[code], tare=self.tares.get(code, held.tare)
            )
        counted = len(sheet.transfers)
        again = {} if replaced else self._judge_again(sheet, {})
        if not replaced:
            self._end_sheet(sheet, counted)
        detail = {"weighings": readings_said(sheet.readings)} if sheet.readings else {}
        reversal = self.recorder.ledger.reverse(
            self.number, day=day, recorded_by=by, done_by=done_by, note=note, key=key, settling=sheet.transfers,
            detail=detail, checked=False,
        )  # fmt: skip
        self.recorder.note_readings(sheet.readings, reversal, day, again=again, place=self.place)
        for code in self.codes:
            if self.opened[code] and not self._opened_besides(code):
                self.recorder.rows[code].opened_on = None
        self.recorder.adopt({code: book.containers[code] for code in self.codes}, reversal, day)
        self._show_earlier_weighing()
        return reversal

    def _restored(self) -> dict[str, ContainerState]:
        """The containers concerned, with the changes that the voucher made to themselves undone."""
        found = {}
        for code in self.codes:
            held = self.recorder.holdings.containers[code]
            for name, (old, new) in self.detail.get("changes", {}).get(code, {}).items():
                if getattr(held, name) == new:
                    held = replace(held, **{name: old})
            if code in self.detail.get("arrivals", {}):
                held = replace(held, retired=True, void=True)
            found[code] = held
        return found

    def _between_accounts(self, restored: dict[str, ContainerState]) -> list[Transfer]:
        """Where a container stands elsewhere now than when the voucher was posted: between the two accounts."""
        at: dict[Spot, int] = defaultdict(int)
        for transfer in self.old:
            at[transfer.source] += transfer.quantity
            at[transfer.target] -= transfer.quantity
        for code in restored:  # what is in it stands where it stands now, not yet where it stood before the voucher
            held = self.recorder.holdings.containers[code]
            if held.balance:
                at[held.spot] += held.balance
        found = []
        for spot, net in at.items():
            if spot.cls != AccountClass.CONTAINER:
                continue
            now = restored[spot.name].spot
            self.spots |= {spot, now}
            if spot != now and net:
                found.append(Transfer(spot, now, net) if net > 0 else Transfer(now, spot, -net))
        return found

    def _opened_besides(self, code: str) -> bool:
        """Whether something was taken from the container by a voucher that stands, other than this one."""
        taken = Movement.objects.filter(source__cls=AccountClass.CONTAINER, source__name=code, reversal=False)
        taken = taken.filter(voucher__reversed_by=None).exclude(voucher=self.number).exclude(target__name=code)
        return taken.filter(target_class__in=OPENS).exists()

    def _show_earlier_weighing(self) -> None:
        for code in self.codes:
            if self.next.get(code) is None:
                earlier = _standing(code).filter(place__lt=self.place).order_by("-place", "-line").first()
                row = self.recorder.rows[code]
                row.last_scale_id = earlier.scale_id if earlier else None
                row.last_weighed_on = earlier.day if earlier else None
                row.last_gross = earlier.gross if earlier else None

    # -- the right entry in its place ------------------------------------------------------------

    def put_in_its_place(
        self, run: Callable[[Holdings], object], codes: Iterable[str], *, kind: str, day: dt.date, by: str,
        done_by: str,
        document: str, note: str, detail: dict, key: str,
    ) -> int:  # fmt: skip
        """Run the new entry on the containers as they were then; post it, with the next weighings judged again."""
        codes = set(codes)
        self._bring_in(codes)
        book = self.recorder.holdings
        then = Holdings({code: self._as_then(code) for code in codes if code in book.containers})
        start = {code: held.balance for code, held in then.containers.items()}
        tares = {code: held.tare for code, held in then.containers.items()}
        then.mark()
        run(then)
        sheet = then.postings
        for code, held in sheet.changed.items():
            if held.tare != tares[code]:
                self.tares[code] = held.tare
            self._take_over(code, held, sheet)
        self.codes |= set(sheet.changed)
        again = self._judge_again(sheet, {code: held.balance - start[code] for code, held in sheet.changed.items()})
        self._end_sheet(sheet, 0)
        book.postings = Postings(sheet.transfers, sheet.readings, {code: book.containers[code] for code in self.codes})
        self.spots |= {s for t in sheet.transfers for s in (t.source, t.target)}
        latest = frozenset(code for code in self.codes if self.next.get(code) is None)
        number = self.recorder.record(
            kind=kind, day=day, recorded_by=by, done_by=done_by, document=document, note=note, key=key,
            detail=detail, again=again, place=self.place, latest=latest, checked=False,
        )  # fmt: skip
        for code, opened in self.opened.items():  # what it takes from a container opened it on the day it did before
            row = self.recorder.rows[code]
            if opened and row.opened_on:
                row.opened_on = opened
        return number

    def _take_over(self, code: str, then: ContainerState, sheet: Postings) -> None:
        """A substance or grade that the new entry gave a container; what else is in it goes along."""
        book = self.recorder.holdings
        old = book.containers[code]
        new = replace(old, substance=then.substance, grade=then.grade)
        if (new.substance, new.grade) == (old.substance, old.grade):
            return
        left = old.balance
        for transfer in sheet.transfers:
            left += transfer.quantity * ((transfer.target == old.spot) - (transfer.source == old.spot))
        if left:
            sheet.transfers.append(
                Transfer(old.spot, new.spot, left) if left > 0 else Transfer(new.spot, old.spot, -left)
            )
        book.replace(code, new)

    def _as_then(self, code: str) -> ContainerState:
        """The container as the book had it just before the chain's place, at its account of today."""
        held = self.recorder.holdings.containers[code]
        first = next((j for j in self.own if j.weighing.container.code == code), None)
        arrived = self.recorder.rows[code].arrival_id or 0  # a delivery entered late: it was there all the same
        balance = first.effective.book if first else balance_before(code, max(self.place, arrived + 1))
        # Readings keep the tare that they were taken with, whatever it was found to be since.
        if first and first.weighing.outcome != "tare taken" and not held.is_oil:
            held = replace(held, tare=first.weighing.tare)
        return replace(held, balance=balance, readability=self._readability_before(code), retired=held.void)

    def _readability_before(self, code: str) -> int | None:
        earlier = (
            _standing(code).filter(place__lt=self.place).order_by("-place", "-line").select_related("scale").first()
        )
        return earlier.scale.readability_mg if earlier and earlier.scale else None

    def _judge_again(self, sheet: Postings, deltas: dict[str, int]) -> dict[int, int]:
        """Add to the sheet, for each container whose next weighing now finds another difference, the
        reversal of the old difference and the right one; returns reading index -> weighing judged again.
        deltas: what the new entry does to each container."""
        again = {}
        for code in sorted(self.codes):
            judged = self.next.get(code)
            if judged is None:
                continue
            last = next((r for r in reversed(sheet.readings) if r.code == code), None)
            readability = last.readability if last else self._readability_before(code)
            reading = self._reading_again(judged, deltas.get(code, 0) - self.nets.get(code, 0), readability)
            prior = judged.prior
            if (reading.difference, reading.outcome, reading.tare) == (prior.difference, prior.outcome, prior.tare):
                continue
            spot = self.recorder.holdings.containers[code].spot
            sheet.transfers += [t.reversed() for t in difference_transfers(spot, prior)]
            sheet.transfers += difference_transfers(spot, reading)
            again[len(sheet.readings)] = judged.weighing.id
            sheet.readings.append(reading)
        return again

    def _reading_again(self, judged: _Judged, change: int, readability_before: int | None) -> Reading:
        row, book = judged.weighing, judged.effective.book + change
        held = self.recorder.holdings.containers[row.container.code]
        scale, readability, outcome = "", 0, "agrees"
        if held.is_oil:
            tare, net, tolerance = 0, row.gross, OIL_TOLERANCE_UL
        else:
            scale, readability = row.scale.code, row.scale.readability_mg
            self.recorder.scale(scale)
            tare = self.tares.get(held.code, row.tare)
            if tare is None:
                tare, outcome = self._tare_again(held, row, book), "tare taken"
            net = max(0, row.gross - tare)
            implied = max(0, tare + book)
            tolerance = tolerance_mg(row.gross, readability, implied, readability_before or readability)
        difference = net - book
        if difference:
            within = abs(difference) <= tolerance
            outcome = "weighing difference" if within else "unexplained gain" if difference > 0 else "unexplained loss"
        return Reading(
            held.code, row.role, scale, readability, row.gross, tare, book, net, difference, tolerance, outcome
        )

    def _tare_again(self, held: ContainerState, row: Weighing, book: int) -> int:
        if row.gross < book:
            raise Refused(
                f"Without this entry {held.code} would have held {held.said(book)} on {row.day}, when it weighed "
                f"{held.said(row.gross)} in all; correct that weighing first."
            )
        self.tares[held.code] = row.gross - book
        return row.gross - book

    def _end_sheet(self, sheet: Postings, counted: int) -> None:
        """Bring the book's balances to what the sheet does from its transfer number `counted` on. A retired
        container ends empty: what the correction leaves in it, or lacks, is heel loss."""
        book = self.recorder.holdings
        for code in sorted(self.codes):
            held = book.containers[code]
            left = held.balance + _net(sheet.transfers[counted:], code)
            if held.retired and not held.void and left:
                heel = Spot(held.substance, AccountClass.HEEL_LOSS)
                sheet.transfers.append(
                    Transfer(held.spot, heel, left) if left > 0 else Transfer(heel, held.spot, -left, True)
                )
                left = 0
            book.containers[code] = replace(held, balance=left, tare=self.tares.get(code, held.tare))

    def finish(self, day: dt.date) -> None:
        """Refuse if anything now stands below zero."""
        self.recorder.ledger.check(self.spots, day)


def _standing(code: str) -> QuerySet[Weighing]:
    """A container's weighings that no reversal took away, without those that judge another again."""
    return Weighing.objects.filter(container__code=code, again=None, voucher__reversed_by=None).select_related(
        "container"
    )


def _effective(row: Weighing, besides: int | None = None) -> Weighing:
    """The latest standing row that judges this weighing; besides: a voucher taken as reversed."""
    again = row.judged_again.filter(voucher__reversed_by=None)
    if besides:
        again = again.exclude(voucher=besides)
    return again.order_by("-voucher_id").first() or row


def difference_transfers(spot: Spot, row: Weighing | Reading) -> list[Transfer]:
    """The movement that a weighing's difference posted, if it posted one."""
    if not row.difference:
        return []
    other = Spot(spot.substance, OUTCOMES[row.outcome])
    if row.difference > 0:
        return [Transfer(other, spot, row.difference)]
    return [Transfer(spot, other, -row.difference)]


def balance_before(code: str, number: int) -> int:
    """What the container held just before a voucher, in the order of recording; mg or uL."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT COALESCE(SUM(CASE WHEN m.target_id = a.id THEN m.quantity ELSE -m.quantity END), 0) "
            "FROM inventory_account a JOIN inventory_movement m ON m.target_id = a.id OR m.source_id = a.id "
            "WHERE a.cls = %s AND a.name = %s AND m.voucher_id < %s",
            [int(AccountClass.CONTAINER), code, number],
        )
        return int(cursor.fetchone()[0])


def _net(transfers: Iterable[Transfer], code: str) -> int:
    net = 0
    for transfer in transfers:
        if transfer.target.cls == AccountClass.CONTAINER and transfer.target.name == code:
            net += transfer.quantity
        if transfer.source.cls == AccountClass.CONTAINER and transfer.source.name == code:
            net -= transfer.quantity
    return net
