"""Acts at random, and corrections of them at random, by the program's own verbs; held after each step against
`tests.plain.Plain`, which is told only what stands then.

The clock is the test's own: it ticks at each look, and a day passes when it is told to.
"""

import datetime as dt
import random
import re
import sys
import uuid
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from zoneinfo import ZoneInfo

from django.db import connection, transaction
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, rule

from inventory.containers.actions import correct_tare, count, decant, move, regrade, retire, take_back
from inventory.containers.entries import OrderAsked
from inventory.containers.models import Container
from inventory.kept import actions as kept
from inventory.ledger.accounts import AccountClass
from inventory.ledger.models import ChainHead, Voucher
from inventory.ledger.seals import seal
from inventory.ledger.verify import verify
from inventory.parties.actions import supplier_called
from inventory.receiving.actions import Arrival, receive
from inventory.shipping.actions import ship
from inventory.text.refusal import Refused
from jobs.drafts.actions import enter_line, remove_line, start_job
from jobs.drafts.models import Job
from jobs.signing.actions import NotSignable, correct_job, sign_job
from shopledger.reporting.output import as_csv, make
from shopledger.reporting.report import Period
from shopledger.reports.registry import REPORTS
from tests.plain import GAS, Impossible, Plain

G = 1000
ZONE = ZoneInfo("America/Denver")
BEGIN = dt.datetime(2026, 3, 29, 16, tzinfo=dt.UTC)
OWN, FOUND = "O1", "F1"  # a customer's own cylinder, and one that was found
CYLINDERS, RECOVERY, MACHINE, CANS = ["C1", "C2", "C3"], ["R1", "R2"], "M", ["K1", "K2"]
EMPTY = ["R2", MACHINE]
KIND = dict.fromkeys(CYLINDERS, "refillable") | dict.fromkeys(RECOVERY, "recovery") | {MACHINE: "machine"}
KIND |= dict.fromkeys(CANS, "can")
GRADE = dict.fromkeys([*CYLINDERS, *CANS], "virgin") | dict.fromkeys(RECOVERY, "recovered") | {MACHINE: "recycled"}
OFTEN_USED = ["C1", "C2", "R1"] * 2
PLACES = ["Store", "Van", "Bay"]
UNITS = ["A", "B"]
OWNERS = {"A": "", "B": ""}  # the code of the customer of each unit
UNIT_SAID: dict = {}  # the code of a unit, and how it is called here

# Where a grade goes is asked at entry alone and is no matter of stories: these are pairs that are never asked.
DECANTS = [(a, b) for a in CYLINDERS for b in CYLINDERS if a != b]
DECANTS += [(OWN, "R1"), (OWN, "R2"), (FOUND, "R1"), ("R1", FOUND)]
DECANTS += [("R1", "R2"), ("R2", "R1"), ("R1", MACHINE), ("R2", MACHINE), ("C1", "R1"), ("K1", "C1"), ("C2", "K2")]
RETIREMENTS = [(code, into) for code in [*CYLINDERS, *CYLINDERS, *CANS] for into in ["", "C1", "R1", "R2"]]
RETIREMENTS += [(code, into) for code in RECOVERY for into in ["", *RECOVERY]]


# A few weights over and over, so that acts meet in one container and differ by little, by much and not at all.
def grams(rnd):
    return rnd.randrange(13) * 25 * G if rnd.random() < 0.5 else rnd.randrange(301) * G


def gross(rnd):
    return rnd.randrange(4, 29) * 25 * G if rnd.random() < 0.5 else rnd.randrange(90, 721) * G


def less(rnd):
    before = gross(rnd)
    return before, max(before - grams(rnd), 50 * G)


def drawn(rnd):
    """By two weights, or by an amount."""
    return (*less(rnd), None) if rnd.random() < 0.8 else (None, None, grams(rnd))


def put_in(rnd):
    return (*reversed(less(rnd)), None) if rnd.random() < 0.8 else (None, None, grams(rnd))


def charge(rnd):
    return "charge", rnd.choice([*OFTEN_USED, *CYLINDERS, MACHINE, *CANS, OWN]), drawn(rnd)


def recover(rnd):
    return "recover", rnd.choice(["R1", *RECOVERY, MACHINE, FOUND]), put_in(rnd)


