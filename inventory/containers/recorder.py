"""Posts what the book's sheets say, and keeps containers and weighings in step with the ledger.

One `Recorder` lives inside one `ledger.actions.writing()`. It holds the rows of the containers that it
loaded, writes in batches, and is ended with `flush`. The web pages record one sheet with it, the loading
of a log thousands.
"""

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import fields

from django.db import connection
from django.db.models import QuerySet

from inventory.containers.holdings import ContainerState, Holdings, Reading, ScaleSeen
from inventory.containers.models import Container, Location, Scale
from inventory.ledger.accounts import AccountClass
from inventory.ledger.actions import Draft, Writer, writing
from inventory.text.refusal import Refused

OPENS = {AccountClass.UNIT, AccountClass.LINE_LOSS, AccountClass.CONTAINER}
STATE = (
    "kind",
    "substance_id", "grade", "location_id", "account_id", "tare_mg", "water_capacity_mg", "retest_due", "nominal",
    "price_minor", "arrival_id", "arrived_on", "opened_on", "retired_on", "void", "last_scale_id", "last_weighed_on",
    "last_gross", "last_voucher_id",
)  # fmt: skip
READING = tuple(field.name for field in fields(Reading))


class Recorder:
    """rows: the containers loaded or made, by code. book: the same as the rules see them."""

    def __init__(self, ledger: Writer):
        self.ledger = ledger
        self.rows: dict[str, Container] = {}
        self.holdings = Holdings({})
        self.scales: dict[str, Scale] = {}
        self._locations: dict[str, int] = {}
        self._dirty: set[str] = set()
        self._weighings: list[tuple[str, tuple]] = []

    # -- loading ---------------------------------------------------------------------------------

    def load(self, codes: Iterable[str]) -> Holdings:
        """Bring these containers into the book, as they stand now; unknown codes stay unknown to it."""
        missing = sorted(set(codes) - set(self.rows))
        if missing:
            self.ledger.flush()
            self._take_in(Container.objects.filter(code__in=missing))
        return self.holdings

    def load_all(self) -> Holdings:
        """Bring every container into the book: for the loading of a log."""
        self.ledger.flush()
        self._take_in(Container.objects.all())
        return self.holdings

    def know(self, containers: Iterable[Container], scales: Iterable[Scale | None]) -> None:
        """Bring rows into the book that this transaction has read already, with all that `held` needs."""
        for row in containers:
            if row.code not in self.rows:
                self._take(row)
        for scale in scales:
            if scale is not None:
                self.scales[scale.code] = scale

    def _take_in(self, containers: QuerySet[Container]) -> None:
        for row in containers.select_related("substance", "location", "account", "last_scale"):
            self._take(row)

    def _take(self, row: Container) -> None:
        self.rows[row.code] = row
        self.holdings.containers[row.code] = row.held
        if row.substance:
            self.ledger.know_substance(row.substance)
        if row.location:
            self._locations[row.location.name] = row.location_id

    def scale(self, code: str = "") -> ScaleSeen:
        """The scale of this code, or the shop's usual one. Raises Refused for one that is not there."""
        if code not in self.scales:
            found = Scale.objects.filter(code=code).first() if code else Scale.objects.filter(usual=True).first()
            if found is None:
                raise Refused(
                    f"There is no scale {code!r}; add it to the scales first."
                    if code
                    else "The shop has no usual scale; name the scale, or set one as usual.",
                    "scale",
                )
            self.scales[code] = self.scales[found.code] = found
        found = self.scales[code]
        return ScaleSeen(found.code, found.readability_mg)

    # -- recording -------------------------------------------------------------------------------

    def record(
        self,
        *,
        kind: str,
        day: dt.date,
        recorded_by: str,
        done_by: str = "",
        document: str = "",
        note: str = "",
        detail: Mapping[str, object] | None = None,
        key: str = "",
        arrivals: Mapping[str, Mapping[str, object]] | None = None,
        again: Mapping[int, int] | None = None,
        place: int | None = None,
        latest: frozenset[str] = frozenset(),
        checked: bool = True,
    ) -> int:
        """Post the book's sheet as one voucher; returns its number.

        arrivals: per new container what the rules do not need to know: water_capacity_mg, retest_due,
        price_minor. For an entry that corrects an earlier one: place, the voucher in whose place among the
        weighings it stands; latest, the containers not weighed since that place; again, reading index to the
        weighing that the reading judges again. Raises Refused, and PostedBefore where the key was posted
        before; the transaction must then be rolled back.
        """
        sheet, arrivals = self.holdings.postings, arrivals or {}
        said = dict(detail or {})
        if sheet.readings:
            said["weighings"] = readings_said(sheet.readings)
        changes = self.holdings.changes()
        if changes:
            said["changes"] = changes
        if arrivals:
            said["arrivals"] = {
                code: {
                    **_said(self.holdings.containers[code]),
                    **{k: _plain(v) for k, v in extra.items() if v is not None},
                }
                for code, extra in arrivals.items()
            }
        before = self.ledger.number
        number = self.ledger.post(
            Draft(
                kind=kind, day=day, recorded_by=recorded_by, done_by=done_by, document=document, note=note,
                transfers=tuple(sheet.transfers), detail=said, key=key,
            ),
            checked=checked,
        )  # fmt: skip
        if number <= before:
            raise PostedBefore(number)
        for code, extra in arrivals.items():
            self._arrive(self.holdings.containers[code], extra, number, day)
        self.note_readings(sheet.readings, number, day, again=again or {}, place=place, latest=latest)
        opened = {t.source.name for t in sheet.transfers if t.source.cls == AccountClass.CONTAINER and _opens(t)}
        self.adopt(sheet.changed, number, day, opened)
        self.holdings.mark()
        return number

    def _arrive(self, held: ContainerState, extra: Mapping[str, object], number: int, day: dt.date) -> None:
        row = self.rows.get(held.code) or Container(code=held.code)
        row.kind, row.nominal, row.arrival_id, row.arrived_on, row.void = held.kind, held.balance, number, day, False
        row.retired_on = row.opened_on = row.last_scale_id = row.last_weighed_on = row.last_gross = None
        row.water_capacity_mg = extra.get("water_capacity_mg")
        row.retest_due = extra.get("retest_due")
        row.price_minor = extra.get("price_minor")
        self.rows[held.code] = row

    def note_readings(
        self,
        readings: Iterable[Reading],
        number: int,
        day: dt.date,
        *,
        again: Mapping[int, int],
        place: int | None = None,
        latest: frozenset[str] = frozenset(),
    ) -> None:
        """Keep a voucher's readings as weighings; see `record` for again, place and latest."""
        for line, reading in enumerate(readings):
            scale_id = self.scales[reading.scale].id if reading.scale else None
            values = (
                number, line, day.isoformat(), scale_id, reading.role, reading.gross, reading.tare, reading.book,
                reading.net, reading.difference, reading.tolerance, reading.outcome, again.get(line), place or number,
            )  # fmt: skip
            self._weighings.append((reading.code, values))
            if line not in again and (place is None or reading.code in latest):
                row = self.rows[reading.code]
                row.last_scale_id, row.last_weighed_on, row.last_gross = scale_id, day, reading.gross
                self._dirty.add(reading.code)

    def adopt(
        self, changed: Mapping[str, ContainerState], number: int, day: dt.date, opened: Iterable[str] = ()
    ) -> None:
        """Bring the rows of these containers to what the book says of them since this voucher."""
        for code, held in changed.items():
            row = self.rows[code]
            if held.substance:
                row.account_id = self.ledger.account_id(held.spot)
                row.substance_id = self.ledger.substance_id(held.substance)
            row.grade, row.tare_mg, row.void = held.grade, held.tare, held.void
            row.location_id = self.location_id(held.location)
            row.retired_on = (row.retired_on or day) if held.retired else None
            if code in opened and row.opened_on is None:
                row.opened_on = day
            row.last_voucher_id = number
            self._dirty.add(code)

    def location_id(self, name: str) -> int | None:
        if not name:
            return None
        if name not in self._locations:
            self._locations[name] = Location.objects.get_or_create(name=name)[0].id
        return self._locations[name]

    def flush(self) -> None:
        """Write vouchers, then containers, then weighings."""
        self.ledger.flush()
        new = [row for row in self.rows.values() if row.pk is None]
        if new:
            Container.objects.bulk_create(new, batch_size=500)
            self._dirty -= {row.code for row in new}
        changed = [self.rows[code] for code in sorted(self._dirty)]
        with connection.cursor() as cursor:
            if changed:
                cursor.executemany(
                    f"UPDATE inventory_container SET {', '.join(f'{name} = %s' for name in STATE)} WHERE id = %s",
                    [(*(_stored(getattr(row, name)) for name in STATE), row.pk) for row in changed],
                )
            if self._weighings:
                cursor.executemany(
                    "INSERT INTO inventory_weighing (container_id, voucher_id, line, day, scale_id, role, gross, tare, "
                    "book, net, difference, tolerance, outcome, again_id, place) "
                    "VALUES (%s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s)",
                    [(self.rows[code].pk, *values) for code, values in self._weighings],
                )
        self._dirty.clear()
        self._weighings.clear()


class PostedBefore(Exception):
    """The form's id was posted before: nothing is to be done again. number: the voucher it made."""

    def __init__(self, number: int):
        super().__init__(f"posted before as voucher {number}")
        self.number = number


@contextmanager
def recording() -> Iterator[Recorder]:
    """A recorder in a transaction of its own, flushed at the end."""
    with writing() as ledger:
        recorder = Recorder(ledger)
        yield recorder
        recorder.flush()


def readings_said(readings: Iterable[Reading]) -> list[list]:
    """Readings as the voucher's detail holds them: the fields of `Reading` in their order."""
    return [[getattr(reading, name) for name in READING] for reading in readings]


def _opens(transfer) -> bool:
    return transfer.target.cls in OPENS and transfer.target.name != transfer.source.name and not transfer.reversal


def _said(held: ContainerState) -> dict[str, object]:
    return {
        "kind": held.kind, "substance": held.substance, "grade": held.grade, "location": held.location,
        "tare_mg": held.tare, "net": held.balance,
    }  # fmt: skip


def _plain(value: object) -> object:
    return value if isinstance(value, (int, str)) else str(value)


def _stored(value: object) -> object:
    return value.isoformat() if isinstance(value, dt.date) else value
