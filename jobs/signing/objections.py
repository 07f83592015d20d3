"""What stands between a draft and its signature. Pure: no Django here.

An objection either refuses, or asks for a reason that is kept with the job. Rules that differ between
places come from the rulebook; the rest is what a job must say to be believed.
"""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from inventory.containers.filled import Fill
from inventory.containers.holdings import ContainerState
from inventory.measures.days import said_day
from inventory.measures.quantity import show
from inventory.reference.rule import Gas, System
from inventory.reference.rulebook import Rulebook
from inventory.text.refusal import Refused
from inventory.verdicts.leak_repair import charged_with_leak
from inventory.verdicts.reuse import reuse
from inventory.verdicts.service_ban import service_ban
from inventory.verdicts.single_use import single_use
from inventory.verdicts.verdict import Verdict
from inventory.verdicts.work import SUPERVISOR_ASKED, Worker, by_paper, working
from jobs.lines.posting import STEP_OF, Line, check_shape
from jobs.planning.oil_plan import oil_doubt
from jobs.signing.charging import MENDS, STEPS, charge_verdicts
from jobs.signing.doing import WORKS, done_with, handled_in, works_of


@dataclass(frozen=True)
class Objection:
    """key: under which a reason is kept. refuses: no reason helps. step: where on the job page it is mended. verdict:
    why, None where no rule of the rulebook says it."""

    key: str
    message: str
    refuses: bool
    step: str
    line: int | None = None
    citation: str = ""
    verdict: Verdict | None = None


@dataclass(frozen=True)
class Facts:
    """What signing looks at. said_something: words were entered, if nothing was weighed. schemes: of the
    technician's certificates valid on the day. used_since: codes of containers for which something was posted
    after this job's reading of them. fills: what was in a container to recover into, beside what may be.
    overdue: why such a container may not be filled, by its retest or its test pressure; retests: the verdict where it
    is the retest. oil: that the unit takes, blank where it is not known."""

    day: dt.date
    today: dt.date
    technician: str
    system: System  # what the job worked on, as the rulebook is asked about it
    equipment: str
    substance: str
    charge_min_mg: int | None
    charge_max_mg: int | None
    system_opened: bool
    evacuated: bool
    held: bool
    leak_result: str
    charged: int
    recovered: int
    said_something: bool = True
    hold_failed: str = ""  # the verdict, where the hold was not passed
    lines: Sequence[Line] = ()
    containers: Mapping[str, ContainerState] = field(default_factory=dict)
    schemes: Sequence[str] = ()
    designed_for: str = ""  # what the unit was; blank where that is not known
    oil: str = ""
    high_voltage: bool = False
    used_since: Mapping[str, str] = field(default_factory=dict)
    fills: Mapping[str, Fill] = field(default_factory=dict)
    overdue: Mapping[str, str] = field(default_factory=dict)
    retests: Mapping[str, Verdict] = field(default_factory=dict)
    trainee_since: dt.date | None = None
    gases: Mapping[str, Gas] = field(default_factory=dict)  # what the containers charged from hold


def objections(facts: Facts, rules: Rulebook) -> list[Objection]:
    """Everything that stands in the way, in the order of the job's steps."""
    found = [
        *_something(facts),
        *_day(facts),
        *_refrigerant(facts),
        *_certificate(facts, rules),
        *_recovery(facts),
        *_opened(facts),
        *_leak(facts, rules),
        *_oil(facts),
        *_incomplete(facts),
        *_lines(facts),
        *_single_use(facts, rules),
        *_grades(facts, rules),
        *_banned(facts, rules),
        *_charge(facts, rules),
        *_range(facts),
    ]
    return found


def _something(facts: Facts) -> list[Objection]:
    if facts.lines or facts.said_something:
        return []
    message = "Nothing is entered on this job. Enter what was done, or say why there is nothing."
    return [Objection("empty", message, False, "start")]


def _day(facts: Facts) -> list[Objection]:
    if facts.day <= facts.today:
        return []
    return [
        Objection(
            "day", f"The job is dated {said_day(facts.day)}, which has not come yet; date it today.", True, "start"
        )
    ]


