"""What the page of a draft is drawn from: its steps' forms, its entries, and the figures beside them."""

import datetime as dt
import json
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from django.http import HttpRequest

from inventory.containers.keepers import place_of
from inventory.containers.models import Container, Location, Scale
from inventory.containers.preview import WouldPost
from inventory.ledger.queries import last_seal
from inventory.scales.sending import scales_said
from inventory.shop.clock import today
from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from jobs.drafts.actions import kept_apart
from jobs.drafts.clocks import next_clock
from jobs.drafts.hold import practice, vacuum
from jobs.drafts.models import Job, JobLine
from jobs.drafts.photos import photos_told
from jobs.drafts.practised import is_practice, within_reach
from jobs.drafts.queries import (
    chargeable,
    customer_of,
    earlier_jobs,
    entries_of,
    for_recovery_and_oil,
    in_use,
    order_asked,
)
from jobs.drafts.wording import reader_of
from jobs.leaks.notices import unit_notices
from jobs.lines.posting import ACTIONS
from jobs.pages.ahead import ahead
from jobs.pages.beside import beside
from jobs.pages.choices import OFFERED, choices, takes_mixed
from jobs.pages.entry_forms import HoseForm, LineForm, PhotoForm
from jobs.pages.figures import (
    STOCK,
    Figures,
    difference_said,
    doubtful,
    earlier,
    figures_of,
    missing_steps,
    oil,
    static,
    with_reasons,
)
from jobs.pages.finger import finger
from jobs.pages.flow import BESIDE, face_of, flow_of, leaks_at
from jobs.pages.form_fields import GAUGE_UNITS
from jobs.pages.forms import STEPS
from jobs.pages.quick import Into, charge_now, into_next, into_of, oil_now, plan_said, recover_now
from jobs.people.models import Person
from jobs.planning.identity import Identity
from jobs.signing.actions import standing_and_foreseen, would_sign
from jobs.units.models import Unit
from jobs.units.tables import charge_text

EARLIER = 8  # visits shown before the first step
VACUUM_UNITS = GAUGE_UNITS["vacuum"]
VACUUM_IN = "vacuum_in"  # in the session: the unit last used for a vacuum
PLACE = "charge_from"  # in the session: the place whose containers a person charges from


def label_range(shown: Job, person: Person) -> str:
    unit = Unit(charge_min_mg=shown.charge_min_mg, charge_max_mg=shown.charge_max_mg)
    return charge_text(unit, person.mass_unit)


def context(request: HttpRequest, shown: Job, **more: object) -> dict[str, object]:
    """Everything on a draft's page. more: a form that came back with errors: a step's by its name, an entry's
    as `line`, an entry's of which one field is asked as `quick`."""
    at_hand = _at_hand(request, shown)
    said = _of_the_work(request, shown, at_hand, more) | _of_the_steps(request, shown, at_hand, more)
    said |= beside(request, shown, at_hand.lines, more)
    said |= {"unit": shown.unit, "job": shown, "error": more.get("error", "")}
    found = _open(said)
    asked = str(more.get("step", "") or at_hand.scanned_step)
    asked = asked or next(iter(found - {*BESIDE}), "")
    leaks = leaks_at(shown, at_hand.lines, said["under_test"].verdict, said["vacuum"].hold)
    flow = flow_of(shown, at_hand.lines, said["saved"], said["figures"], asked, leaks)
    return {**said, "open": found | {flow.now.name}, "flow": flow}


def _at_hand(request: HttpRequest, shown: Job) -> "AtHand":
    person, lines = request.user, entries_of(shown)
    scales = list(Scale.objects.all())
    places = [] if is_practice(shown) else list(Location.objects.filter(closed=False))
    place = None if is_practice(shown) else _place(request, places)
    stock, customer = [], customer_of(shown)
    if shown.substance:
        found = chargeable(shown.substance, place.pk if place else None, shown.day, customer)
        stock = list(within_reach(shown, found)[:STOCK])
    codes = [container.code for container in stock] + [line.container.code for line in lines if line.container]
    apart = kept_apart(shown)
    others = within_reach(shown, for_recovery_and_oil(shown.substance, shown.day, customer))
    others = list(others[: 2 * OFFERED])
    if apart is not None and apart.apart:
        others = [one for one in others if one.is_oil or takes_mixed(one)]
    scanned = request.GET.get("scanned", "")[:60]
    return AtHand(
        request,
        lines,
        next((scale for scale in scales if scale.usual), None),
        [scale for scale in scales if not scale.retired],
        places,
        place,
        stock,
        others,
        in_use(codes, shown),
        apart,
        scanned,
        step_of(scanned) if scanned else "",
        person,
    )


