"""What the job page shows beside what was entered: totals, what is missing, the next container and its stop."""

from dataclasses import dataclass, field

from inventory.containers.holdings import Holdings, Reading
from inventory.containers.models import Container, Scale
from inventory.containers.preview import UNEXPLAINED, spot_said
from inventory.ledger.accounts import Spot
from inventory.measures.quantity import show
from inventory.text.refusal import Refused
from jobs.drafts.actions import preview
from jobs.drafts.models import Job, JobLine, JobStep
from jobs.drafts.steps import STEPS, Step
from jobs.leaks.losses import Loss, Visit, loss_between
from jobs.lines.posting import STEP_OF
from jobs.lines.totals import Totals
from jobs.planning.charge_plan import WORTH_TAKING_MG, Available, Draw, Missing, missing, plan
from jobs.planning.oil_plan import OilPlan, oil_plan, parts
from jobs.planning.static_pressure import Static, static_verdict
from jobs.signing.objections import Objection

STOCK = 60  # containers offered for charging; a shop with more scans the code


@dataclass
class Next:
    """The container to charge from now. machine: it shows itself what it gives, and is not weighed."""

    draw: Draw
    weighed: bool
    location: str
    machine: bool = False

    @property
    def asks(self) -> str:
        """What is to be done with a container that is not on the scale yet, the figure following."""
        if self.machine:
            return "Let it give"
        return "Weigh it first; take" if self.draw.stop_at is None else "By the book, stop when the scale shows"


@dataclass(frozen=True)
class Posting:
    """One thing that signing would post, in words. quantity: mg, or uL of an oil."""

    words: str
    quantity: int
    is_oil: bool
    doubtful: bool


@dataclass
class Figures:
    """What the charge step shows. need, next and later: None or empty where the label's charge is not known.

    on_scale: the charge line whose weight after is missing. differences: for a line, by its key, the weighings
    that disagree with the book. postings: all that signing would post.
    """

    totals: Totals
    need: Missing | None
    next: Next | None
    later: tuple[Draw, ...]
    short: int
    problem: str
    over: int
    on_scale: JobLine | None
    differences: dict[object, list[Reading]] = field(default_factory=dict)
    postings: list[Posting] = field(default_factory=list)

    @property
    def then(self) -> int:
        """What the unit holds once the container at hand has given what it is to give, mg."""
        return self.totals.charged + (self.next.draw.amount if self.next else 0)

    @property
    def done(self) -> bool:
        """Whether the aim is reached and the most is not passed."""
        return self.need is not None and self.need.aim <= 0 and not self.over


def figures_of(
    job: Job, lines: list[JobLine], usual: Scale | None, stock: list[Container], busy: dict[str, Job]
) -> Figures:
    """Everything that the charge step needs, worked out anew from what is entered. stock: containers to charge
    from; busy: those that stand on another draft."""
    problem, totals, holdings = "", Totals(), None
    try:
        totals, holdings = preview(job, lines, usual)
    except Refused as refused:
        problem = refused.message
    need = missing(totals.charged, job.charge_min_mg, job.charge_max_mg, job.unit.charge_nominal_mg)
    on_scale = next((line for line in lines if line.action == "charge" and line.is_on_scale), None)
    draws, short, following = (), 0, None
    if need is not None and job.substance and not problem:
        following, draws, short = _plan(on_scale, need, holdings, stock, busy)
    over = max(0, -need.most) if need else 0
    found = Figures(totals, need, following, draws, short, problem, over, on_scale)
    if holdings is not None:
        found.differences = _differences(lines, holdings)
        found.postings = _postings(holdings)
    return found


def _differences(lines: list[JobLine], holdings: Holdings) -> dict[object, list[Reading]]:
    """The sheet's readings, which stand in the order of the lines, given back to their lines."""
    waiting: dict[str, list[Reading]] = {}
    for reading in holdings.postings.readings:
        waiting.setdefault(reading.code, []).append(reading)
    found = {}
    for line in lines:
        if line.container is None or line.before is None or not (line.is_on_scale or line.amount is not None):
            continue
        readings = waiting.get(line.container.code, [])
        count = 1 if line.quantity is not None else 2
        found[line.key] = [reading for reading in readings[:count] if reading.difference]
        del readings[:count]
    return found


def doubtful(reading: Reading) -> bool:
    """Whether weighing alone cannot explain what a reading says."""
    return reading.outcome in {cls.word for cls in UNEXPLAINED}


def difference_said(reading: Reading, unit: str) -> str:
    """A weighing that disagrees with the book, as a sentence. unit: what the reader is shown masses in."""
    way = "more" if reading.difference > 0 else "less"
    explained = show(reading.tolerance, unit)
    said = f"{reading.code}: the scale says {show(abs(reading.difference), unit)} {way} than the book"
    if not doubtful(reading):
        return f"{said}, within what weighing can tell ({explained}). It is posted as {reading.outcome}."
    return f"{said}; weighing can explain {explained}. Weigh again; if it stands, it is posted as {reading.outcome}."


