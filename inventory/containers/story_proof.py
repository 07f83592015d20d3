"""What `verify` proves of containers' stories: told anew, the standing acts come to what is posted between any two
accounts, to what each weighing says by now, and to what is kept of each container.

A story is told alone, some hundred containers at a time, so that memory follows no ledger's length. One that took
something in from another container waits until that one's story is told; those that wait for each other are told
together in the end.
"""

import datetime as dt
import json
from collections.abc import Collection, Iterator, Mapping

from django.db import connection
from django.db.models import Q

from inventory.containers.entries import OnRecord
from inventory.containers.events import CONTAINER as CONTAINER_WORD
from inventory.containers.events import Placed, entry_ops, placed, read
from inventory.containers.models import Container
from inventory.containers.replay import Flows, Told, tell
from inventory.containers.states import JUDGED, ContainerState, judgement
from inventory.ledger.accounts import HOLDING, Spot
from inventory.ledger.models import Voucher
from inventory.ledger.verify import Proof
from inventory.text.refusal import Refused

SPAN = 500  # containers at a time
Halves = dict[tuple[int, int], tuple[Spot, int]]


def check_stories(proof: Proof) -> None:
    """Name each container whose story comes to something else than what is kept of it."""
    halves: Halves = {}
    told: set[str] = set()
    waiting = [pk for pks in _spans() for pk in _tell_alone(proof, pks, halves, told)]
    while waiting:
        spans = (waiting[at : at + SPAN] for at in range(0, len(waiting), SPAN))
        still = [pk for pks in spans for pk in _tell_alone(proof, pks, halves, told)]
        if len(still) == len(waiting):
            _tell_together(proof, still, halves)
            return
        waiting = still


def _spans() -> Iterator[list[int]]:
    last = 0
    while found := list(Container.objects.filter(pk__gt=last).order_by("pk").values_list("pk", flat=True)[:SPAN]):
        yield found
        last = found[-1]


def _tell_alone(proof: Proof, pks: list[int], halves: Halves, told: set[str]) -> list[int]:
    """Prove those of the containers whose stories can be told by now; returns the others."""
    kept, waiting = _kept(proof, pks), []
    for row in kept.rows if kept else ():
        ops = kept.stories[row.code]
        if any(source not in told for one in ops for source in _sources(one)):
            waiting.append(row.pk)
            continue
        try:
            kept.prove(proof, row, tell(ops, {row.code}, halves))
        except (Refused, ValueError, TypeError, LookupError) as error:
            proof.fault(f"The story of {row.code} cannot be told: {error}", row.last_voucher_id)
        told.add(row.code)
    return waiting


def _sources(one: Placed) -> list[str]:
    """The containers of whose stories an op takes something in."""
    filled = one.op.verb == "fill" and one.op.cls == CONTAINER_WORD
    return one.op.others if filled or one.op.verb == "residue" else []


def _tell_together(proof: Proof, pks: list[int], halves: Halves) -> None:
    kept = _kept(proof, pks)
    if kept is None:
        return
    try:
        told = tell([one for ops in kept.stories.values() for one in ops], kept.stories.keys(), halves)
    except (Refused, ValueError, TypeError, LookupError) as error:
        proof.fault(f"The stories of {', '.join(sorted(kept.stories)[:5])} cannot be told: {error}")
        return
    for row in kept.rows:
        kept.prove(proof, row, told)


def _kept(proof: Proof, pks: list[int]) -> "_Kept | None":
    """None where what was posted at the accounts of some of the containers cannot be read."""
    try:
        return _Kept(proof, pks)
    except (ValueError, TypeError, LookupError) as error:
        codes = list(Container.objects.filter(pk__in=pks).order_by("code").values_list("code", flat=True))
        proof.fault(f"What was posted for {codes[0]}, or another one up to {codes[-1]}, cannot be read: {error!r}.")
        return None


