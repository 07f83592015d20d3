"""The job sheet: one page for a normal job, that a customer understands and an inspector accepts.

A signed job's sheet is made from its record, so that the same job gives the same bytes: the moment on it is the
signature's, the digest that of the job's own voucher, and unit and people are called as they were when it was signed,
or by their codes where their words were erased since. The customer is whoever owned the unit then, called as now.
"""

import io
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, Spacer, Table

from inventory.codes.queries import names_of
from inventory.ledger.accounts import HOLDING, AccountClass
from inventory.ledger.models import Voucher
from inventory.measures.quantity import show
from inventory.paper.document import (
    MARGIN,
    PLAIN,
    Foot,
    QrCode,
    build,
    entries_table,
    facts_table,
    figures_band,
    text,
)
from inventory.paper.foot import Origin, foot
from inventory.paper.footnotes import Footnotes
from inventory.shop.models import Shop
from inventory.verdicts.explaining import Explained
from jobs.drafts.models import Job, JobLine
from jobs.drafts.signed import Signed, signed
from jobs.drafts.wording import NONE, Reader, Section, sections_of
from jobs.lines.totals import totals_of
from jobs.sheet.evidence import customer_signed, photos, read_from_scales
from jobs.sheet.reasons import reasons_of
from jobs.signing.detail import unit_about
from jobs.signing.judged import judged

WIDTH = A4[0] - 2 * MARGIN


@dataclass(frozen=True)
class Said:
    """How the sheet calls people and things, and how it writes a mass (mg) and a volume (uL). doubled: a mass is
    written in two units."""

    technician: str
    signed_by: str
    customer: str
    unit: str
    vin: str
    mass: Callable[[int], str]
    volume: Callable[[int], str]
    doubled: bool
    others: Sequence[str] = ()


def job_sheet(job: Job) -> bytes:
    """The PDF of a job, drawn from its record; a draft says on it that nothing is posted. Needs unit, technician and
    voucher loaded."""
    shop = Shop.current()
    stood = signed(job)
    job, lines, voucher = stood.job, stood.lines, job.voucher
    said = said_of(stood)
    paper = foot(
        f"Job {job.title}",
        Origin(
            said.signed_by,
            job.signed_at or job.started_at,
            (voucher.number, voucher.digest) if voucher else None,
        ),
        place="job",
        substance=job.substance or None,
        draft=voucher is None,
    )
    reader = Reader(said.mass, said.volume, "{:%Y-%m-%d %H:%M}".format, shop.zone)
    sections = sections_of(job, shop, reader)
    told, notes = judged(job.verdicts), Footnotes()
    grades = _grades(lines, voucher)
    story = [
        *_head(job, voucher, said, stood.erased, notes.mark(*told.certificate)),
        *_figures(job, lines, said),
        *_section(sections["found"]),
        *_recovered(lines, said, grades),
        *_section(sections["tested"]),
        *_section(sections["evacuation"]),
        *_oil(lines, said),
        *_charged(job, lines, said, grades),
        *_section(sections["reckoned"]),
        *_section(sections["after"]),
        *_section(_marked(reasons_of(job, stood.steps), notes)),
        *_ruled(told.others, notes),
        *read_from_scales(lines),
        *_note(sections["note"]),
        *customer_signed(job, shop),
        *_signature(job, voucher, said, shop),
        *notes.story(),
        *_cautions(paper),
        *photos(job, lines, reader),
    ]
    out = io.BytesIO()
    build(out, story, replace(paper, cautions=()))  # whole in the text: the foot has room for two lines
    return out.getvalue()