def _postings(holdings: Holdings) -> list[Posting]:
    """What the sheet would move, the same way added up, in the order of the first of each."""
    sums: dict[tuple[Spot, Spot], int] = {}
    for transfer in holdings.postings.transfers:
        way = transfer.source, transfer.target
        sums[way] = sums.get(way, 0) + transfer.quantity
    found = []
    for (source, target), quantity in sums.items():
        held = holdings.containers.get(source.name) or holdings.containers.get(target.name)
        found.append(
            Posting(
                f"{spot_said(source)} to {spot_said(target)}",
                quantity,
                held is not None and held.is_oil,
                bool({source.cls, target.cls} & UNEXPLAINED),
            )
        )
    return found


def _plan(
    on_scale: JobLine | None, need: Missing, holdings: Holdings | None, stock: list[Container], busy: dict[str, Job]
) -> tuple[Next | None, tuple[Draw, ...], int]:
    """The container to charge from now, those after it, and what they are short of the least."""
    offered = []
    for container in stock:
        held = holdings.containers.get(container.code) if holdings else None
        content = held.balance if held else container.content
        tare = held.tare if held else container.tare_mg
        opened = container.opened_on is not None or held is not None
        gross = None if tare is None or not container.traits.on_scale else tare + content
        if (opened and content < WORTH_TAKING_MG) or container.code in busy or container.retired_on:
            continue
        offered.append(Available(container.code, content, gross, opened))
    known = {container.code: container for container in stock}
    first = None
    if on_scale is not None and need.aim > 0:
        code = on_scale.container.code
        content = _content(on_scale)
        amount = min(content, need.aim)
        first = Next(Draw(code, amount, on_scale.before - amount, amount == content), True, "")
        need = Missing(need.least - amount, need.aim - amount, need.most - amount)
        offered = [one for one in offered if one.code != code]
    found = plan(need, offered)
    draws = found.draws
    if first is None and draws:
        container = known[draws[0].code]
        place = container.location.name if container.location else ""
        first, draws = Next(draws[0], False, place, not container.traits.on_scale), draws[1:]
    return first, draws, found.short


def _content(line: JobLine) -> int:
    """What is in a container that was weighed before: by the scale, or by the holdings where it has no tare yet."""
    container = line.container
    return container.content if container.tare_mg is None else max(0, line.before - container.tare_mg)


def static(job: Job) -> Static | None:
    """What the pressure at rest says; None where it, the air's temperature or the refrigerant is not known."""
    if job.static_pa is None or job.ambient_c is None or not job.substance:
        return None
    return static_verdict(job.substance, job.ambient_c, job.static_pa)


def oil(job: Job, totals: Totals) -> OilPlan:
    """The oil to add by what was replaced and drained."""
    drained = {"compressor": job.compressor_drained_ul, "accumulator": job.accumulator_drained_ul}
    known = parts()
    return oil_plan([part for part in job.parts if part in known], drained, totals.oil_drained)


@dataclass(frozen=True)
class Earlier:
    """A visit before this one, and what the unit lost from it to the one that followed."""

    job: Job
    loss: Loss | None


def earlier(visits: list[Job], full_mg: int | None) -> list[Earlier]:
    """visits: signed jobs of a unit, the latest first."""
    seen = [Visit(one.day, one.charged_mg, one.recovered_mg, one.evacuated) for one in visits]
    losses = [loss_between(before, after, full_mg) for before, after in zip(seen[1:], seen, strict=False)]
    return [Earlier(job, loss) for job, loss in zip(visits, [None, *losses], strict=False)]


def missing_steps(job: Job, lines: list[JobLine], saved: dict[str, JobStep]) -> list[Step]:
    """Steps that hold nothing and were not passed over with a reason. Where entries are made, what is said beside
    them is not enough."""
    entered = set(STEP_OF.values())
    done = {STEP_OF[line.action] for line in lines}
    done |= {key for key, one in saved.items() if one.skipped or key not in entered}
    return [step for key, step in STEPS.items() if key not in done]


def with_reasons(job: Job, standing: list[Objection], problem: str) -> list[dict]:
    """What stands between the draft and its signature, each with the reason given so far. problem: why the lines
    could not be posted as they are, blank where they can."""
    found = list(standing)
    if problem and not any(one.refuses for one in found):
        found.append(Objection("problem", problem, True, "charge"))
    return [
        {
            "it": one,
            "reason": job.reasons.get(one.key, ""),
            "there": one.step if one.step != "sign" else "",
            "usual": USUAL_REASONS.get(one.key, ()),
        }
        for one in found
    ]


# Reasons that are given by one tap: what is usual in the trade, common practice, no source.
USUAL_REASONS = {
    "under": ("Topped up: the unit was not empty",),
    "no-range": ("No label, and none in the paper at hand",),
    "evacuation": ("The unit was not opened",),
    "hold": ("The unit was not opened",),
}
