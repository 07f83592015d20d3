"""What happened to people, certificates, units, settings and all else outside the ledger: the owner's page."""

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from inventory.audit.models import Change
from inventory.audit.queries import changes_between
from inventory.audit.recording import followed
from inventory.shop.access import owner
from inventory.shop.forms import DayField

PAGE = 50


class TrailForm(forms.Form):
    first = DayField(label="From", required=False, initial=None)
    last = DayField(label="To", required=False, initial=None)
    what = forms.ChoiceField(label="Kind of record", required=False)
    by = forms.CharField(label="By (username)", required=False, max_length=150)
    before = forms.IntegerField(required=False, min_value=1, max_value=2**62, widget=forms.HiddenInput)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["what"].choices = [("", "all"), *((word, word) for word in followed()), ("log", "log")]


@owner
def trail(request: HttpRequest) -> HttpResponse:
    """The latest first. Each page begins below the last line of the one before: it costs what the first does."""
    form = TrailForm(request.GET)
    found = Change.objects.none()
    if form.is_valid():
        said = form.cleaned_data
        found = changes_between(said["first"], said["last"])
        for name in ("what", "by"):
            if said[name]:
                found = found.filter(**{name: said[name]})
        if said["before"]:
            found = found.filter(pk__lt=said["before"])
    rows = list(found.order_by("-id")[: PAGE + 1])
    said = {"form": form, "rows": rows[:PAGE], "next": rows[PAGE - 1].pk if len(rows) > PAGE else None}
    return render(request, "trail/trail.html", said, status=422 if form.errors else 200)