class _Kept:
    """What is kept of some containers: their rows and acts, what is posted, and what their weighings say by now."""

    def __init__(self, proof: Proof, pks: list[int]):
        found = Container.objects.filter(pk__in=pks).order_by("pk")
        self.rows = list(found.select_related("substance", "location", "account", "last_scale"))
        codes = {row.pk: row.code for row in self.rows}
        self.stories: dict[str, list[Placed]] = {code: [] for code in codes.values()}
        for pk, voucher, position, ops in _rows(ENTRIES, codes):
            code = codes[pk]
            try:
                self.stories[code] += entry_ops(code, voucher, position, ops)
            except (ValueError, TypeError, LookupError):
                proof.fault(f"What is kept of the acts of voucher {voucher} on {code} cannot be read.", voucher)
        self.posted = _by_owner(OnRecord().posted(self.stories), self.stories)
        self.weighings = _weighings(codes, self.stories)
        self._latest = {code: max((one.voucher for one in ops), default=0) for code, ops in self.stories.items()}
        later = [row.last_voucher_id for row in self.rows if row.last_voucher_id != self._latest[row.code]]
        self._again = _again(later)
        self._arrivals = _arrivals([row.arrival_id for row in self.rows if row.void])

    def prove(self, proof: Proof, row: Container, told: Told) -> None:
        """told: by which the container's story was told, alone or with others."""
        code, last = row.code, row.last_voucher_id
        true = _by_owner(told.flows, [code])[code]
        if true != self.posted[code]:
            source, target = min(pair for pair in {*true, *self.posted[code]} if _differ(true, self.posted[code], pair))
            pair = source, target
            proof.fault(
                f"From {source.key} to {target.key} the acts that stand come to {true.get(pair, 0)}, and "
                f"{self.posted[code].get(pair, 0)} is posted.",
                last,
            )
        for place, values in self.weighings[code].items():
            reading = told.readings.get(place)
            if reading is None or judgement(reading) != values:
                what = f"Weighing {place[1]} of voucher {place[0]}"
                proof.fault(f"{what} says something else than the story of {code}.", place[0])
        # Where something was put right, what followed was recorded then: a reversal, an act put in, a restatement.
        if last != self._latest[code] and not (last in self._again and last > self._latest[code]):
            proof.fault(f"What was recorded last for {code} is not voucher {last}.", last)
        state = told.states.get(code)
        if state is None and not row.void:
            proof.fault(f"Nothing that stands brought {code} in, and it is kept as being here.", last)
            return
        state = state or self._as_it_came(row)
        if state != row.held:
            differs = _difference(state, row.held) if state else "the entry that it came by is not there"
            proof.fault(f"What is kept of {code} is not what its story comes to: {differs}.", last)

    def _as_it_came(self, row: Container) -> ContainerState | None:
        """How a container stands whose arrival was taken back: as it came, without content. None: it never came so."""
        try:
            detail, day = self._arrivals[row.arrival_id]
            event = read(json.loads(detail)["event"])
            own = [one for one in placed(event, row.arrival_id) if one.op.code == row.code]
            state = tell(own, {row.code}).states[row.code]
        except (Refused, ValueError, TypeError, LookupError):
            return None
        state.arrival, state.balance, state.last = row.arrival_id, 0, ""
        state.void, state.opened_on, state.retired_on = True, None, max(day, state.arrived_on)
        return state


def _again(numbers: list[int | None]) -> set[int]:
    """Those of the vouchers that put something right."""
    found = Voucher.objects.filter(Q(kind__in=["reversal", "restatement"]) | Q(first_revision__isnull=False))
    return set(found.filter(number__in=numbers).values_list("number", flat=True))


def _arrivals(numbers: list[int | None]) -> dict[int, tuple[str, dt.date]]:
    """By voucher what it says and the day on which it was taken back."""
    found = Voucher.objects.filter(number__in=numbers, reversed_by__isnull=False)
    return {number: (detail, day) for number, detail, day in found.values_list("number", "detail", "reversed_by__day")}


def _differ(true: Flows, posted: Flows, pair: tuple) -> bool:
    return true.get(pair, 0) != posted.get(pair, 0)


def _difference(state: ContainerState, held: ContainerState) -> str:
    names = [name for name in ContainerState.__slots__ if getattr(state, name) != getattr(held, name)]
    return ", ".join(
        f"{name.replace('_', ' ')} {_shown(getattr(held, name))}, true {_shown(getattr(state, name))}" for name in names
    )


def _shown(value: object) -> str:
    return "blank" if value in (None, "") else str(value) if isinstance(value, dt.date) else repr(value)


def _by_owner(flows: Mapping, codes: Collection[str]) -> dict[str, Flows]:
    """Flows by the container in whose story they are proved: the one that took in, or, where that is outside, the one
    that gave."""
    found: dict[str, Flows] = {code: {} for code in codes}
    for (source, target), quantity in flows.items():
        owner = target if target.cls in HOLDING else source
        if quantity and owner.name in found and owner.cls in HOLDING:
            found[owner.name][source, target] = quantity
    return found


Places = dict[tuple[int, int], tuple]  # by voucher and line


def _weighings(codes: Mapping[int, str], stories: Mapping[str, list[Placed]]) -> dict[str, Places]:
    """By container, voucher and line of the first of its kind: what it says by now. codes: of the containers, by their
    ids. What was weighed for a voucher that was taken back says nothing any more, and has no part in a story."""
    standing = {code: {one.voucher for one in ops} for code, ops in stories.items()}
    found: dict[str, Places] = {code: {} for code in stories}
    for row in _rows(WEIGHED, codes):
        code, voucher = codes[row[1]], row[2]
        if row[0] is None and voucher in standing[code]:
            found[code][voucher, row[3]] = row[4:]
    for pk, voucher, line, *values in _rows(WEIGHED_AGAIN, codes):  # the latest counts
        if voucher in standing[codes[pk]]:
            found[codes[pk]][voucher, line] = tuple(values)
    return found


def _rows(sql: str, containers: Collection[int]) -> list[tuple]:
    with connection.cursor() as cursor:
        cursor.execute(sql.format(marks=", ".join(["%s"] * len(containers))), list(containers))
        return cursor.fetchall()


ENTRIES = """
SELECT container_id, voucher_id, position, ops FROM inventory_containerentry WHERE container_id IN ({marks})
"""
WEIGHED = f"""
SELECT restates_id, container_id, voucher_id, line, {", ".join(JUDGED)} FROM inventory_weighing
WHERE container_id IN ({{marks}})
"""
WEIGHED_AGAIN = f"""
SELECT w.container_id, f.voucher_id, f.line, {", ".join(f"w.{name}" for name in JUDGED)}
FROM inventory_weighing w JOIN inventory_weighing f ON f.id = w.restates_id
WHERE w.container_id IN ({{marks}}) ORDER BY w.voucher_id, w.line
"""