def said_of(stood: Signed) -> Said:
    """As they were called when it was signed; a customer as now: their name may change."""
    unit, person = stood.unit, stood.technician
    mass, volume, doubled = person.mass_unit, person.volume_unit, person.mass_unit not in {"g", "kg"}

    def shown(milligrams: int) -> str:
        written = _together(show(milligrams, mass))
        return f"{written} ({_together(show(milligrams, 'g'))})" if doubled else written

    return Said(
        person.name,
        stood.signer.name if stood.signer else person.name,
        names_of([stood.customer]).get(stood.customer, stood.customer) if stood.customer else "",
        unit_about(unit.title, unit.plate, unit.make_model),
        unit.vin,
        shown,
        lambda microlitres: _together(show(microlitres, volume)),
        doubled,
        stood.others,
    )


def _together(quantity: str) -> str:
    """A quantity whose unit never stands on the next line."""
    return quantity.replace(" ", "\u00a0")


def _grades(lines: list[JobLine], voucher: Voucher | None) -> dict[str, str]:
    """Each container's grade, as it was when refrigerant went out of it or into it on this job."""
    found = {line.container.code: line.container.grade for line in lines if line.container}
    if voucher is None:
        return found
    for movement in voucher.movements.filter(reversal=False).select_related("source", "target"):
        ends = {movement.source_class: movement.source, movement.target_class: movement.target}
        held = next((end for cls, end in ends.items() if cls in HOLDING), None)
        if held and ends.keys() & {AccountClass.UNIT, AccountClass.LINE_LOSS}:
            found[held.name] = held.grade
    return found


# -- from the head to the figures ----------------------------------------------------------------


def _head(job: Job, voucher: Voucher | None, said: Said, erased: bool, marks: str) -> list[Flowable]:
    """marks: of the notes about its certificate."""
    state = text(f"Revision {job.revision}, {'draft' if voucher is None else 'signed'}", "small")
    code = QrCode(voucher.digest) if voucher else Spacer(18 * mm, 18 * mm)
    beside = [
        text(f"Job sheet {job.number}", "title"),
        state,
        Spacer(0, 2 * mm),
        _unit(job, said, marks, WIDTH - 24 * mm),
    ]
    story: list[Flowable] = [Table([[beside, code]], colWidths=[WIDTH - 20 * mm, 20 * mm], style=PLAIN)]
    story.append(Spacer(0, 1 * mm))
    if erased:
        story.append(text("Words of this job were erased since; what was weighed and done stands as it was.", "strong"))
    if job.state == "corrected":
        later = Job.objects.filter(corrects=job).values_list("revision", flat=True).first()
        stands = f"revision {later} stands in its place" if later else "a later one stands in its place"
        story.append(text(f"This revision was corrected; {stands}.", "strong"))
    if job.corrects:
        story.append(text(f"Corrects revision {job.corrects.revision} because: {job.correction_note}", "strong"))
    if job.loaded:
        story.append(text("From the shop's earlier log: what it did not hold is not on this sheet.", "strong"))
    if voucher is None:
        story.append(text("A draft: it is not signed, and nothing is posted.", "strong"))
    return [*story, Spacer(0, 2 * mm)]


def _unit(job: Job, said: Said, marks: str, width: float) -> Table:
    certificate = job.certificate or ("not recorded" if job.voucher_id else "checked at signing")
    pairs = [
        ("Day", job.day.isoformat()),
        ("Customer", said.customer or "not named"),
        ("Technician", said.technician + (f", with {', '.join(said.others)}" if said.others else "")),
        ("Unit", said.unit),
        ("Certificate", f"{certificate} {marks}".strip()),
        ("VIN", said.vin or "not recorded"),
        ("Refrigerant", job.substance or "not recorded"),
        ("Label's charge", label_said(job, said) or "not recorded"),
    ]
    return facts_table(pairs, width, label_share=0.25)


def label_said(job: Job, said: Said) -> str:
    least, most = job.charge_min_mg, job.charge_max_mg
    if least is None or most is None:
        return f"at least {said.mass(least)}" if least is not None else f"at most {said.mass(most)}" if most else ""
    return said.mass(least) if least == most else f"{said.mass(least)} to {said.mass(most)}"


