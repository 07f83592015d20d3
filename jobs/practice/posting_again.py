"""Posting to a practice job again what was posted to it before."""

import copy
import datetime as dt

from django.contrib.messages.storage import default_storage
from django.http import Http404, HttpRequest, QueryDict
from django.urls import resolve
from django.utils import timezone
from django.utils.datastructures import MultiValueDict

from inventory.shop.once import SentAgain
from inventory.shop.who import answering
from inventory.text.refusal import Refused
from jobs.drafts.models import JobStep
from jobs.drafts.practised import PRACTICE
from jobs.pages.access import job_or_404
from jobs.pages.draft_views import REASON, keep_reasons, reasons_given
from jobs.practice.kept import TOLD, Post

LEFT_OUT = {"csrfmiddlewaretoken"}
OF_A_MOMENT = {"job-clock", "job-vacuum", "job-line"}  # pages that read TOLD


class NotAgain(Exception):
    """What was taken before is not taken any more. sentence: why, or blank."""

    def __init__(self, sentence: str = ""):
        super().__init__(sentence)
        self.sentence = sentence


def as_post(request: HttpRequest, name: str) -> Post:
    """A request, to be noted. name: of its page. A tap that did not say when it was, was now."""
    now = timezone.now()
    told = {key: values for key, values in request.POST.lists() if key not in LEFT_OUT}
    if name in OF_A_MOMENT and not any(told.get(TOLD, ())):
        told[TOLD] = [now.isoformat()]
    return Post(request.path_info, [[key, value] for key, values in told.items() for value in values], now.isoformat())


def as_refused(request: HttpRequest, name: str) -> Post | None:
    """What a request left that was answered with faults: reasons typed for a signature, a clock that was tapped with
    other fields. None where it left nothing."""
    whole = as_post(request, name)
    if name == "job-clock":
        left = [[key, value] for key, value in whole.fields if key == TOLD]
    else:
        left = [[key, value] for key, value in whole.fields if key.startswith(REASON) and value.strip()]
    return whole._replace(fields=left) if name in {"job-clock", "job-sign"} and left else None


def post_again(request: HttpRequest, post: Post) -> None:
    """By the page that took it. request: the one that is answered. Raises NotAgain."""
    before = timezone.now()
    again = _like(request, post)
    try:
        with answering(again):
            status = _posted(again)
    except Refused as refused:
        raise NotAgain(refused.message) from refused
    except (Http404, SentAgain) as gone:
        raise NotAgain from gone
    if status >= 400:
        raise NotAgain
    _dated(before, post.moment)


def _posted(again: HttpRequest) -> int:
    """The status of the answer. A signature that is posted again was refused: its reasons stayed with the draft."""
    view, args, kwargs = again.resolver_match
    if again.resolver_match.url_name == "job-sign":
        keep_reasons(again, job_or_404(again, PRACTICE), reasons_given(again.POST))
        return 200
    return view(again, *args, **kwargs).status_code


def _dated(before: dt.datetime, moment: dt.datetime) -> None:
    """The steps that were saved just now were saved when they were first."""
    for step in JobStep.objects.filter(job=PRACTICE, at__gte=before):
        step.at = moment
        step.save(update_fields=["at"])


def _like(request: HttpRequest, post: Post) -> HttpRequest:
    """A request as the post was, of the same person. Not as from a script: then nothing is drawn for it. What it leaves
    in the session is there already."""
    again = copy.copy(request)
    again.method, again.path, again.path_info = "POST", post.path, post.path
    again._post, again._files = QueryDict(mutable=True), MultiValueDict()
    for name, value in post.fields:
        again._post.appendlist(name, value)
    again.META = {**request.META, "QUERY_STRING": ""}
    again.GET, again.htmx = QueryDict(), False
    again.session = dict(request.session.items())
    again._messages, again.unseen = default_storage(again), True
    again.resolver_match = resolve(post.path)
    return again
