"""Loading a log: all of it in one transaction, or nothing.

Checking is loading that is rolled back: every event runs through the same rules, a refused row is left out and the
next ones still run, so that all faults are found at once (`judging.py`).
"""

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from django.db import transaction

from inventory.containers.recorder import Recorder
from inventory.ledger.actions import writing
from inventory.shop.clock import today
from shopledger.logbook.doubting import Answers, Doubts, mark_of
from shopledger.logbook.events import Events
from shopledger.logbook.folder import Fault, Faults, Folder, read
from shopledger.logbook.judging import Judge
from shopledger.logbook.models import LoadedLog
from shopledger.logbook.names import Names
from shopledger.logbook.register import Register

KINDS = {
    "opening.csv": "opening",
    "receipts.csv": "receipt",
    "moves.csv": "move",
    "decants.csv": "decant",
    "jobs.csv": "job",
    "regrades.csv": "regrade",
    "counts.csv": "count",
    "shipments.csv": "shipment",
    "losses.csv": "loss",
    "retirements.csv": "retirement",
    "tares.csv": "tare",
    "apart.csv": "act on gas kept apart",
}


class LogRefused(Exception):
    """The log has faults, or was loaded before. faults: `file:line: column: message`, in order; found: the same apart.
    unjudged: how many rows lean on one at fault, so that they could not be judged to the end."""

    def __init__(self, message: str, found: Iterable[Fault] = (), unjudged: int = 0):
        super().__init__(message)
        self.found, self.unjudged = sorted(found), unjudged
        self.faults = [str(fault) for fault in self.found]


class LogAsked(LogRefused):
    """The log has no fault, and says what can be and hardly is. found: the questions; mark: stands for their list."""

    def __init__(self, found: Iterable[Fault], would: str):
        found = list(found)
        are = "is one question" if len(found) == 1 else f"are {len(found)} questions"
        super().__init__(f"There {are}, and no fault; nothing was loaded. It would load {would}.", found)
        self.mark = mark_of(found)


@dataclass(frozen=True)
class Source:
    """Where rows come from. answers: to what is asked about them; None where all was asked before.

    Of those that stand in no folder, e.g. in somebody's spreadsheet: called: the word for it. sha256: of
    the file. names: told of everyone named before an event is read, and may add to them; loaded: told of what was
    loaded, in the same transaction."""

    called: str = "log"
    answers: Answers | None = None
    sha256: str = ""
    names: Callable[[Names], None] = lambda names: None
    loaded: Callable[[LoadedLog], None] = lambda log: None


@dataclass
class Loaded:
    """What was loaded, or (checked only) what would be."""

    events: int
    kinds: Counter
    number: int
    digest: str
    dated_today: int

    @property
    def said(self) -> str:
        """How many of each kind, in words."""
        kinds = (
            ", ".join(f"{count} {_plural(kind) if count != 1 else kind}" for kind, count in self.kinds.items())
            or "none"
        )
        if not self.dated_today:
            return kinds
        return f"{kinds}; {self.dated_today} of a sealed day {'is' if self.dated_today == 1 else 'are'} dated today"


def load(
    path: Path,
    *,
    check_only: bool = False,
    progress: Callable[[int, int], None] | None = None,
    answers: Answers | None = None,
) -> Loaded:
    """Load the log of a folder. Raises LogRefused, LogAsked where it asks what neither `answers` nor the folder's own
    tell; OSError where the folder cannot be read."""
    faults = Faults()
    folder = read(path, faults)
    source = Source(answers=(answers or Answers()).beside(path, faults).are_of(folder.digest))
    return load_rows(folder, faults, source, check_only=check_only, progress=progress)


def load_rows(
    folder: Folder,
    faults: Faults,
    source: Source | None = None,
    *,
    check_only: bool = False,
    progress: Callable[[int, int], None] | None = None,
) -> Loaded:
    """Load rows that were read already, by the same rules as a folder's. faults: found while they were read. Where no
    row is about the shop, the shop as it stands is meant. Raises LogRefused."""
    source = source or Source()
    if LoadedLog.objects.filter(digest=folder.digest).exists():
        raise LogRefused(f"This {source.called} was loaded before; nothing was changed.")
    with transaction.atomic(), writing() as ledger:
        recorder = Recorder(ledger)
        first = ledger.number
        holdings = recorder.load_all()
        known = {code: held.is_oil for code, held in holdings.containers.items()}
        asks = None if source.answers is None else Doubts(faults, source.answers)
        if asks:
            asks.names(folder)
            asks.papers(folder)
        names = Names(folder, faults, today())
        source.names(names)
        register = Register(names)
        register.before()
        events = Events(folder, names, faults, today(), known)
        judge = Judge(recorder, faults, events.unheard, asks)
        kinds = _run(events, judge, progress)
        if faults:
            unjudged = len(judge.leaning | events.leaning)
            raise LogRefused(_refusal(len(faults.found), unjudged), faults.found, unjudged)
        total = sum(kinds.values())
        if asks and asks.questions:
            raise LogAsked(asks.questions, f"{total} events: {Loaded(total, kinds, 0, '', 0).said}")
        recorder.flush()
        events.jobs.write(recorder)
        _then(register, events, faults)
        log = LoadedLog.objects.create(
            digest=folder.digest,
            file_sha256=source.sha256,
            events=total,
            confirmed=asks.confirmed if asks else [],
            first_voucher=first + 1 if ledger.number > first else None,
            last_voucher=ledger.number or None,
        )
        source.loaded(log)
        ledger.end()
        loaded = Loaded(total, kinds, ledger.number, ledger.digest, recorder.dated_today)
        if check_only:
            transaction.set_rollback(True)
    return loaded


def _then(register: Register, events: Events, faults: Faults) -> None:
    """What is told of events once they are written. Raises LogRefused."""
    register.after(events.zone)
    if faults:
        raise LogRefused(_refusal(len(faults.found), 0), faults.found)


def _plural(kind: str) -> str:
    first, _, rest = kind.partition(" ")
    return f"{first}es" if first.endswith("s") else f"{first}s {rest}".strip()


def _refusal(count: int, unjudged: int) -> str:
    said = "There is one fault" if count == 1 else f"There are {count} faults"
    if not unjudged:
        return f"{said}; nothing was loaded. Every other row was judged."
    lean = "One row leans" if unjudged == 1 else f"{unjudged} rows lean"
    return (
        f"{said}; nothing was loaded. {lean} on one at fault, for the same container or job: what depends on it could "
        "not be judged. Every other row was."
    )


def _run(events: Events, judge: Judge, progress: Callable[[int, int], None] | None) -> Counter:
    kinds: Counter = Counter()
    for count, event in enumerate(events.found):
        if progress and count % 500 == 0:
            progress(count, len(events.found))
        if judge.judge(event):
            kinds[KINDS[event.row.file]] += 1
    return kinds