def _refrigerant(facts: Facts) -> list[Objection]:
    handled = [line for line in facts.lines if line.action in {"charge", "recover", "line-loss"}]
    if facts.substance or not handled:
        return []
    return [Objection("substance", "Say which refrigerant the unit takes: its label names it.", True, "start")]


def certificate_verdicts(facts: Facts, rules: Rulebook) -> dict[str, Verdict]:
    """Of each work that was done, whether the technician may do it."""
    found = {}
    worker = Worker(facts.schemes, facts.trainee_since)
    for work in works_of((line.action for line in facts.lines), facts.leak_result != "not checked"):
        codes = {line.container for line in facts.lines if line.action in handled_in(work)} & facts.containers.keys()
        by_machine = [facts.containers[code].traits.recycles for code in sorted(codes)]
        found[work] = working(rules, work, done_with(facts.system, by_machine), worker, facts.day)
    return found


def foreseen(facts: Facts, rules: Rulebook) -> dict[str, Objection]:
    """What the technician's papers will be asked once a work is done, by the work: said before it is."""
    to_come = (*facts.lines, Line("recover"), Line("charge"))
    asked = replace(facts, lines=to_come, leak_result="none found")
    found = {}
    for one in _certificate(asked, rules):
        for work in WORKS:
            if one.key.endswith(f"certificate-{work}"):
                found[work] = one
    return found


def _certificate(facts: Facts, rules: Rulebook) -> list[Objection]:
    found = []
    for work, verdict in certificate_verdicts(facts, rules).items():
        said = f"{WORKS[work]} {facts.substance}".strip()
        key, refuses = f"certificate-{work}", verdict.is_refused
        if SUPERVISOR_ASKED in verdict.ask:
            message = f"{facts.technician} is in training: say who supervised {said}."
        elif verdict.is_open:
            key = f"unsaid-certificate-{work}"
            message = f"{verdict.said} Say it on the unit's page or on the job; or why that cannot be said."
        elif verdict.is_breach and by_paper(verdict):  # not within what the certificate is limited to
            message = f"{facts.technician}, {said}: {verdict.said} Say why it was done all the same."
        elif verdict.is_breach:
            message = (
                f"{facts.technician} has no certificate on file that is valid on {said_day(facts.day)} for {said}. "
                "The owner adds it under People; or whoever holds one signs."
            )
        else:
            continue
        found.append(Objection(key, message, refuses, "sign", citation=verdict.cited, verdict=verdict))
    return found


def _recovery(facts: Facts) -> list[Objection]:
    found = []
    into: dict[str, int] = {}
    for number, line in enumerate(facts.lines):
        if line.action != "recover":
            continue
        held = facts.containers.get(line.container)
        if line.container in facts.overdue and line.container not in into:
            message, why = facts.overdue[line.container], facts.retests.get(line.container)
            found.append(Objection(f"retest-{line.container}", message, True, "recover", number, verdict=why))
        if held is not None and held.balance and not held.traits.recycles and held.grade not in {"recovered", "mixed"}:
            message = (
                f"{line.container} holds {held.grade} refrigerant, and what comes out of a unit is recovered: it would "
                "spoil that, and count as more than it is. Recover into a recovery cylinder or a service machine."
            )
            found.append(Objection(f"recovers-into-{line.container}", message, True, "recover", number))
        into[line.container] = into.get(line.container, 0) + (line.amount or 0)
        fill, more = facts.fills.get(line.container), into[line.container]
        room = fill.room_mg if fill is not None else None
        if room is not None and more > room:
            message = (
                f"{line.container} had room for {show(max(room, 0), 'g')} to its safe fill, and "
                f"{show(more, 'g')} are written as recovered into it. Check the weights; if they are "
                "right, empty part of it into another cylinder now and record that."
            )
            verdict = fill.verdict(more_mg=more)
            found.append(
                Objection(f"safe-fill-{line.container}", message, True, "recover", number, verdict.cited, verdict)
            )
    return found


