"""The one reading that is wanted now: a weight before, a weight after, what a machine says, or a volume of oil. Which
container comes next is offered there, and another is named in the same form."""

import json
from collections.abc import Sequence
from dataclasses import dataclass

from django.http import HttpRequest, QueryDict

from inventory.containers.models import Container, Scale
from inventory.containers.safe_fill import limit, room_left
from inventory.measures.units import MASS_UNITS, POUNDS_AND_OUNCES
from inventory.reference.rulebook import Rulebook
from jobs.drafts.models import Job, JobLine
from jobs.pages.entry_forms import LineForm
from jobs.pages.figures import Figures
from jobs.planning.oil_plan import oil_doubt

# What each entry may ask: the field, and its label.
ASKED = {
    ("charge", "before"): "Weight of {} before",
    ("charge", "after"): "Weight of {} after",
    ("charge", "quantity"): "What {} says it gave",
    ("recover", "before"): "Weight of {} before",
    ("recover", "after"): "Weight of {} after",
    ("recover", "quantity"): "What {} says it took",
    ("oil-add", "quantity"): "Oil added from {}",
}
WEIGHED_IN = ("g", "kg", "oz", "lb")  # what a scale in a workshop shows
TYPED_IN = "typed_in"  # in the session: the unit last used with each scale, by its code; blank for none named
SMALL_RECOVERY_MG = 1_000_000  # room that is looked for where a label's charge is not known: common practice


@dataclass(frozen=True)
class Into:
    """A container that is recovered into. room: what may still go in, mg; stop_at: the reading to stop at at the
    latest; None: not known. machine: it says itself what it took."""

    code: str
    room: int | None
    stop_at: int | None
    machine: bool

    @property
    def full(self) -> bool:
        return self.room is not None and self.room <= 0


def units_of(request: HttpRequest) -> dict[str, str]:
    """The unit that was last typed with each scale, by its code."""
    found = request.session.get(TYPED_IN)
    return found if isinstance(found, dict) else {}


def remember_unit(request: HttpRequest, data: QueryDict) -> None:
    """Keep the unit that stood beside a weight, for the next one of that scale."""
    for name in ("after", "before"):
        unit = data.get(f"{name}-unit", "")
        if unit in WEIGHED_IN and data.get(name, "").strip():
            request.session[TYPED_IN] = {**units_of(request), data.get("scale", "")[:40]: unit}
            return


@dataclass(frozen=True)
class Wanted:
    """What an entry is asked for: one of ASKED. line: that it changes; choices: containers to pick from, picked: the
    one that is offered."""

    action: str
    asked: str
    line: JobLine | None = None
    choices: Sequence[tuple[str, str]] | None = None
    picked: str = ""


def quick_form(request: HttpRequest, scales: list[Scale], wanted: Wanted, data: QueryDict | None = None) -> LineForm:
    """An entry of which one field is asked, with a container offered; the rest goes along unseen, as it is."""
    action, asked, line, choices, picked = (wanted.action, wanted.asked, wanted.line, wanted.choices, wanted.picked)
    if data is not None and "pick" in data:
        choices = choices or []
    form = LineForm(data, action=action, person=request.user, scales=scales, line=line, choices=choices)
    form.auto_id = f"{action}-quick-%s"
    form.asked = asked
    if picked:
        form.initial["pick" if "pick" in form.fields else "container"] = picked
    _weighed_in(form, request, line)
    field = form.fields[asked]
    code = picked or (line.container.code if line and line.container else "") or form["container"].value()
    code = code or form.data.get("pick", "")
    field.label = f"{ASKED[action, asked].format(code or 'the container')}, {field.unit}"
    field.required = True
    field.error_messages["required"] = "Type what the display shows."
    return form


