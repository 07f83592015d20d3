"""What the page of a draft is drawn from: its steps' forms, its entries, and the figures beside them."""

import datetime as dt
from dataclasses import dataclass

from django.http import HttpRequest, QueryDict

from inventory.containers.models import Container, Location, Scale
from inventory.containers.oil_age import is_too_old
from inventory.containers.preview import WouldPost
from inventory.containers.safe_fill import room_left
from inventory.ledger.queries import last_seal
from inventory.measures.days import said_day
from inventory.measures.quantity import show
from inventory.reference.rulebook import Rulebook
from inventory.shop.clock import today
from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from jobs.drafts.actions import kept_apart
from jobs.drafts.clocks import next_clock
from jobs.drafts.hold import vacuum
from jobs.drafts.models import Job, JobLine
from jobs.drafts.photos import photos_of
from jobs.drafts.queries import chargeable, earlier_jobs, entries_of, for_recovery_and_oil, in_use, order_asked
from jobs.leaks.notices import unit_notices
from jobs.lines.posting import ACTIONS
from jobs.pages.figures import (
    STOCK,
    Figures,
    difference_said,
    doubtful,
    earlier,
    figures_of,
    missing_steps,
    objections_with_reasons,
    oil,
    static,
)
from jobs.pages.forms import STEPS, HoseForm, LineForm, PhotoForm
from jobs.people.models import Person
from jobs.signing.actions import would_sign
from jobs.units.models import Unit
from jobs.units.tables import charge_text

EARLIER = 8  # visits shown before the first step
OFFERED = 40  # containers to pick from in each kind of entry; any other is named by its code
PLACE = "charge_from"  # in the session: the place whose containers a person charges from


def label_range(shown: Job, person: Person) -> str:
    unit = Unit(charge_min_mg=shown.charge_min_mg, charge_max_mg=shown.charge_max_mg)
    return charge_text(unit, person.mass_unit)


def context(request: HttpRequest, shown: Job, **more: object) -> dict[str, object]:
    """Everything on a draft's page. more: a form that came back with errors: a step's by its name, an entry's
    as `line`, an entry's from beside the figures as `quick`."""
    person = request.user
    lines = entries_of(shown)
    scales = list(Scale.objects.all())
    usual = next((scale for scale in scales if scale.usual), None)
    scales = [scale for scale in scales if not scale.retired]
    places = list(Location.objects.filter(closed=False))
    place = next((one for one in places if one.pk == request.session.get(PLACE)), None)
    stock = []
    if shown.substance:
        stock = list(chargeable(shown.substance, place.pk if place else None, shown.day)[:STOCK])
    codes = [container.code for container in stock] + [line.container.code for line in lines if line.container]
    busy = in_use(codes, shown)
    figures = figures_of(shown, lines, usual, stock, busy)
    saved = {one.step: one for one in shown.steps.select_related("by")}
    apart = kept_apart(shown)
    rules = request.shop.rules
    choices = _choices(shown, stock, busy, person, apart is not None and apart.apart, request.shop)
    at_hand = AtHand(person, scales, choices, busy, request.GET.get("scanned", "")[:60])
    if more.get("line"):
        _offer(more["line"], choices)
    said = {
        "job": shown,
        **_in_the_ledger(shown, lines, usual),
        "unit": shown.unit,
        "lines": lines,
        "figures": figures,
        "quick": more.get("quick") or _quick(figures, person, scales),
        "differences": _differences(figures, figures.on_scale, person),
        "places": places if len(places) > 1 else [],
        "place": place,
        "range": label_range(shown, person),
        "vacuum": vacuum(shown, request.shop),
        "next_clock": next_clock(shown),
        "objections": objections_with_reasons(shown, lines, usual, request.shop, figures.problem),
        "earlier": earlier(list(earlier_jobs(shown, EARLIER)), shown.unit.charge_target_mg),
        "saved": saved,
        "skip": more.get("skip"),
        "missing": missing_steps(shown, lines, saved),
        "identity": apart,
        "static": static(shown),
        "oil_plan": oil(shown, figures.totals),
        "notices": unit_notices(shown.unit),
        "cautions": {
            step: _cautions(rules.cautions(step, shown.day, shown.substance or None))
            for step in ("identify", "recover", "evacuate", "oil", "charge", "leak-check")
        },
        "entries": _entries(lines, figures, at_hand, more.get("line")),
        "forms": {name: more.get(name) or form(job=shown, person=person) for name, form in STEPS.items()},
        "hose": HoseForm(),
        "photos": list(photos_of(shown)),
        "photo": more.get("photo") or PhotoForm(auto_id="photo-%s"),
        "photo_error": more.get("photo_error", ""),
        "may_sign": person.pk == shown.technician_id or person.role == "owner",
        "error": more.get("error", ""),
    }
    return {**said, "open": _open(said, more.get("step", ""))}


