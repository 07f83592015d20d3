"""What happened to people, certificates, units, settings and all else outside the ledger: the owner's page."""

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from inventory.audit.queries import changes, followed, records_between
from inventory.shop.access import owner
from inventory.shop.forms import DayField

PAGE = 50


class TrailForm(forms.Form):
    first = DayField(label="From", required=False, initial=None, first=None)
    last = DayField(label="To", required=False, initial=None, first=None)
    what = forms.ChoiceField(label="Kind of record", required=False)
    by = forms.CharField(label="By (username)", required=False, max_length=150)
    before = forms.IntegerField(required=False, min_value=1, max_value=2**62, widget=forms.HiddenInput)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["what"].choices = [("", "all"), *((word, word.replace("-", " ")) for word in followed())]


@owner
def trail(request: HttpRequest) -> HttpResponse:
    """The latest first. Each page begins below the last line of the one before: it costs what the first does."""
    form = TrailForm(request.GET)
    rows = []
    if form.is_valid():
        said = form.cleaned_data
        found = records_between(said["first"], said["last"], [said["what"]] if said["what"] else None)
        if said["by"]:
            found = found.filter(voucher__recorded_by=said["by"])
        if said["before"]:
            found = found.filter(pk__lt=said["before"])
        # A line may be two records, so twice as many are read, and what may be half of one is left to the next page.
        rows = changes(found.order_by("-id"), 2 * PAGE + 2)
    said = {"form": form, "rows": rows[:PAGE], "next": rows[PAGE - 1].pk if len(rows) > PAGE else None}
    return render(request, "trail/trail.html", said, status=422 if form.errors else 200)