def _weighed_in(form: LineForm, request: HttpRequest, line: JobLine | None) -> None:
    """The unit beside a weight is the one last used with its scale; another is chosen there."""
    scale = line.scale.code if line and line.scale else ""
    unit = units_of(request).get(scale, request.user.mass_unit)
    if form.of_oil or unit == POUNDS_AND_OUNCES:
        return
    for name in ("before", "after", "quantity"):
        field = form.fields[name]
        field.unit = unit
        field.widget.units = WEIGHED_IN


def charge_now(
    request: HttpRequest, figures: Figures, scales: list[Scale], choices: list, machines: list[str], scanned: str = ""
) -> LineForm | None:
    """After the charge that runs, else before the next container, or of the one whose label was scanned. machines: the
    codes of those that say themselves what they gave."""
    if figures.on_scale is not None:
        return quick_form(request, scales, Wanted("charge", "after", figures.on_scale))
    following = figures.next
    if scanned or (following is not None and not figures.over):
        picked = scanned or following.draw.code
        asked = "quantity" if picked in machines else "before"
        offered = choices if any(code == picked for code, _ in choices) else [(picked, picked), *choices]
        return quick_form(request, scales, Wanted("charge", asked, None, offered, picked))
    return None


def recover_now(
    request: HttpRequest, on_scale: JobLine | None, into: Into | None, scales: list[Scale], choices: list
) -> LineForm | None:
    if on_scale is not None:
        return quick_form(request, scales, Wanted("recover", "after", on_scale))
    if into is None:
        return None
    asked = "quantity" if into.machine else "before"
    return quick_form(request, scales, Wanted("recover", asked, None, choices, into.code))


def oil_now(request: HttpRequest, job: Job, bottles: list[Container], choices: list) -> LineForm | None:
    """From the bottle that fits the unit: opened ones first. None where no bottle does."""
    for bottle in bottles:
        if oil_doubt(job.unit.oil, bottle.substance.code, job.unit.high_voltage_compressor) is None:
            return quick_form(request, [], Wanted("oil-add", "quantity", None, choices, bottle.code))
    return None


def plan_said(figures: Figures, stock: list[Container]) -> str:
    """The plan as JSON, for a page that goes on before the server answers: what is missing to the aim, the containers
    in their order with what is in them and their tare, all in mg, and the size of each unit in mg."""
    if figures.need is None:
        return ""
    known = {one.code: one for one in stock}
    draws = [figures.next.draw] if figures.next else []
    cans = [
        {"code": draw.code, "content": known[draw.code].content, "tare": known[draw.code].tare_mg}
        for draw in (*draws, *figures.later)
        if draw.code in known and known[draw.code].traits.on_scale
    ]
    units = {unit: [float(MASS_UNITS[unit].size), MASS_UNITS[unit].places] for unit in WEIGHED_IN}
    return json.dumps({"aim": max(0, figures.need.aim), "cans": cans, "units": units})


# -- what is recovered into ------------------------------------------------------------------------------------


def into_of(one: Container, job: Job, rules: Rulebook, content: int | None = None) -> Into:
    """Room and stop of a container as it stands, or holding `content` by the draft."""
    gas = one.substance.code if one.substance else job.substance
    limits = rules.safe_fill(one.kind, job.day)
    content = one.content if content is None else content
    room = room_left(one.cylinder, gas, content, limits) if gas else None
    most = limit(one.cylinder, gas, limits) if gas else None
    stop = None if most is None or one.tare_mg is None else one.tare_mg + most.mg
    return Into(one.code, room, stop, not one.traits.on_scale)


def into_next(others: list[Container], job: Job, rules: Rulebook) -> Into | None:
    """The container to recover into that is offered: one with this gas in it and room for what the label says, else
    the first with any room, else none."""
    wanted = job.charge_max_mg or SMALL_RECOVERY_MG
    found = [(one, into_of(one, job, rules)) for one in others if not one.retired_on]
    found.sort(key=lambda pair: (pair[0].substance is None, pair[1].room is None))
    fits = [into for _, into in found if into.room is None or into.room >= wanted]
    some = [into for _, into in found if not into.full]
    return next(iter(fits or some), None)