STAYS_OPEN = {"recover", "evacuate", "oil", "photos"}  # of which more than one thing is entered


def _open(said: dict, answered: str) -> set[str]:
    """The steps that are not folded away: what is wrong stands in them, or more is wanted there. answered: the step
    that was just saved, blank where the whole page was asked for."""
    entries = {"recover": ("recover",), "oil": ("oil_add", "oil_drain")}
    found = {name for name, form in said["forms"].items() if form.errors}
    found |= {name for name, of in entries.items() if any(said["entries"][one]["empty"].errors for one in of)}
    found |= {answered} & STAYS_OPEN
    if said["skip"]:
        found.add(said["skip"]["step"])
    if not said["job"].substance or not said["range"]:
        found.add("start")
    if said["identity"] and said["identity"].apart:
        found.add("identify")
    if said["static"] and not said["static"].agrees:
        found.add("check")
    if said["photo"].errors or said["photo_error"]:
        found.add("photos")
    return found


def _cautions(found: tuple) -> dict[str, list]:
    """Those that are read at once, and the others. The one about local rules stands on every page."""
    first, more = ([one for one in part if one.key != "local-rules"] for part in (found[:3], found[3:]))
    return {"first": first, "more": more}


def _in_the_ledger(shown: Job, lines: list[JobLine], usual: Scale | None) -> dict[str, object]:
    """What is to be said of its voucher before the signature."""
    return {
        "sealed_through": _sealed_over(shown),
        "order": _order(shown, lines),
        "would_post": _more_than_itself(shown, lines, usual),
    }


def _sealed_over(shown: Job) -> dt.date | None:
    """The last sealed day, where the job is not after it: then what it moves is posted today."""
    seal = last_seal() if shown.day < today() else None
    return seal.through if seal and shown.day <= seal.through else None


def _order(shown: Job, lines: list[JobLine]) -> list[tuple[int, str]]:
    """The acts of its day among which a job has to be put."""
    asked = order_asked(shown, lines) if shown.day < today() else None
    return asked.choices if asked else []


def _more_than_itself(shown: Job, lines: list[JobLine], usual: Scale | None) -> list[WouldPost]:
    """What signing would post, where that is more than the job's own voucher of its own day: of a correction, or of a
    job of an earlier day after which something was recorded. Any other job is spared the question."""
    if not shown.corrects_id and shown.day >= today():
        return []
    try:
        found = would_sign(shown, lines, usual)
    except Refused:  # said beside the lines, or asked below
        return []
    return found if len(found) > 1 or found[0].day != shown.day else []


def _quick(figures: Figures, person: Person, scales: list[Scale]) -> LineForm | None:
    """The one weight that is wanted now, beside the figures: after the charge that runs, else before the next."""
    if figures.on_scale is not None:
        return quick_form(person, scales, asked="after", line=figures.on_scale)
    if figures.next is not None and not figures.over:
        asked = "quantity" if figures.next.machine else "before"
        return quick_form(person, scales, asked=asked, code=figures.next.draw.code)
    return None


# What the one field beside the figures may ask of a charge: the entry's field, and its label.
ASKED = {"before": "Weight of {} before", "after": "Weight of {} after", "quantity": "What {} says it gave"}


def quick_form(
    person: Person,
    scales: list[Scale],
    data: QueryDict | None = None,
    *,
    asked: str,
    line: JobLine | None = None,
    code: str = "",
) -> LineForm:
    """A charge of which one field is asked, one of ASKED. The rest of the entry goes along unseen, as it is."""
    form = LineForm(data, action="charge", person=person, scales=scales, line=line)
    form.auto_id = "charge-quick-%s"
    form.asked = asked
    if code:
        form.initial["container"] = code
    field = form.fields[asked]
    field.label = f"{ASKED[asked].format(form['container'].value() or 'the container')}, {field.unit}"
    field.required = True
    field.error_messages["required"] = "Type what the display shows."
    return form


