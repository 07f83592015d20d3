"""The rows of containers, their entries and weighings, kept in step with what their stories come to.

Rows are read as they are asked for and written in batches, with `flush`: the loading of a log records thousands of
acts with one of these.
"""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence

from django.db import connection
from django.db.models import QuerySet

from inventory.containers.events import kept_of
from inventory.containers.models import Container, Location, Scale, Weighing
from inventory.containers.states import JUDGED, ContainerState, Reading, ScaleSeen, judgement
from inventory.ledger.actions import Writer
from inventory.ledger.models import stands
from inventory.ledger.stating import state_row
from inventory.text.refusal import Refused

# The columns that a container's story says, and those that its arrival says besides.
STATE = (
    "kind",
    "substance_id",
    "grade",
    "location_id",
    "account_id",
    "tare_mg",
    "nominal",
    "most",
    "arrival_id",
    "arrived_on",
    "opened_on",
    "retired_on",
    "void",
    "kept_for",
    "unknown",
    "last_scale_id",
    "last_readability_mg",
    "last_weighed_on",
    "last_gross",
    "last_voucher_id",
    "last_position",
)
LABEL = {"label_says": "", "batch": "", "facility": "", "label_statement": False}  # each as it is where nothing is said
MARKED = {"supplier_number": "", **LABEL}  # all that is written on it in words
BESIDES = (
    "water_capacity_mg",
    "test_pressure_kpa",
    "stamped_most_mg",
    "retest_due",
    "price_minor",
    "deposit_minor",
    "deposit_back_on",
    *MARKED,
)


