"""What the job page shows beside what was entered: totals, what is missing, the next container and its stop."""

from dataclasses import dataclass

from inventory.containers.book import Book
from inventory.containers.models import Container, Scale
from inventory.ledger.refusal import Refused
from inventory.reference.rulebook import rulebook
from inventory.shop.models import Shop
from jobs.work.actions import preview, standing_objections
from jobs.work.charge_plan import Available, Draw, Missing, missing, plan
from jobs.work.models import Job, JobLine
from jobs.work.posting import Totals
from jobs.work.vacuum import PASCALS, Hold, highest_vacuum_inhg, hold_verdict

STOCK = 60  # containers offered for charging; a shop with more scans the code
# An opened container with less than this gives vapour alone: it is not planned with. A can of 0.35 L full of
# saturated R-134a vapour at 30 degrees C holds 13 g (CoolProp 8.0.0); rounded up, common practice, no source.
WORTH_OPENING_MG = 15_000


@dataclass
class Next:
    """The container to charge from now. stop_at: mg on the scale, None until it was weighed."""

    draw: Draw
    weighed: bool
    location: str
    in_use: Job | None = None


@dataclass
class Figures:
    """charged and taken count complete lines; out counts what left containers, line loss included."""

    totals: Totals
    need: Missing | None
    next: Next | None
    later: tuple[Draw, ...]
    short: int
    problem: str
    over: int
    readings: dict[str, list]


def figures(
    job: Job, lines: list[JobLine], usual: Scale | None, stock: list[Container], busy: dict[str, Job]
) -> Figures:
    """Everything that the charge step needs, worked out anew from what is entered. stock: containers to charge
    from; busy: those that stand on a draft."""
    problem, totals, book = "", Totals(), None
    try:
        totals, book = preview(job, lines, usual)
    except Refused as refused:
        problem = refused.message
    need = missing(totals.charged, job.charge_min_mg, job.charge_max_mg, job.unit.charge_nominal_mg)
    draws, short, following = (), 0, None
    if need is not None and job.substance and not problem:
        following, draws, short = _plan(job, lines, need, book, stock, busy)
    over = max(0, -need.most) if need else 0
    readings: dict[str, list] = {}
    for reading in book.sheet.readings if book else ():
        readings.setdefault(reading.code, []).append(reading)
    return Figures(totals, need, following, draws, short, problem, over, readings)


def _plan(
    job: Job, lines: list[JobLine], need: Missing, book: Book | None, stock: list[Container], busy: dict[str, Job]
) -> tuple[Next | None, tuple[Draw, ...], int]:
    on_scale = next(
        (line for line in lines if line.action == "charge" and line.before is not None and line.after is None), None
    )
    offered = []
    for container in stock:
        held = book.containers.get(container.code) if book else None
        content = held.balance if held else container.content
        tare = held.tare if held else container.tare_mg
        opened = container.opened_on is not None or held is not None
        gross = None if tare is None else tare + content
        if opened and content < WORTH_OPENING_MG:
            continue
        offered.append(Available(container.code, content, gross, opened))
    places = {container.code: container.location.name if container.location else "" for container in stock}
    first = None
    if on_scale is not None and need.aim > 0:
        code = on_scale.container.code
        content = _content(on_scale)
        amount = min(content, need.aim)
        draw = Draw(code, amount, on_scale.before - amount, amount == content)
        first = Next(draw, True, places.get(code, ""))
        need = Missing(need.least - amount, need.aim - amount, need.most - amount)
        offered = [one for one in offered if one.code != code]
    free = [one for one in offered if busy.get(one.code, job).number == job.number]
    found = plan(need, free)
    draws = found.draws
    if first is None and draws:
        first = Next(draws[0], False, places.get(draws[0].code, ""))
        draws = draws[1:]
    return first, draws, found.short


def _content(line: JobLine) -> int:
    """What is in a container that was weighed before: by the scale, or by the book where it has no tare yet."""
    container = line.container
    return container.content if container.tare_mg is None else max(0, line.before - container.tare_mg)


@dataclass
class Vacuum:
    """What is known of the evacuation. highest: inHg that a gauge can read at the shop."""

    highest: float
    boils_at: float | None
    hold: Hold | None
    minutes: float | None
    least_minutes: float


def vacuum(job: Job, shop: Shop) -> Vacuum:
    book = rulebook(shop.rulebook)

    def practice(key: str, otherwise: float) -> float:
        found = book.practice(key, job.day)
        return float(found.value) if found else otherwise

    hold = None
    if job.hold_start_pa is not None and job.hold_end_pa is not None:
        minutes = _minutes(job.hold_started, job.hold_ended)
        most = practice("hold_most_micron", 1000) * PASCALS["micron"]
        hold = hold_verdict(
            job.hold_start_pa, job.hold_end_pa, minutes, most_pa=most, least_minutes=practice("hold_minutes", 10)
        )
    return Vacuum(
        highest_vacuum_inhg(shop.altitude_m),
        _boils(job.vacuum_pa),
        hold,
        _minutes(job.evacuation_started, job.evacuation_ended),
        practice("evacuation_minutes", 30),
    )


def _minutes(start, end) -> float | None:
    return (end - start).total_seconds() / 60 if start and end else None


def _boils(pressure_pa: float | None) -> float | None:
    if not pressure_pa:
        return None
    from inventory.reference.properties import PropertyUnavailable, water_boiling_temperature

    try:
        return water_boiling_temperature(pressure_pa)
    except PropertyUnavailable:
        return None


def objections_with_reasons(job: Job, lines: list[JobLine], usual: Scale | None, shop: Shop) -> list[dict]:
    """What stands between the draft and its signature, each with the reason given so far."""
    found = standing_objections(job, lines, usual, shop)
    return [{"it": one, "reason": job.reasons.get(one.key, "")} for one in found]