def line(rnd):
    return rnd.choice([charge, charge, recover])(rnd)


def arrival(rnd):
    return rnd.choice([300, 500, 600]), rnd.choice([None, 100 * G, 100 * G, 103 * G])


def counted(rnd):
    return {
        rnd.choice([*OFTEN_USED, *CYLINDERS, *RECOVERY, *CANS, OWN, FOUND]): gross(rnd)
        for _ in range(rnd.choice([1, 2, 2]))
    }


KEPT = [*OFTEN_USED, *CYLINDERS, *RECOVERY, OWN, FOUND]
SAID = {  # what may be said of each kind of act
    "receipt": lambda rnd: [arrival(rnd) for _ in KIND],
    "count": counted,
    "decant": lambda rnd: (rnd.choice(DECANTS), drawn(rnd)),
    "move": lambda rnd: (rnd.choice(KEPT), rnd.choice(PLACES)),
    "regrade": lambda rnd: (rnd.choice([*CYLINDERS, *CANS]), rnd.choice(["virgin", "reclaimed"])),
    "shipment": lambda rnd: (rnd.choice(KEPT), rnd.choice([None, grams(rnd)]), rnd.random() < 0.3),
    "retirement": lambda rnd: rnd.choice(RETIREMENTS),
    "tare": lambda rnd: (rnd.choice(KEPT), rnd.choice([90, 97, 100, 110]) * G),
    "taking-in": lambda rnd: (OWN, rnd.choice(UNITS), gross(rnd), rnd.choice([90, 97, 100]) * G),
    "setting-apart": lambda rnd: (rnd.choice(["R2", "R2", "R2", "R1", OWN]), rnd.choice([*UNITS, *UNITS, ""])),
    "giving-back": lambda rnd: (rnd.choice([OWN, "R2"]), rnd.choice(UNITS), rnd.random() < 0.6),
    "found": lambda rnd: (FOUND, gross(rnd)),
    "identification": lambda rnd: (FOUND, rnd.choice([90, 97, 150, 300]) * G),
}


def lines_of(nets):
    """What comes in first: (code, kind, net, tare, grade) each. One recovery cylinder and the machine come empty, and
    nobody says for what."""
    return [
        (code, KIND[code], None if code in EMPTY else net * G, 9000 * G if code == MACHINE else tare, GRADE[code])
        for code, (net, tare) in zip(KIND, nets, strict=True)
    ]


OF_ONE = {"decant", "move", "regrade", "shipment", "tare", "setting-apart", "giving-back"}
VERBS = {"retirement": "retire", "tare": "new_tare", "taking-in": "bring", "found": "find"}
VERBS |= {"setting-apart": "keep", "giving-back": "give", "identification": "identify"}
COMES = {"receipt", "taking-in", "found"}


def pieces_of(kind, said):
    """What Plain is told of an act of the office."""
    if kind == "receipt":
        return [("come", line) for line in lines_of(said)]
    if kind == "count":
        return [("count", code, gross) for code, gross in said.items()]
    if kind == "decant":
        return [("decant", *said[0], *said[1], {})]
    if kind == "shipment":
        code, quantity, goes = said
        return [("ship", code, quantity), *([("retire", code, "")] if goes else [])]
    return [(VERBS.get(kind, kind), *said)]


def codes_of(pieces):
    found = set()
    for verb, *said in pieces:
        named = [said[0][0]] if verb == "come" else said[:2] if verb in {"decant", "retire"} else said[:1]
        found |= {code for code in named if code}
    return found


def do(kind, said, head):
    """The program's own verb."""
    if kind == "receipt":
        lines = [
            Arrival(kind, "" if net is None else GAS, False, grade, net or 0, 1, "Store", code, tare_mg=tare)
            for code, kind, net, tare, grade in lines_of(said)
        ]
        return receive(lines=lines, supplier=supplier_called("Acme"), **head)
    if kind == "count":
        return count(readings=said, **head)[0]
    if kind == "decant":
        (source, into), amount = said
        return decant(source=source, into=into, **weights(amount), **head)
    if kind == "move":
        return move(codes=[said[0]], location=said[1], **head)
    if kind == "regrade":
        return regrade(code=said[0], grade=said[1], **head)
    if kind == "shipment":
        code, quantity, goes = said
        return ship(
            parcels={code: quantity}, purpose="reclaim", party=supplier_called("Acme"), containers_go=goes, **head
        )
    if kind == "retirement":
        return retire(codes=[said[0]], residue_into=said[1], **head)
    if kind in OF_KEPT:
        return OF_KEPT[kind](head, *said)
    return correct_tare(code=said[0], tare_mg=said[1], **{"note": "weighed empty", **head})