class Rows:
    """The containers loaded or made, by code, and what is to be written of them."""

    def __init__(self, ledger: Writer):
        self.ledger = ledger
        self.by_code: dict[str, Container] = {}
        self.scales: dict[str, Scale] = {}
        self._locations: dict[str, int] = {}
        self._besides: dict[str, tuple] = {}  # as they were stated last
        self._dirty: set[str] = set()
        self._weighings: list[tuple[str, tuple]] = []
        self._entries: list[tuple[str, tuple]] = []

    # -- reading ---------------------------------------------------------------------------------

    def load(self, codes: Iterable[str]) -> Iterable[Container]:
        """The rows of these codes that were not here yet; unknown codes stay unknown."""
        missing = sorted({code for code in codes if code not in self.by_code})
        if not missing:
            return []
        self.flush()
        return self._take_in(Container.objects.filter(code__in=missing))

    def load_all(self) -> Iterable[Container]:
        self.flush()
        return self._take_in(Container.objects.all())

    def know(self, containers: Iterable[Container], scales: Iterable[Scale | None]) -> list[Container]:
        """Rows that this transaction has read already, with all that `held` needs."""
        for scale in scales:
            if scale is not None:
                self.scales[scale.code] = scale
        new = {row.code: row for row in containers if row.code not in self.by_code}
        return [self._take(row) for row in new.values()]

    def _take_in(self, containers: QuerySet[Container]) -> list[Container]:
        found = containers.select_related("substance", "location", "account", "last_scale")
        return [self._take(row) for row in found]

    def _take(self, row: Container) -> Container:
        self.by_code[row.code] = row
        self._besides[row.code] = _of_besides(row)
        if row.substance:
            self.ledger.accounts.know_substance(row.substance)
        if row.location:
            self._locations[row.location.name] = row.location_id
        if row.last_scale:
            self.scales.setdefault(row.last_scale.code, row.last_scale)
        return row

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

    def _scale_id(self, code: str) -> int | None:
        if not code:
            return None
        self.scale(code)
        return self.scales[code].id

    def location_id(self, name: str) -> int | None:
        if not name:
            return None
        if name not in self._locations:
            self._locations[name] = Location.objects.get_or_create(name=name)[0].id
        return self._locations[name]

    # -- noting ----------------------------------------------------------------------------------

    def arrive(self, code: str, besides: Mapping[str, object]) -> None:
        """What an arrival says of a container that its story does not need: of BESIDES."""
        row = self.by_code.setdefault(code, Container(code=code))
        for name in BESIDES:
            setattr(row, name, besides.get(name, MARKED.get(name)))

    def adopt(self, code: str, state: ContainerState | None, number: int, day: dt.date) -> None:
        """Bring a row to what its container's story comes to since a voucher, dated `day`; None: it never came."""
        row = self.by_code[code]
        row.last_voucher_id = number
        self._dirty.add(code)
        self._adopt(row, state, number, day)
        if self._besides.get(code) != _of_besides(row):
            state_row(row, new=code not in self._besides)
            self._besides[code] = _of_besides(row)

    def _adopt(self, row: Container, state: ContainerState | None, number: int, day: dt.date) -> None:
        if state is None:
            row.void, row.opened_on, row.last_position, row.most = True, None, "", row.nominal
            row.retired_on = row.retired_on or max(day, row.arrived_on)
            return
        named = bool(state.substance)
        row.account_id = self.ledger.accounts.account_id(state.spot) if named else None
        row.substance_id = self.ledger.accounts.substance_id(state.substance) if named else None
        row.kind, row.grade, row.tare_mg, row.void = state.kind, state.grade, state.tare, False
        row.kept_for, row.unknown = state.owner, state.unknown
        row.location_id = self.location_id(state.location)
        row.nominal, row.most, row.arrived_on = state.nominal, state.most, state.arrived_on
        row.arrival_id = state.arrival or number
        row.opened_on, row.retired_on = state.opened_on, state.retired_on
        row.last_scale_id, row.last_readability_mg = self._scale_id(state.last_scale), state.readability
        row.last_weighed_on, row.last_gross, row.last_position = state.last_weighed_on, state.last_gross, state.last
        if state.retired_on is None:
            row.deposit_back_on = None

    def enter(self, said: Mapping[str, object], readings: Sequence[Reading], number: int, day: dt.date) -> None:
        """Keep what a voucher says of each container among the entries, and its readings as weighings, each in the
        place of its op. said: the event as its detail holds it."""
        kept = kept_of(said, number)
        for code, position, ops in kept.entries:
            self._entries.append((code, (number, said["on"], position, ops)))
        for line, (reading, position) in enumerate(zip(readings, kept.readings, strict=True)):
            self._weigh(reading, (number, line, day.isoformat()), position, None)

    def restated(self, readings: Mapping[tuple[int, int], Reading], codes: Iterable[str]) -> list[tuple]:
        """Those of the readings (by voucher and line) of containers that say something else than their weighings do
        now: (first weighing's row, reading) each, in their order."""
        found = Weighing.objects.filter(stands("voucher__"), container__code__in=codes).order_by("voucher", "line")
        rows = list(found.values_list("id", "voucher_id", "line", "position", "restates_id", *JUDGED))
        first = {(row[1], row[2]): row for row in rows if row[4] is None}
        now = {row[0]: row[5:] for row in rows if row[4] is None}
        now |= {row[4]: row[5:] for row in rows if row[4] is not None}  # the latest counts
        return [
            (first[key], reading)
            for key, reading in sorted(readings.items())
            if key in first and now[first[key][0]] != judgement(reading)
        ]

    def restate(self, restated: Sequence[tuple], number: int, day: dt.date) -> None:
        """Keep the readings that `restated` found under the voucher that restates them."""
        for line, ((pk, _, _, position, *_), reading) in enumerate(restated):
            self._weigh(reading, (number, line, day.isoformat()), position, pk)

    def _weigh(self, reading: Reading, stands: tuple, position: str, restates: int | None) -> None:
        """stands: voucher, line and day."""
        values = (
            *stands,
            self._scale_id(reading.scale),
            reading.role,
            reading.gross,
            reading.tare,
            reading.book,
            reading.net,
            reading.difference,
            reading.tolerance,
            reading.outcome,
            position,
            restates,
        )
        self._weighings.append((reading.code, values))

    # -- writing ---------------------------------------------------------------------------------

    def flush(self) -> None:
        """Write vouchers, then containers, then their weighings and entries."""
        self.ledger.flush()
        new = [row for row in self.by_code.values() if row.pk is None]
        if new:
            Container.objects.bulk_create(new, batch_size=500)
            self._dirty -= {row.code for row in new}
        changed = [self.by_code[code] for code in sorted(self._dirty)]
        with connection.cursor() as cursor:
            if changed:
                columns = STATE + BESIDES
                cursor.executemany(
                    f"UPDATE inventory_container SET {', '.join(f'{name} = %s' for name in columns)} WHERE id = %s",
                    [(*(_stored(getattr(row, name)) for name in columns), row.pk) for row in changed],
                )
            if self._weighings:
                cursor.executemany(
                    "INSERT INTO inventory_weighing (container_id, voucher_id, line, day, scale_id, role, gross, tare, "
                    "book, net, difference, tolerance, outcome, position, restates_id) "
                    "VALUES (%s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s)",
                    [(self.by_code[code].pk, *values) for code, values in self._weighings],
                )
            if self._entries:
                cursor.executemany(
                    'INSERT INTO inventory_containerentry (container_id, voucher_id, "on", position, ops) '
                    "VALUES (%s, %s, %s, %s, %s)",
                    [(self.by_code[code].pk, *values) for code, values in self._entries],
                )
        self._dirty.clear()
        self._weighings.clear()
        self._entries.clear()


def _of_besides(row: Container) -> tuple:
    return tuple(getattr(row, name) for name in BESIDES)


def readings_said(readings: Iterable[Reading]) -> list[list]:
    """Readings as the voucher's detail holds them: the fields of `Reading` in their order."""
    return [list(reading) for reading in readings]


def _stored(value: object) -> object:
    return value.isoformat() if isinstance(value, dt.date) else value
