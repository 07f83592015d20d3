"""Whether what was typed on a job can be, asked before anything is kept.

What is known of a reading comes from the job: its container as the draft has it, the scale, what the unit is to get.
What is doubted is asked, and taken as it was typed after one yes, which is kept among the job's reasons; what cannot be
says what would be right.
"""

from collections.abc import Iterator
from dataclasses import replace

from django import forms

from inventory.asking.asked import SURE
from inventory.containers.models import Container, Scale
from inventory.containers.vessels import vessel_of
from inventory.plausible.expected import Known
from inventory.plausible.gauges import (
    AMBIENT,
    END,
    HIGH,
    LOW,
    REACHED,
    START,
    STATIC,
    TEST,
    VENT,
    Pressure,
    Temperature,
    Vacuum,
)
from inventory.plausible.masses import CHARGE, IN, LOSS, OUT, RECOVER, Amount, Weight
from inventory.plausible.oils import ADD, DRAIN, OilVolume
from inventory.plausible.vessels import Vessel
from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from jobs.drafts.actions import preview
from jobs.drafts.models import Job, JobLine
from jobs.drafts.queries import entries_of
from jobs.lines.totals import totals_of
from jobs.planning.charge_plan import missing
from jobs.planning.vacuum import air_pressure_pa

READABILITY_MG = 1_000  # where no scale is named and none is the usual one: common practice, no source


def confirmed(form: forms.Form, about: str) -> dict[str, str]:
    """The reasons that a job keeps for what was asked and is right as it was typed. about: whose reading it is."""
    found = {}
    for said in form.data.getlist(SURE):
        name, _, text = said.partition(" ")
        if name in form.fields and text:
            found[f"sure-{about} {name}"[:120]] = f"{text[:60]}, as it was read"
    return found


# -- what is known of an entry ------------------------------------------------------------------------------


def known_of_line(job: Job, form: forms.Form, action: str, usual: Scale | None) -> dict[str, Known]:
    """Of each weight or quantity of an entry."""
    data = form.cleaned_data
    rows = [line for line in entries_of(job) if line.key != data["key"]]
    if action in {"oil-add", "oil-drain"}:
        return {"quantity": _oil(action, data.get("container", ""))}
    if action == "line-loss":
        return {"quantity": Amount(LOSS)}
    vessel = _vessel(job, rows, data["container"], usual)
    if vessel is None:
        return {}
    return dict(_weighed(job, rows, action, vessel, data, _scale(data.get("scale"), usual)))


def _scale(code: str, usual: Scale | None) -> Scale | None:
    return Scale.objects.filter(code=code, retired=False).first() if code else usual


def _weighed(
    job: Job, rows: list[JobLine], action: str, vessel: Vessel, data: dict, scale: Scale | None
) -> Iterator[tuple[str, Known]]:
    least, most = _wanted(job, rows, action)
    readability = scale.readability_mg if scale else READABILITY_MG
    capacity = scale.capacity_mg if scale else None
    yield "before", Weight(vessel, readability, capacity)
    if data.get("before") is not None:
        moved = OUT if action == "charge" else IN
        yield "after", Weight(vessel, readability, capacity, data["before"], moved, least, most)
    what = CHARGE if action == "charge" else RECOVER
    yield "quantity", Amount(what, vessel, least, most)


def _wanted(job: Job, rows: list[JobLine], action: str) -> tuple[int | None, int | None]:
    """What this entry is to move: of a charge what is missing to the label, of a recovery what the label says."""
    if action == "recover":
        return job.charge_min_mg, job.charge_max_mg
    charged = totals_of(rows).charged
    need = missing(charged, job.charge_min_mg, job.charge_max_mg, job.unit.charge_nominal_mg)
    return (need.least, need.most) if need else (None, None)


def _vessel(job: Job, rows: list[JobLine], code: str, usual: Scale | None) -> Vessel | None:
    """The container as the draft has it so far; None for one that there is not."""
    one = Container.objects.select_related("substance", "account").filter(code=code.strip()).first()
    if one is None or one.is_oil:
        return None
    content, tare = one.content, one.tare_mg
    try:
        held = preview(job, rows, usual)[1].containers.get(one.code)
    except Refused:
        held = None
    if held is not None:
        content, tare = held.balance, held.tare
    return replace(vessel_of(one), content=content, tare=tare)


def _oil(action: str, code: str) -> OilVolume:
    bottle = Container.objects.select_related("account").filter(code=code.strip()).first() if code else None
    if bottle is None or not bottle.is_oil:
        return OilVolume(ADD if action == "oil-add" else DRAIN)
    return OilVolume(ADD, bottle.content, bottle.nominal)


# -- what is known of a step's readings -------------------------------------------------------------------------

TEMPERATURES = {"ambient_c": AMBIENT, "evacuation_c": AMBIENT, "vent_c": VENT}
PRESSURES = {
    "static_said": STATIC,
    "low_side_said": LOW,
    "high_side_said": HIGH,
    "test_start_said": TEST,
    "test_end_said": TEST,
}
VACUUMS = {"vacuum_said": REACHED, "hold_start_said": START, "hold_end_said": END}


def vacuum_known(job: Job, held: bool, shop: Shop) -> Vacuum:
    """Of the vacuum reached, or of the end of a hold."""
    start = job.hold_start_pa if held else None
    return Vacuum(END if held else REACHED, air_pressure_pa(shop.altitude_m), start)


def known_of_step(job: Job, form: forms.Form, shop: Shop) -> dict[str, Known]:
    """Of each reading that the form of a step asks for."""
    data, air = form.cleaned_data, air_pressure_pa(shop.altitude_m)
    ambient = data.get("ambient_c", job.ambient_c)
    found: dict[str, Known] = {}
    for name in form.fields:
        if name in TEMPERATURES:
            found[name] = Temperature(TEMPERATURES[name], ambient if name == "vent_c" else None)
        elif name in PRESSURES:
            found[name] = Pressure(PRESSURES[name], air, job.substance, ambient)
        elif name in VACUUMS:
            start = data.get("hold_start_pa", job.hold_start_pa)
            found[name] = Vacuum(VACUUMS[name], air, start if VACUUMS[name] == END else None)
    return found
