"""The pages of a job, of which nothing is kept. Each request to the practice job runs in a transaction that is taken
back: the unit and its containers are invented in it, what was posted before is posted again by the session's notes,
then the request itself is answered by the page that answers it for any job. So a learner meets the real rules, and
nothing outlives the request but its note in the session."""

from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field

from django.contrib import messages
from django.contrib.messages.storage import default_storage
from django.db import transaction
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.utils import timezone

from inventory.containers.models import Container
from inventory.containers.preview import posted_since
from inventory.ledger.models import ChainHead
from inventory.text.refusal import Refused
from jobs.drafts.models import Job
from jobs.drafts.practised import CODES, PRACTICE
from jobs.practice import kept
from jobs.practice.invented import SHOWN, invent
from jobs.practice.kept import Meanwhile, Practice
from jobs.practice.posting_again import NotAgain, as_post, as_refused, post_again
from jobs.practice.views import ENDED, NONE

# What of a job practice does without: what it would leave behind, and what is of a signed job.
NO_PHOTOS = "Practice keeps no photos. On a real job the camera is here, and the photo stays with its reading."
NO_COLLEAGUES = "You practise alone: on a real job colleagues are added here, and it is handed over here."
NO_SIGNATURE = "Practice takes no customer’s signature. On a real job the customer signs here by finger."
NO_SHEET = "A practice job has no sheet. On a real job it is made once the job is signed."
WITHOUT = {
    "job-photo": NO_PHOTOS,
    "job-photo-change": NO_PHOTOS,
    "job-finger": NO_SIGNATURE,
    "job-finger-back": NO_SIGNATURE,
    "job-hand": NO_COLLEAGUES,
    "job-hand-end": NO_COLLEAGUES,
    "job-hand-over": NO_COLLEAGUES,
    "job-sheet": NO_SHEET,
    "job-customer-sheet": NO_SHEET,
    "job-correct": "A practice job is not corrected: it is over once it is signed.",
}
FULL = (
    f"A practice job takes {kept.MOST} entries, and all are used. Sign it as it stands, or end the practice and begin "
    "another."
)
TOO_LONG = "This is more text than practice keeps; write less of it."
MANY = 25  # entries: from then on the page says how many are left
TRIES = 3  # a request that another one of the same practice came before is answered again, so often
AGAIN = "Something else was entered in this practice at the same moment. Look at the page, and enter this one again."
ANEW = (
    "What the shop's rules or records allow was changed since this practice began, so it cannot go on: {} It begins "
    "anew below."
)


class PracticeMiddleware:
    """The last one: who may open the page is settled, and the shop is known."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        for _ in range(TRIES):
            response = self.get_response(request)
            stage = getattr(request, "practice", None)
            if stage is None:
                return response
            try:
                return stage.end(response)
            except Meanwhile:  # all of it was taken back: it is answered anew, on what was noted meanwhile
                del request.practice
                request._messages = default_storage(request)
        return _said(request, AGAIN, "job", 409)

    def process_view(self, request: HttpRequest, view: Callable, args: tuple, kwargs: dict) -> HttpResponse | None:
        match = request.resolver_match
        if kwargs.get("pk") != PRACTICE or not match.route.startswith("jobs/<int:pk>/"):
            return None
        if getattr(request.user, "role", None) not in getattr(view, "roles", ()):
            return None  # the page itself refuses them
        return _answered(request, match.url_name)

    def process_exception(self, request: HttpRequest, exception: Exception) -> None:
        """What a fault's page says is read after all is taken back."""
        stage = getattr(request, "practice", None)
        if stage is not None:
            stage.close()


def _answered(request: HttpRequest, name: str) -> HttpResponse | None:
    """The answer, where the job's own page is not to give it; None once all is invented for it to do so."""
    practice = kept.under_way(request)
    if practice is None:
        kept.forget(request)
        return _said(request, NONE, "job-new", 404)
    if name == "job-version":  # asked every few seconds, and only this session changes it
        return JsonResponse({"version": practice.version, "draft": True})
    if name == "job-drop":
        return _dropped(request)
    refusal = _refusal(request, name, practice)
    if refusal:
        return _said(request, refusal, "job", 422)
    return _set(request, name, practice)


def _dropped(request: HttpRequest) -> HttpResponse:
    if request.method != "POST":
        return redirect("job", PRACTICE)
    kept.forget(request)
    messages.success(request, ENDED)
    return redirect("job-new")


