"""The sheet for the customer: one page in plain words, of the revision that stands, drawn from its record.

It says nothing of costs, certificates or containers. Texts that would run over its page are cut; the job sheet has them
whole."""

import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from xml.sax.saxutils import escape

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepInFrame, Paragraph, Spacer, Table

from inventory.measures.days import said_day
from inventory.paper.document import DEFERENCE, MARGIN, PLAIN, SOFT, build, known, style, text
from inventory.paper.foot import Origin, foot
from inventory.shop.models import Shop
from jobs.drafts.hold import hold_of, minutes
from jobs.drafts.models import Job, JobLine
from jobs.drafts.signed import Signed, signed
from jobs.drafts.tested import pressure_test_of
from jobs.lines.totals import Totals, totals_of
from jobs.planning.oil_plan import parts
from jobs.sheet.job_sheet import Said, label_said, said_of, verdict_said

WIDTH = A4[0] - 2 * MARGIN
HEIGHT = A4[1] - MARGIN - 32 * mm  # what the foot leaves
# Size in points, and the characters that a text may have, until all fits on the page: first it gets smaller, then cut.
LOOKS = ((13, 1200), (12, 1200), (11, 1200), (10.5, 600), (10.5, 320), (10.5, 180), (10.5, 100))
MORE = "... more on the job sheet"
GENERAL = {"no-flames", "no-venting"}  # cautions of every gas that a customer can heed, by their keys in a rulebook
LEAKS_OUT = (
    "Refrigerant is not used up: what is missing has leaked out. If it cools less than today, have it looked at before "
    "more is put in."
)


def standing(job: Job) -> Job | None:
    """The signed revision of a job that stands; None where none is signed."""
    found = Job.objects.filter(number=job.number, state="signed")
    return found.select_related("unit__customer", "technician", "voucher", "signed_by", "corrects").first()


def customer_sheet(job: Job) -> bytes:
    """The PDF of a signed job. Needs unit, technician and voucher loaded."""
    shop, stood = Shop.current(), signed(job)
    said, job = said_of(stood), stood.job
    paper = foot(
        f"Job {job.title}, for the customer",
        Origin(said.signed_by, job.signed_at, (stood.voucher.number, stood.voucher.digest)),
        place="job",
        substance=job.substance or None,
    )
    for size, most in LOOKS:
        story = _story(stood, said, shop, Look(size, most))
        if _height(story) <= HEIGHT:
            break
    out = io.BytesIO()
    page = KeepInFrame(WIDTH, HEIGHT, story, mode="shrink")  # shrinks nothing that fits
    build(out, [page], replace(paper, cautions=()))
    return out.getvalue()


def _height(story: Sequence[Flowable]) -> float:
    """Points that flowables take, one below the other."""
    return sum(one.wrap(WIDTH, HEIGHT)[1] + one.getSpaceBefore() + one.getSpaceAfter() for one in story)


@dataclass(frozen=True)
class Look:
    """size: in points; most: characters of a text."""

    size: float
    most: int

    def words(self, value: str, **more: object) -> Paragraph:
        name = f"customer-{self.size}-{more}"
        return Paragraph(escape(known(value)), style(name, self.size, **more))


def _story(stood: Signed, said: Said, shop: Shop, look: Look) -> list[Flowable]:
    job, lines = stood.job, stood.lines
    totals = totals_of(lines)
    return [
        text(shop.name, "big"),
        *([look.words(_cut(", ".join(shop.address.splitlines()), 120), color=SOFT)] if shop.address else []),
        Spacer(0, 4 * mm),
        *_head(stood, said, look),
        *_listed("What was done", _done(job, lines, totals, said, shop), look),
        *_listed("Found and not repaired", _left(job, shop), look),
        *_listed("To watch", _watch(job, totals, said), look),
        *_listed("Cautions", _cautions(job, shop), look),
        look.words(DEFERENCE, bold=True, spaceBefore=8),
    ]


def _head(stood: Signed, said: Said, look: Look) -> list[Flowable]:
    job, others = stood.job, ", ".join(stood.others)
    pairs = [
        ("Unit", said.unit),
        ("Day", said_day(job.day)),
        ("Customer", said.customer or "not named"),
        ("Done by", f"{said.technician}{f', with {others}' if others else ''}"),
        ("Refrigerant", job.substance or "not recorded"),
        ("Job", f"{job.number}, revision {job.revision}" if job.revision > 1 else job.number),
    ]
    pairs = [(label, _cut(value, 120)) for label, value in pairs]
    pairs += [("You told us", _cut(job.complaint, look.most))] if job.complaint else []
    rows = [[look.words(label, color=SOFT), look.words(value)] for label, value in pairs]
    story: list[Flowable] = [Table(rows, colWidths=[0.2 * WIDTH, 0.8 * WIDTH], style=PLAIN)]
    if job.revision > 1:
        before = f"It was corrected: this is revision {job.revision}, and what was handed out before no longer counts."
        story.append(look.words(before, bold=True, spaceBefore=6))
    if stood.erased:
        story.append(look.words("Words of this job were erased since; what was weighed and done stands as it was."))
    return story


def _cut(value: str, most: int) -> str:
    """A text on one line; one that is too long ends where it is cut, at a word where there is one."""
    line = " ".join(value.split())
    if len(line) <= most:
        return line
    kept = line[: most - len(MORE) - 1]
    return f"{kept.rpartition(' ')[0] if ' ' in kept[-30:] else kept} {MORE}"