def verdict_said(job: Job, charged: int, said: Said) -> str:
    least, most = job.charge_min_mg, job.charge_max_mg
    if not charged or (least is None and most is None):
        return ""
    if least is not None and charged < least:
        return f"{said.mass(least - charged)} under the label"
    if most is not None and charged > most:
        return f"{said.mass(charged - most)} over the label"
    return "within the label's range"


def _figures(job: Job, lines: list[JobLine], said: Said) -> list[Flowable]:
    totals, whole = totals_of(lines), job.substance or "refrigerant"
    oils = " and ".join(dict.fromkeys(_substance(line) for line in lines if line.action == "oil-add"))
    cells = [
        ("Taken out of the unit", said.mass(totals.recovered), whole),
        ("Put into the unit", said.mass(totals.charged), verdict_said(job, totals.charged, said) or whole),
        ("Oil taken out", said.volume(totals.oil_drained), ""),
        ("Oil put in", said.volume(totals.oil_added), oils),
    ]
    # A second unit stands below the figure, small: 15.27 oz, and 433 g, within the label's range.
    cells = [(label, *_below(figure, word)) for label, figure, word in cells]
    return [figures_band(cells, WIDTH)]


def _below(figure: str, word: str) -> tuple[str, str]:
    first, _, second = figure.partition(" (")
    return first, ", ".join(filter(None, [second.removesuffix(")"), word]))


def _substance(line: JobLine) -> str:
    return line.container.substance.code if line.container and line.container.substance else ""


# -- the work, in its order ----------------------------------------------------------------------


def _section(section: Section) -> list[Flowable]:
    """Facts side by side; free words that are long run on over pages below them."""
    long = [one for one in section.facts if one.free and (len(one.value) > 80 or "\n" in one.value)]
    pairs = [(one.label, one.value) for one in section.facts if one not in long]
    columns = 3 if len(pairs) > 4 and all(len(value) <= 12 for _, value in pairs) else 2
    share = 0.25 if columns == 2 else 0.35
    story: list[Flowable] = [facts_table(pairs, WIDTH, columns=columns, label_share=share)] if pairs else []
    for one in long:
        story += [text(one.label, "small"), text(one.value)]
    return [CondPageBreak(16 * mm), text(section.title, "heading"), *story] if story else []


def _weights(line: JobLine, said: Said) -> list[str]:
    """Before, after, net and the note of a line; a quantity that was not weighed says so."""
    how, note = "", line.note
    if line.quantity is not None:
        machine = line.container is not None and not line.container.traits.on_scale
        how = "as the machine showed" if machine else "not weighed"
    elif line.amount is None:
        how = "not weighed yet"
    before, after = (NONE if weight is None else said.mass(weight) for weight in (line.before, line.after))
    net = NONE if line.amount is None else said.mass(line.amount)
    return [line.scale_said or NONE, before, after, net, "; ".join(filter(None, [how, note]))]


HEADER = ("Container", "Refrigerant", "Grade", "Scale", "Before", "After", "Net", "Note")
SHARES = (0.15, 0.11, 0.10, 0.08, 0.12, 0.12, 0.12, 0.20)
SHARES_DOUBLED = (0.13, 0.11, 0.09, 0.07, 0.155, 0.155, 0.155, 0.135)
NUMERIC = (False, False, False, False, True, True, True, False)


def _entries(rows: list[list[str | None]], strong: set[int], said: Said) -> Table:
    shares = SHARES_DOUBLED if said.doubled else SHARES
    return entries_table(HEADER, rows, [share * WIDTH for share in shares], NUMERIC, strong=strong)


def _rows(lines: list[JobLine], action: str, said: Said, grades: dict[str, str]) -> list[list[str | None]]:
    return [
        [line.container.code, _substance(line), grades.get(line.container.code, ""), *_weights(line, said)]
        for line in lines
        if line.action == action
    ]