def _refusal(request: HttpRequest, name: str, practice: Practice) -> str:
    """Why practice does not take a request; blank where it does."""
    if name in WITHOUT:
        return WITHOUT[name]
    if request.method == "POST" and name != "job-sign":
        if len(practice.posts) >= kept.MOST:
            return FULL
        return TOO_LONG if as_post(request, name).length > kept.MOST_CHARACTERS else ""
    scanned = request.GET.get("scanned", "")
    if scanned and not scanned.startswith(CODES):
        known = Container.objects.filter(code=scanned[:60]).exists()
        what = "a real container" if known else "no container of this practice"
        return f"{scanned[:60]} is {what}; practise with those whose codes begin with {CODES}."
    return ""


def _said(request: HttpRequest, sentence: str, page: str, status: int) -> HttpResponse:
    """A sentence in place of what was asked: for a script a notice, else on another page."""
    if request.headers.get("HX-Request") == "true":
        said = {"heading": "Practice", "sentences": [sentence]}
        return HttpResponse(render_to_string("_said.html", said), status=status)
    messages.error(request, sentence)
    return redirect(page, PRACTICE) if page == "job" else redirect(page)


# -- one request ---------------------------------------------------------------------------------------------------


def _set(request: HttpRequest, name: str, practice: Practice) -> HttpResponse | None:
    """Begin the transaction, and bring the job in it to where it stood."""
    stage = Stage(request, name, practice)
    try:
        stage.stack.enter_context(taken_back())
        stage.lent = invent(request.user, practice)
        for post in practice.posts:
            post_again(request, post)
        if name == "job-sign":
            stage.head = ChainHead.objects.get(id=1).number
            stage.told, request._messages = request._messages, default_storage(request)
    except NotAgain as refused:
        stage.close()
        kept.begin(request)
        return _said(request, ANEW.format(refused.sentence), "job", 409)
    except Refused as refused:
        stage.close()
        kept.forget(request)
        return _said(request, f"Practice cannot begin just now: {refused.message}", "job-new", 409)
    except BaseException:
        stage.close()
        raise
    request.practice = stage
    return None


@contextmanager
def taken_back() -> Iterator[None]:
    """One transaction, of which nothing stays."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


@dataclass
class Stage:
    """A request to the practice job while it is answered; templates ask for it as `request.practice`. head: the number
    of the last voucher before a signature, told: what the request's person is to be told beside it. over: it was
    signed. lent: certificates were, for who holds none."""

    request: HttpRequest
    name: str
    practice: Practice
    stack: ExitStack = field(default_factory=ExitStack)
    head: int = 0
    told: object = None
    over: bool = False
    lent: bool = False
    closed: bool = False
    shown: dict[str, int] = field(default_factory=lambda: SHOWN)
    most: int = kept.MOST

    @property
    def used(self) -> int:
        """How many entries its person sees used, where they come to be many; else 0."""
        return len(self.practice.posts) if len(self.practice.posts) >= MANY else 0

    def end(self, response: HttpResponse) -> HttpResponse:
        """Take everything back, and note what was taken. Raises Meanwhile where something else was noted first."""
        if self.closed:
            return response
        try:
            response, note = self._noted(response)
        finally:
            self.close()
        try:
            note()
        except Meanwhile:
            if self.request.method == "POST":
                raise
        return response

    def close(self) -> None:
        self.closed = True
        self.stack.close()

    def _noted(self, response: HttpResponse) -> tuple[HttpResponse, Callable[[], None]]:
        """The answer, and what is to be done once everything is taken back."""
        taken = self.request.method == "POST" and response.status_code < 400
        if taken and self.name == "job-sign":
            return self._signed(), self._ended
        post = None
        if self.request.method == "POST":
            post = (as_post if taken else as_refused)(self.request, self.name)
            self.practice.posts += [post] if post is not None else []
        version = Job.objects.values_list("version", flat=True).get(pk=PRACTICE)
        if not taken and post is None and version == self.practice.version:
            return response, lambda: None
        self.practice.version = version
        return response, self.practice.keep

    def _signed(self) -> HttpResponse:
        """What would have been posted, in place of the signed job's page."""
        self.over, self.request._messages = True, self.told
        job = Job.objects.select_related("unit").get(pk=PRACTICE)
        minutes = (timezone.now() - self.practice.began).total_seconds() / 60
        said = {"job": job, "would_post": posted_since(self.head), "minutes": max(1, round(minutes))}
        return render(self.request, "jobs/practised.html", said)

    def _ended(self) -> None:
        self.practice.end()
        kept.forget(self.request)
