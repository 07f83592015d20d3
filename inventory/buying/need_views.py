"""The page of what the next weeks will need, and the orders that follow."""

from collections import defaultdict
from collections.abc import Sequence

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from inventory.buying.billing import sort_said
from inventory.buying.need import COVER, USUAL_LEAD, WEEKS
from inventory.buying.proposal import Proposed, proposals
from inventory.measures.number_fields import NumberField
from inventory.orders.actions import MOST, OrderHead, place_order
from inventory.orders.matching import Sort
from inventory.parties.models import Party
from inventory.shop.access import office
from inventory.shop.clock import today
from inventory.shop.forms import OnceForm, add_refused, number_in, tell_if_recorded
from inventory.text.refusal import Refused


class ProposalForm(OnceForm):
    """How many of each to order from one supplier."""

    supplier = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args, lines: Sequence[Proposed], supplier: Party, **kwargs):
        super().__init__(*args, initial={"supplier": supplier.pk}, **kwargs)
        self.lines, self.of = lines, supplier
        for one in lines:
            self.fields[f"count-{one.code}"] = NumberField(
                least=0, most=MOST, required=False, initial=one.count, label=self.label_of(f"count-{one.code}", one)
            )

    @classmethod
    def label_of(cls, name: str, one: Proposed | None = None) -> str:
        asked = f"How many of {name.removeprefix('count-')}"
        if one is None:
            return asked
        last = one.last
        return f"{asked}, {sort_said(Sort(last.kind, '', last.grade, last.nominal), one.is_oil)}"

    def place(self, by: str):
        """Write the order. Raises Refused where nothing is wanted."""
        counts = {one.code: self.cleaned_data[f"count-{one.code}"] or 0 for one in self.lines}
        wanted = [one.wanted(counts[one.code], today()) for one in self.lines if counts[one.code]]
        key = self.cleaned_data["key"]
        return place_order(supplier=self.of, head=OrderHead(today()), lines=wanted, by=by, key=key)


@office
def need(request: HttpRequest) -> HttpResponse:
    found = proposals(today())
    forms_of, wrong = _forms(request, found), False
    for form in forms_of if request.method == "POST" else ():
        if not form.is_bound:
            continue
        if form.is_valid():
            try:
                order = form.place(request.user.username)
            except Refused as refused:
                add_refused(form, refused)
            else:
                messages.success(request, f"Order {order.called} is written. Send it as PDF or CSV, then say so below.")
                return redirect("order", order.pk)
        else:
            tell_if_recorded(form)
        wrong = True
    said = {"rows": found, "forms": forms_of, "weeks": WEEKS, "cover": COVER, "usual": USUAL_LEAD}
    return render(request, "buying/need.html", said, status=422 if wrong else 200)


def _forms(request: HttpRequest, found: Sequence[Proposed]) -> list[ProposalForm]:
    """One a supplier; that one is bound which was sent."""
    by: dict[Party, list[Proposed]] = defaultdict(list)
    for one in found:
        if one.supplier is not None:
            by[one.supplier].append(one)
    sent = number_in(request.POST, "supplier")
    made = []
    for supplier, lines in sorted(by.items(), key=lambda pair: pair[0].name):
        data = request.POST if request.method == "POST" and sent == supplier.pk else None
        made.append(ProposalForm(data, lines=lines, supplier=supplier, auto_id=f"id_{supplier.pk}_%s"))
    return made