def _place(request: HttpRequest, places: list[Location]) -> Location | None:
    """The place that was chosen to charge from, else the person's own, such as their van; chosen blank: every place."""
    if PLACE not in request.session:
        return place_of(request.user, places)
    return next((one for one in places if one.pk == request.session[PLACE]), None)


def step_of(code: str) -> str:
    """The step that a container's label leads to; blank where there is no such container."""
    found = Container.objects.filter(code=code, void=False).first()
    if found is None:
        return ""
    takes_recovered = found.traits.recovers and not found.traits.recycles
    return "oil" if found.is_oil else "recover" if takes_recovered else "charge"


def _of_the_work(request: HttpRequest, shown: Job, at_hand: "AtHand", more: dict) -> dict[str, object]:
    """Entries, figures, and what is offered next."""
    person, shop, lines = request.user, request.shop, at_hand.lines
    picks = choices(shown, at_hand.stock, at_hand.others, at_hand.busy, person, shop)
    for came_back in filter(None, (more.get("line"), *(more.get("quick") or {}).values())):
        _offer(came_back, picks)
    figures = figures_of(shown, lines, at_hand.usual, at_hand.stock, at_hand.busy)
    into = _into(shown, at_hand, shop)
    standing, foreseen = standing_and_foreseen(shown, lines, at_hand.usual, shop)
    return {
        **_in_the_ledger(shown, lines, at_hand.usual),
        "lines": lines,
        "figures": figures,
        "into": into,
        "quick": _quick(request, shown, at_hand, figures, into, picks) | (more.get("quick") or {}),
        "differences": _differences(figures, figures.on_scale, person),
        "places": at_hand.places if len(at_hand.places) > 1 else [],
        "place_of": at_hand.place,
        "plan": plan_said(figures, at_hand.stock),
        "machines": json.dumps(at_hand.machines),
        "objections": with_reasons(shown, standing, figures.problem),
        "warnings": ahead(shown, standing, foreseen, into, person.mass_unit),
        "identity": at_hand.apart,
        "oil_plan": oil(shown, figures.totals),
        "entries": _entries(at_hand, figures, picks, more.get("line")),
    }


def _into(shown: Job, at_hand: "AtHand", shop: Shop) -> Into | None:
    """The container that is recovered into: the one on the scale, else the one that is offered."""
    on_scale = at_hand.on_scale("recover")
    if on_scale is not None:
        tare = on_scale.container.tare_mg
        content = None if tare is None else max(0, on_scale.before - tare)
        return into_of(on_scale.container, shown, shop.rules, content)
    others = [one for one in at_hand.others if not one.is_oil]
    if at_hand.scanned_step == "recover":
        others = [one for one in others if one.code == at_hand.scanned] or others
    return into_next(others, shown, shop.rules)


def _quick(
    request: HttpRequest, shown: Job, at_hand: "AtHand", figures: Figures, into: Into | None, picks: dict[str, list]
) -> dict[str, LineForm | None]:
    """For each step, the one reading that is wanted now."""
    scanned = at_hand.scanned if at_hand.scanned_step == "charge" else ""
    bottles = [one for one in at_hand.others if one.is_oil and not one.retired_on]
    if at_hand.scanned_step == "oil":
        bottles.sort(key=lambda one: one.code != at_hand.scanned)
    return {
        "charge": charge_now(request, figures, at_hand.scales, picks["charge"], at_hand.machines, scanned),
        "recover": recover_now(request, at_hand.on_scale("recover"), into, at_hand.scales, picks["recover"]),
        "oil": oil_now(request, shown, bottles, picks["oil-add"]),
    }