@dataclass(frozen=True)
class AtHand:
    """What an entry may name: scales, containers to pick from by action; busy: those that stand on another draft.
    scanned: the code of a label, blank where none was."""

    person: Person
    scales: list[Scale]
    choices: dict[str, list]
    busy: dict[str, Job]
    scanned: str


def _entries(lines: list[JobLine], figures: Figures, at_hand: AtHand, came_back: LineForm | None) -> dict[str, dict]:
    """For each action: its lines with their forms, and the empty form."""
    found = {}
    back = (came_back.data.get("action"), came_back.data.get("key")) if came_back is not None else None
    known = {str(line.key) for line in lines}
    for action in ACTIONS:
        of = {"action": action, "person": at_hand.person, "scales": at_hand.scales}
        rows = [
            {
                "line": line,
                "form": came_back if back == (action, str(line.key)) else LineForm(**of, line=line),
                "differences": _differences(figures, line, at_hand.person),
                "busy": at_hand.busy.get(line.container.code) if line.container else None,
            }
            for line in lines
            if line.action == action
        ]
        empty = LineForm(**of, choices=at_hand.choices.get(action))
        if action == "charge" and figures.next and not figures.next.weighed:
            empty.initial["pick"] = figures.next.draw.code
        if "container" in empty.fields and at_hand.scanned:
            empty.initial["container"] = at_hand.scanned
        if back is not None and back[0] == action and back[1] not in known:
            empty = came_back
        found[action.replace("-", "_")] = {"rows": rows, "empty": empty}
    return found


def _differences(figures: Figures, line: JobLine | None, person: Person) -> list[dict]:
    """What a line's weighings say against the book, as sentences."""
    return [
        {"said": difference_said(reading, person.mass_unit), "doubtful": doubtful(reading)}
        for reading in (figures.differences.get(line.key, ()) if line else ())
    ]


def _offer(form: LineForm, choices: dict[str, list]) -> None:
    if "pick" in form.fields:
        form.offer(choices.get(form.data.get("action"), []))


def _choices(
    shown: Job,
    stock: list[Container],
    busy: dict[str, Job],
    person: Person,
    apart: bool,
    shop: Shop,
) -> dict[str, list]:
    """For each action that names a container: (code, words) of those to pick from. apart: what is recovered goes
    only where mixed refrigerant is kept."""
    others = list(for_recovery_and_oil(shown.substance, shown.day)[: 2 * OFFERED])
    if apart:
        others = [one for one in others if one.is_oil or takes_mixed(one)]
    return {
        "charge": [(one.code, _charge_words(one, busy.get(one.code), person)) for one in stock[:OFFERED]],
        "recover": [(one.code, _recover_words(one, shown, person, shop.rules)) for one in others if not one.is_oil],
        "oil-add": [(one.code, _oil_words(one, person, shop.oil_months, shown.day)) for one in others if one.is_oil],
    }


def takes_mixed(one: Container) -> bool:
    return one.traits.recovers and not one.traits.recycles and (one.grade == "mixed" or not one.content)


def _words(*parts: str) -> str:
    return " · ".join(part for part in parts if part)


def _charge_words(one: Container, busy: Job | None, person: Person) -> str:
    return _words(
        one.code,
        _holds(one, person.mass_unit),
        one.location.name if one.location else "",
        one.grade if one.grade != "virgin" else "",
        "opened" if one.opened_on else "",
        f"in use on job {busy.number}" if busy else "",
    )


def _holds(one: Container, unit: str) -> str:
    """What is in it; of one that is retired by now its book says nothing of the day it was used."""
    return f"retired {said_day(one.retired_on)}" if one.retired_on else show(one.content, unit)


def _recover_words(one: Container, job: Job, person: Person, rules: Rulebook) -> str:
    """The room left in it comes first: it decides which cylinder is taken."""
    substance = one.substance.code if one.substance else job.substance
    limits = rules.safe_fill(one.kind, job.day)
    room = room_left(one.cylinder, substance, one.content, limits) if substance else None
    fits = "room not known" if room is None else f"room for {show(max(0, room), person.mass_unit)}"
    fits = f"retired {said_day(one.retired_on)}" if one.retired_on else fits
    return _words(one.code, fits, one.grade, one.location.name if one.location else "")


def _oil_words(one: Container, person: Person, months: int, day: dt.date) -> str:
    opened = f"opened {said_day(one.opened_on)}" if one.opened_on else ""
    opened += ", too long open" if is_too_old(one.opened_on, months, day) else ""
    return _words(one.code, one.substance.code, _holds(one, person.volume_unit), opened)