def took_in(head, code, owner, gross, tare):
    said = {"kind": "refillable", "substance": GAS, "grade": "virgin", "location": "Store", "code": code}
    return kept.take_in(owner=OWNERS[owner], brought=kept.Brought(**said, gross_mg=gross, tare_mg=tare), **head)


def identified(head, code, tare):
    return kept.identify(code=code, said=kept.Identified(GAS, tare, "a test"), **head)


def found(head, code, gross):
    return kept.find(kind="recovery", code=code, gross_mg=gross, location="Store", found_where="here", **head)[0]


OF_KEPT = {
    "taking-in": took_in,
    "setting-apart": lambda head, code, owner: kept.keep_for(code=code, owner=OWNERS.get(owner, ""), **head),
    "giving-back": lambda head, code, owner, stays: kept.give_back(code=code, owner=OWNERS[owner], stays=stays, **head),
    "found": found,
    "identification": identified,
}


def weights(amount):
    return {
        name: value for name, value in zip(("before", "after", "quantity"), amount, strict=True) if value is not None
    }


class Otherwise(Exception):
    """Refused for something that stories do not know of."""


# What is asked of an entry by itself, and not when its story is told again.
AT_ENTRY = re.compile("is graded|would spoil|is left in .* cannot stay in it|leaves whole|nothing to change")


@dataclass
class Entry:
    """A line of a job as the test remembers it. at: when it was entered."""

    key: uuid.UUID
    said: tuple
    at: dt.datetime


@dataclass
class Draft:
    job: Job
    unit: str
    entries: list[Entry] = field(default_factory=list)
    lost: int = 0


@dataclass(frozen=True)
class Standing:
    """An act that stands. first: the voucher that stood first in its place. numbers: its place among acts of one
    moment. pieces: what Plain is told, by its place in the order of all."""

    kind: str
    voucher: int
    first: int
    day: dt.date
    at: str
    numbers: tuple
    said: object
    pieces: tuple

    @property
    def codes(self):
        return codes_of(piece for _, piece in self.pieces)


class Clock:
    def __init__(self):
        self.at = BEGIN

    def __call__(self):
        self.at += dt.timedelta(milliseconds=1)
        return self.at

    @property
    def day(self):
        return self.at.astimezone(ZONE).date()

    def pass_days(self, days):
        self.at = dt.datetime.combine(self.day + dt.timedelta(days), dt.time(9), ZONE).astimezone(dt.UTC)


def said_at(at):
    return f"{at.astimezone(dt.UTC):%Y-%m-%dT%H:%M:%S.%f}Z"


def start(day):
    return said_at(dt.datetime.combine(day, dt.time.min, ZONE))


OFTEN = ["count", "decant"] * 5 + ["move", "regrade", "tare"] * 2 + ["shipment", "retirement"]
OFTEN += ["taking-in", "found", "setting-apart"] + ["identification", "giving-back"] * 2
RATHER = {"receipt": 0.7, "job": 0.85}
BEGINNING = ["act"] * 7 + ["job"] * 2 + ["begin a job", "go on with a job", "correct", "a day passes"]
STEPS = ["correct"] * 28 + ["there and back"] * 4 + ["take back", "job", "job", "act", "act", "act", "act"]
STEPS += ["begin a job", "go on with a job", "a day passes", "seal"]


# Hypothesis draws a seed for each step, and leaves out whole steps of a run that fails.
SEED = st.integers(0, 2**64 - 1)


