"""What can be done about an open thing where it stands: the form of the page that does it, which then leads back."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from django import forms
from django.urls import reverse
from django.utils.functional import cached_property
from django.utils.http import urlencode

from inventory.attachments.forms import FileForm
from inventory.containers.forms import WeighForm
from inventory.counting import causes
from inventory.counting.actions import Judged
from inventory.counting.forms import ReasonForm, ReasonOfForm
from inventory.counting.queries import seen
from inventory.counting.said import Found
from inventory.machines.forms import RecycleForm
from inventory.machines.models import Machine
from inventory.measures.quantity import show
from inventory.parties.models import Party
from inventory.scales.forms import CheckForm
from inventory.shipping.forms import ShipmentForm
from inventory.shop.back import BACK
from inventory.shop.clock import today
from jobs.people.models import Person
from shopledger.monthend import queries
from shopledger.monthend.forms import LeaveForm
from shopledger.monthend.queries import Row, Step

YEAR = dt.timedelta(days=365)  # between two checks of a scale: common practice, no source
REASONS_AT_ONCE = 5
PAST = dt.timedelta(days=92)  # of weighings that a cause is read from


@dataclass
class Here:
    """A form on the walk. address: where it posts to. button: its words; fold: the line that it is folded under, blank
    where it stands open. said: what it comes to, in figures. names: of the fields that are shown, the others go along
    unseen. ticks: codes of containers to choose from, with their words."""

    address: str
    button: str
    form: forms.Form | None = None
    names: Sequence[str] = ()
    fold: str = ""
    said: Sequence[str] = ()
    look: str = ""
    ticks: Sequence[tuple[str, str]] = ()
    focused: bool = False

    @cached_property
    def shown(self) -> list[forms.BoundField]:
        return [self.form[name] for name in self.names] if self.form else []

    @property
    def first_blank(self) -> forms.BoundField | None:
        """Where typing begins: at the first field that is shown and says nothing yet, else at the first one."""
        return next((one for one in self.shown if one.value() in (None, "", [])), next(iter(self.shown), None))

    @property
    def unseen(self) -> list[tuple[str, str]]:
        """Names and values of the fields that are not shown and have a value."""
        if self.form is None:
            return []
        rest = [self.form[name] for name in self.form.fields if name not in self.names]
        found = [(one.html_name, one.field.prepare_value(one.value())) for one in rest]
        return [(name, str(value)) for name, value in found if value not in (None, "", False, [])]

    @property
    def brings_a_file(self) -> bool:
        return self.form is not None and self.form.is_multipart()


@dataclass
class Standing:
    """An open row with what can be done about it. link: the page that it leads to, and back from there."""

    row: Row
    link: str
    said: Sequence[str] = ()
    here: list[Here] = field(default_factory=list)
    focused: bool = False


class Doing:
    """Makes the forms of a month's walk for a person. first: the month's first day. counted: what the counts under way
    found, by their numbers."""

    def __init__(self, person: Person, first: dt.date, counted: Mapping[int, Found]):
        self.person, self.first, self.made, self.counted = person, first, 0, counted
        self.month = f"{reverse('month-end')}?month={first:%Y-%m}"

    def back(self, page: str, step: Step, *args: object) -> str:
        return f"{reverse(page, args=args)}?{self.to(step)}"

    def to(self, step: Step) -> str:
        return urlencode({BACK: f"{self.month}&at={step.slug}"})

    def _ids(self) -> str:
        """No two fields of a page have the same id."""
        self.made += 1
        return f"id_{self.made}_%s"

    def rows(self, step: Step) -> list[Standing]:
        make = getattr(self, f"_{step.kind}")
        return [make(step, row) for row in step.rows]

    def _standing(self, step: Step, row: Row, *here: Here, said: Sequence[str] = ()) -> Standing:
        return Standing(row, f"{row.address}?{self.to(step)}", said, list(here))

    def _draft(self, step: Step, row: Row) -> Standing:
        typed = _many(row.of.entered, "entry", "entries")
        give_up = Here(
            self.back("job-drop", step, row.of.pk),
            "Give up this draft",
            fold="Give it up",
            said=[f"{typed} typed, none of which moved anything: it stays readable, but can no longer be signed."],
            look="danger",
        )
        return self._standing(step, row, give_up)

    def _count(self, step: Step, row: Row) -> Standing:
        read = _many(row.of.read, "container is read", "containers are read")
        found = self.counted.get(row.of.pk)
        here = [self._reason_at(step, row, one) for one in found.wanting[:REASONS_AT_ONCE]] if found else []
        if found and found.ready:
            here.append(Here(self.back("count-post", step, row.of.pk), "Post the count", said=found.said))
        give_up = Here(
            self.back("count-abandon", step, row.of.pk),
            "Abandon the count",
            fold="Abandon it",
            said=[f"{read}; nothing of it is posted then."],
            look="danger",
        )
        return self._standing(step, row, *here, give_up, said=() if not found or found.ready else found.said)

    def _reason_at(self, step: Step, row: Row, one: Judged) -> Here:
        """The reason of a difference that a count under way found, without which it is not posted."""
        form = ReasonOfForm(auto_id=self._ids(), initial={"code": one.entry.container.code})
        label = f"Keep the reason of {one.entry.container.code}"
        return Here(self.back("count-reason", step, row.of.pk), label, form, ["reason", "note"])

    def _weigh(self, step: Step, row: Row) -> Standing:
        form = WeighForm(auto_id=self._ids(), container=row.of, person=self.person, among=[])
        return self._standing(step, row, Here(self.back("weigh", step, row.thing), "Post", form, ["gross"]))

    @cached_property
    def _patterns(self) -> tuple[dict[int, causes.Seen], list[causes.Pattern]]:
        found = seen(self.first - PAST, today())
        theirs = seen(self.first - PAST, today(), theirs=True)
        return {**found, **theirs}, [*causes.patterns(list(found.values())), *causes.patterns(list(theirs.values()))]

    def _difference(self, step: Step, row: Row) -> Standing:
        found, known = self._patterns
        one = found.get(row.of.pk)
        likely = causes.likely_reason(one, known) if one else ""
        form = ReasonForm(auto_id=self._ids(), initial={"reason": likely})
        unit = self.person.volume_unit if row.of.container.is_oil else self.person.mass_unit
        beside = f"{show(row.of.difference, unit)}; weighing explains {show(row.of.tolerance, unit)}."
        evidence = causes.of_one(one, known) if one else []
        here = Here(self.back("difference", step, row.of.pk), "Keep the reason", form, ["reason", "note"])
        return self._standing(step, row, here, said=[beside, *evidence])

    @cached_property
    def _recyclers(self) -> list[Machine]:
        return list(Machine.objects.filter(does="recycle", retired_on=None))

    def _settle(self, step: Step, row: Row) -> Standing:
        if row.of.unknown:
            return Standing(row, self.back("identify", step, row.thing), ["It is identified first."])
        if not self._recyclers or row.of.grade != "recovered":
            return self._standing(step, row)
        machine = self._recyclers[0]
        first = {"machine": machine.pk, "standard": min(machine.met, default="")} if len(self._recyclers) == 1 else {}
        form = RecycleForm(auto_id=self._ids(), initial=first)
        form.fields["machine"].choices = [("", "choose"), *((one.pk, str(one)) for one in self._recyclers)]
        here = Here(
            self.back("recycled", step, row.thing),
            "It was recycled",
            form,
            ["machine", "standard", "labelled"],
            fold="It was recycled",
            said=[f"{show(row.of.content, self.person.mass_unit)} {row.of.grade} become recycled; none of it leaves."],
        )
        return self._standing(step, row, here)

    def _scale(self, step: Step, row: Row) -> Standing:
        scale, form = row.of, CheckForm(auto_id=self._ids())
        until, checked = scale.checked_until, scale.check_day
        apart = until - checked if until and checked and until > checked else YEAR
        form.initial = {"reference": scale.check_name or "", "next_due": today() + apart}
        if scale.check_mass:
            form.initial["reference_mg"] = scale.check_mass
        names = ["reference_mg", "as_found_mg", "next_due"]
        here = Here(self.back("scale-check", step, scale.pk), "Keep the check", form, names)
        return self._standing(step, row, here)

    def _paper(self, step: Step, row: Row) -> Standing:
        here = Here(
            self.back("attach-to", step, "voucher", row.of.number), "Attach", FileForm(auto_id=self._ids()), ["file"]
        )
        return self._standing(step, row, here)

    # -- several at once --------------------------------------------------------------------------

    def together(self, step: Step) -> list[Here]:
        """What can be done about all that a step shows: recovered gas sent away, and whatever is left open."""
        found = [self._sending(step)] if step.kind == queries.SETTLE else []
        return [one for one in found if one] + [self._leaving(step)]

    def _leaving(self, step: Step) -> Here:
        form = LeaveForm(auto_id=self._ids(), things=[(row.thing, row.words) for row in step.rows])
        return Here(
            f"{reverse('month-leave', args=[step.slug])}?{self.month.partition('?')[2]}",
            "Leave them open",
            form,
            ["things", "why"],
            fold="Leave open, with a reason",
            said=["The seal and the next month's walk tell it; the next month asks for it again."],
        )

    def _sending(self, step: Step) -> Here | None:
        found = [row.of for row in step.rows if not row.of.unknown]
        if not found:
            return None
        takers = list(Party.objects.filter(role="reclaimer")[:2])
        first = {"purpose": "reclaim", "party": takers[0].pk if len(takers) == 1 else None}
        total = sum(one.content for one in found if not one.is_oil)
        total = show(total, self.person.mass_unit)
        said = f"All that is in those ticked goes, {total} in {_many(len(found), 'container', 'containers')} as ticked "
        return Here(
            self.back("shipment-new", step),
            "Send away",
            ShipmentForm(auto_id=self._ids(), initial=first),
            ["purpose", "party", "document"],
            fold="Send away",
            said=[said + "now. Nothing stays in them; the containers themselves stay the shop's."],
            ticks=[(one.code, f"{one.code}, {show(one.content, self.person.mass_unit)}") for one in found],
        )


def _many(count: int, one: str, more: str) -> str:
    return f"{count} {one if count == 1 else more}"
