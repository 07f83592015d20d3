"""Beginning a practice job, letting time pass in it, ending it. Its pages are those of any job, under its own key; they
come through middleware.py."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from inventory.shop.access import everybody
from jobs.drafts.practised import PRACTICE
from jobs.practice.kept import Meanwhile, begin, forget, under_way

ENDED = "The practice ended. Nothing of it was kept."
NONE = "No practice is under way: it was ended, or lasted too long. Begin one below."


@everybody
@require_POST
def practice_start(request: HttpRequest) -> HttpResponse:
    """One that is under way goes on."""
    if under_way(request) is None:
        begin(request)
    return redirect("job", PRACTICE)


@everybody
@require_POST
def practice_pass(request: HttpRequest) -> HttpResponse:
    while (practice := under_way(request)) is not None:
        practice.let_pass()
        try:
            practice.keep()
        except Meanwhile:  # what was noted meanwhile was earlier, too
            continue
        messages.info(request, "30 minutes have passed, in practice.")
        return redirect("job", PRACTICE)
    messages.error(request, NONE)
    return redirect("job-new")


@everybody
@require_POST
def practice_end(request: HttpRequest) -> HttpResponse:
    forget(request)
    messages.success(request, ENDED)
    return redirect("job-new")