class Acting(RuleBasedStateMachine):
    """seen: how often what happened, over all runs. clock, technician, units: of the test. prove: after each step, not
    only at the end of a run. salt: makes other runs of the same seeds."""

    seen: Counter = Counter()
    clock: Clock
    technician: object
    units: dict
    prove = True
    salt = ""

    def __init__(self):
        super().__init__()
        self.atomic = transaction.atomic()
        self.atomic.__enter__()
        self.clock.at = BEGIN
        self.rules, self.acts, self.drafts, self.sealed, self.reasons = 0, [], [], {}, {}

    def teardown(self):
        try:
            if sys.exc_info()[0] is None:  # what went wrong before is the thing to be told
                assert verify().faults == []
        finally:
            transaction.set_rollback(True)
            self.atomic.__exit__(None, None, None)

    @initialize(seed=SEED)
    def come(self, seed):
        rnd = random.Random(f"{self.salt} {seed}")
        self.act("receipt", SAID["receipt"](rnd), self.clock.day, rnd)
        for kind in ("taking-in", "found", "setting-apart"):
            self.act(kind, SAID[kind](rnd), self.clock.day, rnd)
        self.clock.pass_days(rnd.choice([1, 1, 2, 3]))

    @rule(seed=SEED)
    def step(self, seed):
        self.rules += 1
        rnd = random.Random(f"{self.salt} {seed} {self.rules}")  # Hypothesis likes to draw the same small numbers
        step = rnd.choice(STEPS if len(self.acts) > 10 else BEGINNING)
        getattr(self, step.replace(" ", "_") + "_")(rnd)

    # -- steps -----------------------------------------------------------------------------------------

    def a_day_passes_(self, rnd):
        self.clock.pass_days(rnd.choice([1, 1, 2, 4]))

    def seal_(self, rnd):
        through = dt.date(2026, 3, 31)
        if self.clock.day > through and not self.sealed:
            seal(through, "owner")
            self.sealed[through] = usage(through)

    def act_(self, rnd):
        kind = rnd.choice(OFTEN)
        self.act(kind, SAID[kind](rnd), self.some_day(rnd), rnd)

    def job_(self, rnd):
        self.sign(self.draft(rnd), rnd)

    def begin_a_job_(self, rnd):
        self.drafts.append(self.draft(rnd))

    def go_on_with_a_job_(self, rnd):
        if not self.drafts:
            return self.begin_a_job_(rnd)
        draft = self.drafts.pop(rnd.randrange(len(self.drafts)))
        if rnd.random() < 0.5:
            self.sign(draft, rnd)
        else:
            self.enter(draft, rnd)
            self.drafts.append(draft)
        return None

    def correct_(self, rnd):
        if not self.acts:
            return self.act_(rnd)
        old = min((self.one_of(rnd) for _ in range(2)), key=lambda one: one.first)  # rather of what was built upon
        if old.kind == "job":
            return self.correct_job(old, rnd)
        day = old.day if old.kind in COMES or rnd.randint(0, 3) else self.some_day(rnd)
        return self.act(old.kind, self.other(old, rnd), day, rnd, old)

    def there_and_back_(self, rnd):
        """A correction that is corrected back leaves nothing."""
        old, before = self.one_of(rnd, *SAID), net_flows()
        if old is None:
            return
        there = self.act(old.kind, self.other(old, rnd), old.day, rnd, old)
        if there is not None:
            back = self.act(old.kind, old.said, old.day, rnd, there)
            assert back is not None and net_flows() == before

    def take_back_(self, rnd):
        old = self.one_of(rnd, *SAID)
        if old is None or (old.kind in COMES and rnd.randint(0, 4)):
            return
        self.attempt(
            lambda: take_back(old.voucher, by="office", note="it was not", key=str(uuid.uuid4())),
            lambda number: [one for one in self.acts if one is not old],
            "taken back",
        )

    # -- choosing ----------------------------------------------------------------------------------------

    def one_of(self, rnd, *kinds):
        """One of the acts that stand."""
        known = [one for one in self.acts if one.kind in kinds or not kinds]
        return max(known, key=lambda one: (RATHER.get(one.kind, 1) * rnd.random(), one.first)) if known else None

    def some_day(self, rnd):
        """Mostly today."""
        return self.clock.day - dt.timedelta(rnd.choice([0, 0, 0, 0, 1, 2, 5]))

    def other(self, old, rnd):
        """What was meant instead: another figure, or something else altogether."""
        said = SAID[old.kind](rnd)
        if old.kind == "receipt":
            which = rnd.randrange(len(said))
            return [new if n == which else one for n, (one, new) in enumerate(zip(old.said, said, strict=True))]
        if old.kind == "count" and rnd.randint(0, 2):
            return {code: gross(rnd) for code in old.said}
        if old.kind in OF_ONE and rnd.randint(0, 2):
            return (old.said[0], *said[1:])
        return said

    # -- acts of the office ---------------------------------------------------------------------------------

    def act(self, kind, said, day, rnd, old=None):
        """Do it, or put it in the place of an old one; returns what stands then, None where it was refused."""
        pieces = pieces_of(kind, said)
        head = {"day": day, "by": "office"}
        if old is not None:
            head |= {"corrects": old.voucher, "why": "it was otherwise"}
        codes = codes_of(pieces) | (old.codes if old else set())
        ask = lambda: do(kind, said, {**head, "key": ""})  # noqa: E731
        follows, at, numbers = self.place(day, codes, rnd, ask, old, kind in COMES)
        if follows is not None:
            head["follows"] = follows
        made = []

        def then(number):
            own = numbers(number)
            first = old.first if old else number
            told = tuple(((day, at, own, n), piece) for n, piece in enumerate(pieces))
            made.append(Standing(kind, number, first, day, at, own, said, told))
            return [*(one for one in self.acts if one is not old), made[-1]]

        done = self.attempt(
            lambda: do(kind, said, {**head, "key": str(uuid.uuid4())}), then, "corrected" if old else ""
        )
        self.seen[kind] += bool(done)
        return made[-1] if done else None

    def place(self, day, codes, rnd, ask, old=None, comes_in=False, times=()):
        """Where an act stands: what it is told to follow, its moment, and its numbers by the number of its voucher.
        Of an earlier day, all that touched its containers then are offered, and one is chosen."""
        own = lambda number: (old.first if old else number,)  # noqa: E731
        if comes_in:
            return None, "", own
        if old is not None and old.day == day:
            return None, old.at, lambda number: old.numbers
        if times:
            return None, min(times), own
        if day == self.clock.day:
            return None, said_at(self.clock.at), own
        others = [one for one in self.acts if one.day == day and one.kind not in COMES and one is not old]
        others = [one for one in others if one.codes & codes]
        self.check_asked(ask, others)
        if not others:
            return None, start(day), own
        after = rnd.choice([None, *others])
        if after is None:
            return 0, start(day), lambda number: (-number,)
        _, at, numbers, _ = max(place for place, piece in after.pieces if codes_of([piece]) & codes)
        return after.voucher, at, lambda number: (*numbers, -number)

    def check_asked(self, ask, others):
        try:
            with transaction.atomic():
                ask()
                transaction.set_rollback(True)
        except OrderAsked as asked:
            assert {number for number, _ in asked.choices} == {0, *(one.voucher for one in others)}
            self.seen["asked"] += 1
        except (Refused, Otherwise):
            return
        else:
            assert not others, "nobody was asked when it was"

    # -- jobs ------------------------------------------------------------------------------------------------

    def draft(self, rnd):
        unit = rnd.choice(UNITS)
        said = {"unit": self.units[unit], "technician": self.technician, "by": self.technician}
        draft = Draft(start_job(day=self.some_day(rnd), key=uuid.uuid4(), **said), unit)
        for _ in range(rnd.choice([1, 2])):
            self.enter(draft, rnd)
        return draft

    def enter(self, draft, rnd, entry=None):
        """A line of a draft, new or changed. A weight that cannot be is refused at once, and is none of its lines."""
        said = line(rnd)
        key = entry.key if entry else uuid.uuid4()
        self.put(draft, key, said)

    def put(self, draft, key, said):
        action, code, amount = said
        self.clock()
        at = self.clock.at
        try:
            line = {"action": action, "container": code, **weights(amount)}
            enter_line(draft.job.pk, by=self.technician, key=key, **line)
        except Refused:
            self.seen["line refused"] += 1
            return
        known = next((one for one in draft.entries if one.key == key), None)
        if known is None:
            if draft.job.corrects_id:  # what is added to a correction was done when the line before it was
                at = max((one.at for one in draft.entries), default=draft.job.started_at)
            draft.entries.append(Entry(key, said, at))
            return
        if not draft.job.corrects_id and (known.said[1], known.said[2][0], known.said[2][2]) != (
            code,
            amount[0],
            amount[2],
        ):
            known.at = at
        known.said = said

    def signed(self, draft, day, at, own):
        """The pieces of a job, each at its line's moment; one that is not known is that of the line before. On one
        container what is further down was done later."""
        moment, latest, found, left = at, {}, [], draft.lost
        for index, entry in enumerate(draft.entries):
            action, code, (before, after, quantity) = entry.said
            if entry.at.astimezone(ZONE).date() == day:
                moment = said_at(entry.at)
            latest[code] = max(moment, latest.get(code, at))
            lost = min(left, quantity if before is None else before - after) if action == "charge" else 0
            left -= lost
            piece = ("draw", code, draft.unit, before, after, quantity, lost, {})
            if action == "recover":
                piece = ("fill", code, draft.unit, before, after, quantity, {})
            found.append(((day, latest[code], own, index), piece))
        return tuple(found)

    def sign(self, draft, rnd):
        if draft.entries:
            self.seen["jobs"] += 1
            self.post_job(draft, rnd)

    def post_job(self, draft, rnd, old=None):
        day, pieces = draft.job.day, self.signed(draft, draft.job.day, "", ())
        codes = codes_of(piece for _, piece in pieces) | (old.codes if old else set())
        times = [said_at(one.at) for one in draft.entries if one.at.astimezone(ZONE).date() == day]
        follows, at, numbers = self.place(day, codes, rnd, lambda: self.sign_now(draft, None), old, times=times)

        def then(number):
            own = numbers(number)
            first = old.first if old else number
            kept = replace_entries(draft)
            made = Standing("job", number, first, day, at, own, kept, self.signed(draft, day, at, own))
            return [*(one for one in self.acts if one is not old), made]

        return self.attempt(lambda: self.sign_now(draft, follows), then, "corrected" if old else "")

    def sign_now(self, draft, follows):
        """The number of its voucher. Every objection is answered, known ones at once."""
        try:
            with transaction.atomic():
                job = sign_job(draft.job.pk, by=self.technician, reasons=self.reasons, follows=follows)
        except NotSignable as objected:
            if any(one.refuses for one in objected.objections):
                raise Otherwise from objected
            self.reasons |= {one.key: "a test" for one in objected.objections}
            job = sign_job(draft.job.pk, by=self.technician, reasons=self.reasons, follows=follows)
        return job.voucher_id

    def correct_job(self, old, rnd):
        """A job's next revision; where it is refused nothing of it is kept."""
        before = old.said
        try:
            with transaction.atomic():
                new = correct_job(before.job.pk, by=self.technician, note="it was otherwise")
                lines = list(new.lines.all())
                entries = [replace(one, key=line.key) for one, line in zip(before.entries, lines, strict=True)]
                draft = Draft(new, before.unit, entries, before.lost)
                self.change(draft, rnd)
                if self.post_job(draft, rnd, old) is None:
                    raise Otherwise
        except Otherwise:
            pass

    def change(self, draft, rnd):
        """Another weight, another container, a line more or a line less."""
        what = rnd.choice(["weights", "weights", "weights", "container", "container", "more", "less"])
        entry = rnd.choice(draft.entries)
        said = (charge if entry.said[0] == "charge" else recover)(rnd)
        if what == "more":
            self.put(draft, uuid.uuid4(), line(rnd))
        elif what == "less" and len(draft.entries) > 1:
            remove_line(draft.job.pk, by=self.technician, key=entry.key)
            draft.entries.remove(entry)
        elif what == "container":
            self.put(draft, entry.key, (entry.said[0], said[1], entry.said[2]))
        else:
            self.put(draft, entry.key, (*entry.said[:2], said[2]))

    # -- what comes of it -------------------------------------------------------------------------------------

    def attempt(self, run: Callable[[], int], then: Callable[[int], list], how: str) -> int | None:
        """Do it, and hold it against what Plain makes of the acts that then stand. Returns the voucher's number; None
        where it was refused, and left nothing behind."""
        kept = self.kept()
        self.seen["steps"] += 1
        try:
            with transaction.atomic():
                voucher = run()
        except Refused as refused:
            assert self.kept() == kept, "a refusal left something behind"
            if AT_ENTRY.search(refused.message):
                self.seen["refused at entry"] += 1
                return None
            own = kept[0] + (2 if how == "corrected" else 1)
            told = then(own)
            assert self.told(told) is None, self.acts_said(f"refused, though it can have been: {refused}", told)
            self.seen["refused"] += 1
            self.seen["refused for another voucher"] += "Correct voucher" in refused.message
            return None
        except Otherwise:
            self.seen["refused at entry"] += 1
            return None
        acts = then(voucher)
        assert self.told(acts) is not None, self.acts_said("accepted, though it cannot have been", acts)
        self.acts = acts
        posted = set(Voucher.objects.filter(number__gt=kept[0]).values_list("kind", flat=True))
        self.seen[f"{how or 'new'}, restating" if "restatement" in posted else f"{how or 'new'}, no more"] += 1
        self.agree()
        return voucher

    def kept(self):
        head = ChainHead.objects.get()
        return head.number, head.digest, Job.objects.filter(state="signed").count()

    def told(self, acts):
        """What acts come to, told in their order; None where they cannot have been."""
        plain = Plain()
        try:
            for _, piece in in_order(acts):
                plain.tell(piece)
        except Impossible:
            return None
        return plain

    def in_words(self, found, told):
        """What differs."""
        differing = {at: (found.get(at), told.get(at)) for at in {*found, *told} if found.get(at) != told.get(at)}
        return self.acts_said(f"(program, plain): {differing}", self.acts)

    def acts_said(self, what, acts):
        return "\n".join([what, *map(str, in_order(acts)), f"last: {acts[-1]}" if acts else "nothing stands"])

    def agree(self):
        """Between any two accounts, in each container, in the proof, and in what is sealed."""
        plain = self.told(self.acts)
        rows = Container.objects.select_related("account", "location").filter(void=False)
        states = {row.code: (row.content, row.tare_mg, row.location.name, row.grade) for row in rows}
        known = {c: (plain.holds[c], plain.tare[c], plain.place[c], plain.grade[c]) for c in plain.holds}
        assert states == known, self.in_words(states, known)
        assert {row.code for row in rows if row.retired_on} == plain.gone
        flows, told = net_flows(), {pair: quantity for pair, quantity in plain.flows.items() if quantity}
        assert flows == told, self.in_words(flows, told)
        for through, body in self.sealed.items():
            assert usage(through) == body, f"the report sealed through {through} changed"
        if self.prove:
            assert verify().faults == []