def _of_the_steps(request: HttpRequest, shown: Job, at_hand: "AtHand", more: dict) -> dict[str, object]:
    """The forms of the steps, what is known beside them, and who saved them."""
    person, rules = request.user, request.shop.rules
    saved = {one.step: one for one in shown.steps.select_related("by")}
    photos = photos_told(shown, at_hand.lines, reader_of(person, request.shop.zone))
    return {
        "range": label_range(shown, person),
        "vacuum": vacuum(shown, request.shop),
        "face": face_of(shown),
        "hold_minutes": practice(request.shop, shown, "hold_minutes", 10),
        "vacuum_units": VACUUM_UNITS,
        "vacuum_unit": request.session.get(VACUUM_IN, VACUUM_UNITS[0]),
        "next_clock": next_clock(shown),
        "earlier": earlier(list(earlier_jobs(shown, EARLIER)), shown.unit.charge_target_mg),
        "saved": saved,
        "skip": more.get("skip"),
        "missing": missing_steps(shown, at_hand.lines, saved),
        "static": static(shown),
        "notices": unit_notices(shown.unit),
        "cautions": {step: _cautions(rules.cautions(step, shown.day, shown.substance or None)) for step in CAUTIONED},
        "forms": {name: more.get(name) or form(job=shown, person=person) for name, form in STEPS.items()},
        "hose": HoseForm(),
        "photos": photos,
        "photographed": Counter(one.proves for one in photos),
        "scales": scales_said(at_hand.scales),
        "finger": more.get("finger") or finger(shown),
        "photo": more.get("photo") or PhotoForm(auto_id="photo-%s"),
        "photo_error": more.get("photo_error", ""),
        "may_sign": person.pk == shown.technician_id or person.role == "owner",
        "reach": more.get("reach", {}),
    }


CAUTIONED = ("identify", "recover", "evacuate", "oil", "charge", "leak-check")


def _open(said: dict) -> set[str]:
    """The steps beside the one to be done that are not folded away: what is wrong stands in them."""
    entries = {"recover": ("recover",), "oil": ("oil_add", "oil_drain"), "charge": ("charge", "line_loss")}
    found = {name for name, form in said["forms"].items() if form.errors}
    found |= {name for name, of in entries.items() if any(_faulty(said["entries"][one]) for one in of)}
    if said["skip"]:
        found.add(said["skip"]["step"])
    if said["finger"]["form"].errors or said["finger"]["error"]:
        found.add("finger")
    if said["photo"].errors or said["photo_error"]:
        found.add("photos")
    return found


def _faulty(entries: dict) -> bool:
    return bool(entries["empty"].errors or any(row["form"].errors for row in entries["rows"]))


def _cautions(found: Sequence) -> dict[str, list]:
    """Those that are read at once, and the others. The one about local rules stands on every page."""
    found = [one for one in found if one.key != "local-rules"]
    first, more = found[:1], found[1:]
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


@dataclass(frozen=True)
class AtHand:
    """What a draft's page is worked out from. usual: the scale of a weight that names none; stock: containers to charge
    from; others: those to recover into, and bottles of oil; busy: those that stand on another draft; apart: what was
    identified; scanned: the code of a label, blank where none was, and the step that it leads to."""

    request: HttpRequest
    lines: list[JobLine]
    usual: Scale | None
    scales: list[Scale]
    places: list[Location]
    place: Location | None
    stock: list[Container]
    others: list[Container]
    busy: dict[str, Job]
    apart: Identity | None
    scanned: str
    scanned_step: str
    person: Person

    @property
    def machines(self) -> list[str]:
        """The codes of those that are not weighed: they say themselves what they gave or took."""
        found = {one.code for one in (*self.stock, *self.others) if not (one.is_oil or one.traits.on_scale)}
        return sorted(found)

    def on_scale(self, action: str) -> JobLine | None:
        return next((line for line in self.lines if line.action == action and line.is_on_scale), None)


def _entries(at_hand: AtHand, figures: Figures, picks: dict[str, list], came_back: LineForm | None) -> dict[str, dict]:
    """For each action: its lines with their forms, and the empty form."""
    found, lines = {}, at_hand.lines
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
        empty = LineForm(**of, choices=picks.get(action))
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


def _offer(form: LineForm, picks: dict[str, list]) -> None:
    """To pick from again, what was picked among them: of a form that came back."""
    if "pick" in form.fields:
        offered, code = picks.get(form.data.get("action"), []), form.data.get("pick", "")[:60]
        if code and all(one != code for one, _ in offered):
            offered = [(code, code), *offered]
        form.offer(offered)