def _titled(title: str, table: Table) -> list[Flowable]:
    """A table with its title; a long one begins where the title stands and runs on."""
    return [CondPageBreak(24 * mm), text(title, "heading"), table]


def _recovered(lines: list[JobLine], said: Said, grades: dict[str, str]) -> list[Flowable]:
    rows = _rows(lines, "recover", said, grades)
    if not rows:
        return []
    if len(rows) > 1:
        rows.append(["Recovered in all", *[None] * 5, said.mass(totals_of(lines).recovered), ""])
    return _titled("Refrigerant recovered", _entries(rows, {len(rows) - 1} if len(rows) > 1 else set(), said))


def _oil(lines: list[JobLine], said: Said) -> list[Flowable]:
    rows = [
        [
            "taken out" if line.action == "oil-drain" else "put in",
            line.container.code if line.container else NONE,
            _substance(line) or NONE,
            NONE if line.amount is None else said.volume(line.amount),
            line.note,
        ]
        for line in lines
        if line.is_oil
    ]
    if not rows:
        return []
    widths = [share * WIDTH for share in (0.15, 0.21, 0.21, 0.12, 0.31)]
    header = ("Oil", "Container", "Kind", "Volume", "Note")
    return _titled("Oil", entries_table(header, rows, widths, (False, False, False, True, False)))


def _charged(job: Job, lines: list[JobLine], said: Said, grades: dict[str, str]) -> list[Flowable]:
    rows = _rows(lines, "charge", said, grades)
    if not rows:
        return []
    totals, strong = totals_of(lines), set()
    if totals.line_loss:
        rows.append(["Left the containers", *[None] * 5, said.mass(totals.left), ""])
        for line in lines:
            if line.action == "line-loss":
                rows.append(["Line loss", *[None] * 5, said.mass(-(line.amount or 0)), line.note])
    if totals.line_loss or len(rows) > 1:
        strong = {len(rows)}
        verdict = verdict_said(job, totals.charged, said)
        rows.append(["Put into the unit", *[None] * 5, said.mass(totals.charged), verdict])
    return _titled("Refrigerant charged", _entries(rows, strong, said))


def _marked(section: Section, notes: Footnotes) -> Section:
    """A section with the marks of its notes."""
    facts = [replace(one, value=f"{one.value} {notes.mark(*one.why)}") if one.why else one for one in section.facts]
    return Section(section.title, facts)


def _ruled(found: Iterable[Explained], notes: Footnotes) -> list[Flowable]:
    """What the rulebook said of the job itself when it was signed."""
    said = [text(f"{one.said} {notes.mark(one)}") for one in found]
    return [CondPageBreak(16 * mm), text("By the rulebook, when it was signed", "heading"), *said] if said else []


def _note(note: Section) -> list[Flowable]:
    """Words under their heading, without a label beside them."""
    words = [text(one.value) for one in note.facts]
    return [CondPageBreak(16 * mm), text(note.title, "heading"), *words] if words else []


def _cautions(paper: Foot) -> list[Flowable]:
    return [Spacer(0, 2 * mm), text(f"Cautions: {' '.join(paper.cautions)}", "fine")] if paper.cautions else []


def _signature(job: Job, voucher: Voucher | None, said: Said, shop: Shop) -> list[Flowable]:
    if voucher is None:
        return []
    if job.loaded:
        signed = f"Loaded from the shop's earlier log on {voucher.recorded_at[:10]} by {voucher.recorded_by}"
    else:
        signed = f"{job.signed_at.astimezone(shop.zone):%Y-%m-%d %H:%M %Z} by {said.signed_by}"
    pairs = [("Signed", signed), ("Voucher", f"{voucher.number}, revision {job.revision}"), ("Digest", voucher.digest)]
    table = facts_table(pairs, WIDTH, columns=1, label_share=0.125)
    return [KeepTogether([text("Signature", "heading"), table])]