def _opened(facts: Facts) -> list[Objection]:
    if not (facts.system_opened and facts.charged):
        return []
    found = []
    if not facts.evacuated:
        message = (
            "The system was open and was charged; no evacuation is recorded. Record it, or say why there was none."
        )
        found.append(Objection("evacuation", message, False, "evacuate"))
    if not facts.held:
        message = "The system was open and was charged; no hold of the vacuum is recorded. Record it, or say why not."
        found.append(Objection("hold", message, False, "evacuate"))
    if facts.hold_failed:
        message = f"The hold of the vacuum was not passed: {facts.hold_failed} Say why it was charged all the same."
        found.append(Objection("hold-failed", message, False, "evacuate"))
    return found


def _leak(facts: Facts, rules: Rulebook) -> list[Objection]:
    if facts.leak_result != "found, not repaired" or not facts.charged:
        return []
    verdict = charged_with_leak(rules, facts.system, facts.day)
    message = "A leak was found and not repaired, and the unit was charged."
    if verdict.is_open:
        return [_unsaid("leak", f"{message} {verdict.said}", "repair", None, verdict)]
    message += " Repair it before it is charged." if verdict.is_refused else " Say why it was charged all the same."
    return [Objection("leak", message, verdict.is_refused, "repair", None, verdict.cited, verdict)]


def _unsaid(key: str, said: str, step: str, number: int | None, verdict: Verdict) -> Objection:
    """What cannot be judged before something is said: it does not stop the signature."""
    message = f"{said} Say it on the unit's page, or say here why it is not known."
    return Objection(f"unsaid-{key}", message, False, step, number, verdict.cited, verdict)


def _oil(facts: Facts) -> list[Objection]:
    found = []
    for number, line in enumerate(facts.lines):
        held = facts.containers.get(line.container)
        if line.action != "oil-add" or held is None or not held.is_oil:
            continue
        doubt = oil_doubt(facts.oil, held.substance, facts.high_voltage)
        if doubt:
            message = doubt[0] if doubt[1] else f"{doubt[0]} Say why it was taken."
            found.append(Objection(f"oil-{line.container}", message, doubt[1], "oil", number))
    return found


def _incomplete(facts: Facts) -> list[Objection]:
    found = []
    for number, line in enumerate(facts.lines):
        try:
            check_shape(line)
        except Refused as refused:
            message = f"{line.container}: {refused.message}" if line.container else refused.message
            found.append(Objection(f"entry-{number}", message, True, STEP_OF.get(line.action, "sign"), number))
    return found


def _lines(facts: Facts) -> list[Objection]:
    found = []
    for number, line in enumerate(facts.lines):
        held = facts.containers.get(line.container)
        if line.action == "charge" and line.quantity is not None and held is not None and held.traits.on_scale:
            message = f"{line.container} was not weighed before and after; say why."
            found.append(Objection(f"not-weighed-{line.container}", message, False, "charge", number))
        if line.container in facts.used_since and not any(o.key == f"used-{line.container}" for o in found):
            message = (
                f"{facts.used_since[line.container]} was recorded for {line.container} after this job's reading of it. "
                "Check which came first; if the readings are right, say so."
            )
            found.append(Objection(f"used-{line.container}", message, False, STEP_OF[line.action], number))
    return found


def _single_use(facts: Facts, rules: Rulebook) -> list[Objection]:
    """Charging from a container that is made for a single use, where that is not allowed any more."""
    found: dict[str, Objection] = {}
    for number, line in enumerate(facts.lines):
        held = facts.containers.get(line.container)
        if line.action != "charge" or held is None or held.is_oil:
            continue
        why = single_use(rules, held.kind, held.substance, "use", facts.day)
        if why.is_breach:
            key, message = f"single-use-{line.container}", f"{line.container}: {why.said}"
            message += "" if why.is_refused else " Say why it was charged from all the same."
            found.setdefault(key, Objection(key, message, why.is_refused, "charge", number, why.cited, why))
    return list(found.values())