def _listed(title: str, sentences: Iterable[str], look: Look) -> list[Flowable]:
    """Sentences under their heading; nothing where there is none."""
    item = style(f"customer-item-{look.size}", look.size, leftIndent=5 * mm, spaceAfter=2.2)
    said = [
        Paragraph(escape(known(_cut(one, look.most))), item, bulletText="–")  # noqa: RUF001 (a dash)
        for one in sentences
    ]
    heading = style("customer-heading", 15, bold=True, spaceBefore=9, spaceAfter=4)
    return [Paragraph(title, heading), *said] if said else []


def _done(job: Job, lines: list[JobLine], totals: Totals, said: Said, shop: Shop) -> list[str]:
    """In the order of the work."""
    gas = job.substance or "refrigerant"
    found = [
        f"{said.mass(totals.recovered)} of {gas} taken out and kept." if totals.recovered else "",
        f"Repaired: {job.repairs}" if job.repairs else "",
        f"Parts replaced: {', '.join(parts().get(one, one) for one in job.parts)}." if job.parts else "",
        _leak_check(job),
        _test(job, shop),
        _evacuated(job),
        _held(job, shop),
        f"{said.volume(totals.oil_drained)} of old oil taken out." if totals.oil_drained else "",
        f"{said.volume(totals.oil_added)} of oil put in{_oils(lines)}." if totals.oil_added else "",
        _charged(job, totals, said, gas),
        _cools(job),
    ]
    return [one for one in found if one] or ["Nothing was put in or taken out."]


def _leak_check(job: Job) -> str:
    if not job.leak_checked:
        return ""
    how = f" ({job.leak_method})" if job.leak_method else ""
    return f"Checked for leaks{how}: {job.leak_result}."


def _long(ran: float | None) -> str:
    """How long something ran, minutes; blank where that is not known."""
    return f" for {ran:.0f} minute{'' if round(ran) == 1 else 's'}" if ran else ""


def _test(job: Job, shop: Shop) -> str:
    verdict = pressure_test_of(job, shop)
    if verdict is None:
        return ""
    medium = job.test_other or job.get_test_medium_display()
    stood = minutes(job.test_started, job.test_ended)
    long = _long(stood)
    what = {True: "the pressure held", False: "the pressure did not hold", None: "it does not tell whether it is tight"}
    with_gas = f" with {medium}" if medium else ""
    return f"Tested under pressure{with_gas} at {job.test_start_said}{long}: {what[verdict.passed]}."


def _evacuated(job: Job) -> str:
    if not job.evacuated:
        return ""
    ran = minutes(job.evacuation_started, job.evacuation_ended)
    long = _long(ran)
    to = f" to {job.vacuum_said}" if job.vacuum_said else ""
    return f"Air and water pumped out{long}{to}."


def _held(job: Job, shop: Shop) -> str:
    hold = hold_of(job, shop)
    if hold is None:
        return ""
    held = minutes(job.hold_started, job.hold_ended)
    long = _long(held)
    return f"The vacuum was watched{long}: {'it held' if hold.passed else 'it did not hold'}."


def _oils(lines: list[JobLine]) -> str:
    named = (line.container.substance.code for line in lines if line.action == "oil-add" and line.container)
    kinds = " and ".join(dict.fromkeys(named))
    return f", {kinds}" if kinds else ""


def _charged(job: Job, totals: Totals, said: Said, gas: str) -> str:
    if not totals.charged:
        return ""
    label = label_said(job, said)
    asks = f" The label asks for {label}: {verdict_said(job, totals.charged, said)}." if label else ""
    return f"{said.mass(totals.charged)} of {gas} put in.{asks}"


def _cools(job: Job) -> str:
    if job.vent_c is None:
        return ""
    beside = f", with {job.ambient_c:g} °C outside" if job.ambient_c is not None else ""
    return f"Afterwards the air came out at {job.vent_c:g} °C{beside}."


def _left(job: Job, shop: Shop) -> list[str]:
    test, hold = pressure_test_of(job, shop), hold_of(job, shop)
    return [
        *(["A leak was found and is not repaired."] if job.leak_open else []),
        *(["The system did not hold the test pressure."] if test and test.passed is False else []),
        *(["The system did not hold the vacuum: there is water in it, or a leak."] if hold and not hold.passed else []),
    ]


def _watch(job: Job, totals: Totals, said: Said) -> list[str]:
    found = []
    if job.leak_open:
        found.append("The leak lets the refrigerant out again. Have it repaired before it is filled again.")
    elif not job.leak_checked and not job.loaded:
        found.append("It was not checked for leaks.")
    verdict = verdict_said(job, totals.charged, said)
    if "over" in verdict:
        found.append(f"There is more refrigerant in it than its label asks for ({verdict}).")
    if "under" in verdict:
        found.append(f"There is less refrigerant in it than its label asks for ({verdict}).")
    return [*found, LEAKS_OUT]


def _cautions(job: Job, shop: Shop) -> list[str]:
    """Those of the gas at hand, and what everybody can heed."""
    found = shop.rules.cautions("job", job.day, job.substance or None)
    own = [one.sentence for one in found if "*" not in one.substances]
    return [*own, *(one.sentence for one in found if one.key in GENERAL)]
