"""Where a job stands: which of its steps is to be done now, which are done and with what figure, which come later.

The order is the trade's and nobody is held to it: any step is opened by its line, and once something of a later one is
recorded, what comes after that is next. What was left out stands among what is not recorded, and is asked at signing.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from jobs.drafts.models import Job, JobLine, JobStep
from jobs.drafts.practised import is_practice
from jobs.pages.figures import Figures
from jobs.planning.pressure_test import PressureTest
from jobs.planning.vacuum import Hold

DONE, NOW, LATER, PASSED = "done", "now", "later", "passed"

TITLES = {
    "start": "Label",
    "identify": "Identify",
    "recover": "Recover",
    "repair": "Repair",
    "test": "Pressure test",
    "evacuate": "Evacuate and hold",
    "oil": "Oil",
    "charge": "Charge",
    "check": "Check",
    "sign": "Sign",
}
BESIDE = {"photos": "Photos", "finger": "The customer signs"}  # of any moment: never what is to be done now


@dataclass(frozen=True)
class Place:
    """One step on its page. state: one of DONE, NOW, LATER and PASSED, the last one with a reason."""

    name: str
    title: str
    state: str

    @property
    def template(self) -> str:
        return f"jobs/steps/{self.name}.html"

    @property
    def is_now(self) -> bool:
        return self.state == NOW


@dataclass(frozen=True)
class Flow:
    """now: the step on top. done, later: the others, each in the trade's order."""

    now: Place
    done: tuple[Place, ...]
    later: tuple[Place, ...]

    @property
    def after(self) -> str:
        """The steps after the one that is to be done, for a page that goes on before the server answers."""
        names = list(TITLES)
        done = {one.name for one in self.done}
        return " ".join(name for name in names[names.index(self.now.name) + 1 :] if name not in done)


def flow_of(
    job: Job, lines: list[JobLine], saved: Mapping[str, JobStep], figures: Figures, asked: str = "", leaks: str = ""
) -> Flow:
    """asked: a step that is on top whatever is done: of a form that came back, or of a label that was scanned. leaks:
    the one whose verdict is that the unit is not tight, where nothing was done since (see `leaks_at`)."""
    passed = {name for name, one in saved.items() if one.skipped}
    done = passed | {name for name in TITLES if _is_done(name, job, lines, saved, figures)}
    now = asked if asked in TITLES else leaks or _now(job, lines, done)
    states = {name: NOW if name == now else PASSED if name in passed else DONE for name in done | {now}}
    places = [Place(name, title, states.get(name, LATER)) for name, title in TITLES.items()]
    beside = [] if is_practice(job) else [Place(name, title, LATER) for name, title in BESIDE.items()]
    at = next(one for one in places if one.is_now)
    later = [one for one in places if one.state == LATER]
    return Flow(at, tuple(one for one in places if one.state in {DONE, PASSED}), (*later, *beside))


def _now(job: Job, lines: list[JobLine], done: set[str]) -> str:
    """What hangs on the scale comes first, then a clock that runs: a pump, a hold, a unit under test pressure; else the
    first step after all that is done, or the charge where that was begun and is not done."""
    on_scale = next((line.action for line in lines if line.is_on_scale), "")
    if on_scale:
        return on_scale
    if runs(job):
        return "evacuate"
    if stands(job) and "test" not in done:
        return "test"
    names = list(TITLES)
    begun = {"charge"} if any(line.action == "charge" for line in lines) else set()
    last = max((names.index(name) for name in done | begun), default=-1)
    return names[last] if names[last] in begun - done else names[min(last + 1, len(names) - 1)]


def runs(job: Job) -> bool:
    """Whether the pump, or a hold, was started and not ended yet. A reading at the end of the hold ends both."""
    if job.hold_end_said:
        return False
    pump = job.evacuation_started and not job.evacuation_ended
    return bool(pump or (job.hold_started and not job.hold_ended))


def stands(job: Job) -> bool:
    """Whether the unit stands under test pressure: it was reached and not read again, and no pump was started since."""
    return bool(job.test_started and not (job.test_ended or job.test_end_said or job.evacuation_started))


def leaks_at(job: Job, lines: list[JobLine], test: PressureTest | None, hold: Hold | None) -> str:
    """The step whose verdict is that the unit does not hold, until something after it is begun: `test` or `evacuate`;
    blank for none. What is to be done now is not the step after it."""
    if any(line.action in {"oil-add", "charge"} for line in lines) or runs(job):
        return ""
    if hold is not None:
        return "evacuate" if hold.rose else ""
    return "test" if test is not None and test.passed is False and not job.evacuation_started else ""


def _half_tested(job: Job) -> bool:
    """Whether a pressure test was begun, and its reading at the end is still wanted."""
    timed = job.test_ended and not job.test_start_said
    return bool((job.test_started or job.test_start_said) and not (job.test_end_said or timed))


def face_of(job: Job) -> str:
    """What of the evacuation is asked now: that the pump starts, the vacuum it reached, the one at the end of the hold;
    blank once there is nothing more."""
    if job.hold_ended or job.hold_end_said:
        return ""
    if job.hold_started or job.hold_start_said:
        return "held"
    return "reach" if job.evacuation_started or job.vacuum_said else "pump"


def _is_done(name: str, job: Job, lines: list[JobLine], saved: Mapping[str, JobStep], figures: Figures) -> bool:
    if name == "start":
        return bool(job.substance) and job.charge_max_mg is not None or name in saved
    if name == "charge":
        return figures.done or (figures.need is None and any(line.action == "charge" for line in lines))
    if name in {"recover", "oil"}:
        return any(line.action in ENTRIES[name] and line.amount is not None for line in lines)
    if name == "evacuate":
        return bool(job.hold_ended or job.hold_end_said or (name in saved and not job.evacuation_started))
    return name in saved and not (name == "test" and _half_tested(job))


ENTRIES = {"recover": ("recover",), "oil": ("oil-add", "oil-drain")}