def _gases(facts: Facts) -> Iterator[tuple[int, str, Gas]]:
    """What each container that is charged from holds, with the first entry that does: number, code, gas."""
    seen = set()
    for number, line in enumerate(facts.lines):
        held = facts.containers.get(line.container)
        if line.action != "charge" or held is None or held.is_oil or line.container in seen or not facts.substance:
            continue
        seen.add(line.container)
        yield number, line.container, facts.gases.get(line.container) or Gas(held.grade)


def _grades(facts: Facts, rules: Rulebook) -> list[Objection]:
    """What may not be charged by where it came from."""
    found = []
    for number, code, gas in _gases(facts):
        verdict = reuse(rules, facts.system, gas, facts.day)
        holds = f"{code} holds {gas.grade} refrigerant."
        if gas.grade == "mixed":
            message = f"{holds} It is charged into nothing; send it to a reclaimer or to destruction."
            found.append(Objection(f"grade-{code}", message, True, "charge", number))
            continue
        if verdict.is_open:
            found.append(_unsaid(f"grade-{code}", f"{holds} {verdict.said}", "charge", number, verdict))
        elif verdict.is_breach:
            mend = "Recycle or reclaim it first" + ("." if verdict.is_refused else ", or say why it was charged.")
            message = f"{holds} {verdict.said} {mend}"
            refuses = verdict.is_refused
            found.append(Objection(f"grade-{code}", message, refuses, "charge", number, verdict.cited, verdict))
    return found


def _banned(facts: Facts, rules: Rulebook) -> list[Objection]:
    """What may not be charged any more, by its GWP, grade, origin and label, and the day."""
    found = []
    for number, code, gas in _gases(facts):
        verdict = service_ban(rules, facts.system, gas, facts.day)
        if verdict.is_open:
            found.append(_unsaid(f"banned-{code}", f"{code}: {verdict.said}", "charge", number, verdict))
        elif verdict.is_breach:
            mend = "Use another refrigerant or grade" if verdict.is_refused else "Say why it was"
            mend += ", or record what its label says." if "labelled" in verdict.rules[0].unless_gas else "."
            message = f"{code}: {verdict.said} {mend}"
            refuses = verdict.is_refused
            found.append(Objection(f"banned-{code}", message, refuses, "charge", number, verdict.cited, verdict))
    return found


def _charge(facts: Facts, rules: Rulebook) -> list[Objection]:
    """Into what it was charged, and whether it was tested for leaks before."""
    if not (facts.charged and facts.substance):
        return []
    found = []
    for key, one in charge_verdicts(rules, facts.system, facts.designed_for, facts.leak_result, facts.day).items():
        if one.is_open:
            message = f"{one.said} Say it on the unit's page, or say here why it is not known."
            found.append(Objection(f"unsaid-{key}", message, False, STEPS[key], None, one.cited, one))
        elif one.is_breach:
            message = f"{one.said} {MENDS[key]}" if one.is_refused else f"{one.said} Say why it was charged."
            found.append(Objection(key, message, one.is_refused, STEPS[key], None, one.cited, one))
    return found


def _range(facts: Facts) -> list[Objection]:
    if not facts.charged:
        return []
    least, most = facts.charge_min_mg, facts.charge_max_mg
    if least is None and most is None:
        return [Objection("no-range", "The label's charge is not recorded; enter it, or say why not.", False, "charge")]
    charged = show(facts.charged, "g")
    if most is not None and facts.charged > most:
        over = show(facts.charged - most, "g")
        message = (
            f"{charged} went in, {over} over the most on the label ({show(most, 'g')}). Recover the rest, or say why."
        )
        return [Objection("over", message, False, "charge")]
    if least is not None and facts.charged < least:
        under = show(least - facts.charged, "g")
        message = (
            f"{charged} went in, {under} under the least on the label ({show(least, 'g')}). Charge on, or say why."
        )
        return [Objection("under", message, False, "charge")]
    return []
