"""What stands beside a draft: who is on it, what the unit's last visit says, its pressure test."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.http import HttpRequest

from jobs.drafts.last_time import last_time
from jobs.drafts.models import Job, JobHand, JobLine, JobStep
from jobs.drafts.steps import STEPS
from jobs.drafts.tested import under_test
from jobs.lines.posting import STEP_OF
from jobs.pages.hand_forms import HandForm, HandOverForm, PortsForm, does_jobs
from jobs.people.models import Person
from jobs.units.models import Unit
from jobs.units.tables import charge_text


@dataclass(frozen=True)
class Hands:
    """Who is on a draft. now: those beside its technician; handed: the last handing over to who has it now; wrote: each
    step with who wrote in it. answers: whether the person who looks may change all this."""

    now: list[JobHand]
    handed: JobHand | None
    wrote: list[tuple[str, list[str]]]
    answers: bool

    @property
    def are_several(self) -> bool:
        return bool(self.now) or len({name for _, names in self.wrote for name in names}) > 1


def beside(request: HttpRequest, shown: Job, lines: Sequence[JobLine], more: Mapping[str, object]) -> dict[str, object]:
    """What `_hands.html`, `_last_time.html`, `_ports.html` and `steps/test.html` are drawn from. more: a form that came
    back with errors, as `hand`, `hand_over` or `ports`. lines: entries_of."""
    all_hands = list(shown.hands.select_related("person", "handed_to", "by"))
    now = [one for one in all_hands if one.ended is None]
    taken = {shown.technician_id, *(one.person_id for one in now)}
    people = does_jobs()
    handed = next((one for one in reversed(all_hands) if one.handed_to_id == shown.technician_id), None)
    answers = request.user.role != "technician" or shown.technician_id == request.user.pk
    steps = list(shown.steps.select_related("by"))
    ports = PortsForm(initial={"ports": shown.unit.ports}, auto_id="ports-%s")
    found = last_time(shown)
    said = request.shop.rules.cautions("leak-check", shown.day, shown.substance or None)
    return {
        "hands": Hands(now, handed, wrote(steps, lines), answers),
        "hand": more.get("hand") or HandForm(people=_without(people, taken), auto_id="hand-%s"),
        "hand_over": more.get("hand_over")
        or HandOverForm(people=_without(people, {shown.technician_id}), auto_id="over-%s"),
        "ports": more.get("ports") or ports,
        "last_time": found,
        "last_range": _range(found.visit, request.user) if found else "",
        "under_test": under_test(shown, request.shop),
        "test_cautions": [one for one in said if one.key != "local-rules"],
    }


def _without(people: list[Person], taken: set[int]) -> list[Person]:
    return [one for one in people if one.pk not in taken]


def _range(visit: Job, person: Person) -> str:
    return charge_text(Unit(charge_min_mg=visit.charge_min_mg, charge_max_mg=visit.charge_max_mg), person.mass_unit)


def wrote(steps: Sequence[JobStep], lines: Sequence[JobLine]) -> list[tuple[str, list[str]]]:
    """Each step that somebody wrote in, in its order, with their names."""
    names: dict[str, list[str]] = {}
    for one in steps:
        names.setdefault(one.step, []).append(one.by.name)
    for line in lines:
        names.setdefault(STEP_OF[line.action], []).extend(one.name for one in line.writers)
    titles = {**{key: step.title for key, step in STEPS.items()}, "start": "Label and start", "charge": "Charge"}
    order = ["start", *STEPS, "charge"]
    return [(titles[key], list(dict.fromkeys(names[key]))) for key in order if key in names]