def in_order(acts):
    return sorted((one for act in acts for one in act.pieces), key=lambda one: one[0])


def replace_entries(draft):
    return replace(draft, entries=[replace(one) for one in draft.entries])


def usage(through):
    return as_csv(make(REPORTS["usage"], Period(dt.date(2026, 1, 1), through), None, "owner"))


def net_flows():
    """Net mg between any two accounts, each as Plain names it."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT s.cls, s.name, s.location, s.grade, s.owner, t.cls, t.name, t.location, t.grade, t.owner, "
            "m.reversal, SUM(m.quantity) FROM inventory_movement m JOIN inventory_account s ON s.id = m.source_id "
            "JOIN inventory_account t ON t.id = m.target_id GROUP BY 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11"
        )
        rows = cursor.fetchall()
    found: Counter = Counter()
    for row in rows:
        source, target, reversal, quantity = row[:5], row[5:10], row[10], int(row[11])
        ends = (named(*source), named(*target))
        found[ends[::-1] if reversal else ends] += -quantity if reversal else quantity
    return {ends: quantity for ends, quantity in found.items() if quantity}


def named(cls, name, location, grade, owner):
    word = AccountClass(cls).word
    letters = {code: letter for letter, code in OWNERS.items()}
    if word in {"container", "kept"}:
        assert (word == "kept") == bool(owner)
        return (name, location, grade, letters.get(owner, ""))
    if word == "customer":
        return f"customer {letters[name]}"
    return f"unit {UNIT_SAID[name]}" if word == "unit" else word
