"""What a person reads when a request cannot be answered: what happened, what was recorded, what to do.

These pages must come up when nothing else does: those for a failed database ask it nothing.
"""

import errno
import logging
import sys

from django.db import DatabaseError, InterfaceError, InternalError, OperationalError
from django.http import HttpRequest, HttpResponse
from django.middleware.csrf import get_token
from django.template.loader import render_to_string
from django.utils.http import url_has_allowed_host_and_scheme

from inventory.text.refusal import Refused
from shopledger.errors.typed import Typed, from_a_page_of_ours, typed_in

logger = logging.getLogger(__name__)

READ_ONLY = "25006"  # PostgreSQL's code for writing where only reading is possible
NO_WRITING = {errno.ENOSPC, errno.EROFS, getattr(errno, "EDQUOT", errno.ENOSPC)}
BACK = "Your browser's Back brings you to the page before, with what you typed."

KEPT = "What you typed is kept on this page, to be sent again."


def is_away(error: BaseException | None) -> bool:
    """Whether the database is busy, unreachable, full, read-only or damaged, and not the program at fault."""
    if isinstance(error, InternalError):
        return getattr(error.__cause__, "sqlstate", None) == READ_ONLY
    if type(error) is DatabaseError:  # SQLite's word for a damaged file; Django's own has no cause
        return error.__cause__ is not None
    if isinstance(error, OSError):  # where uploads are put while they arrive
        return error.errno in NO_WRITING
    return isinstance(error, (OperationalError, InterfaceError))


def fault(
    request: HttpRequest,
    status: int,
    heading: str,
    *sentences: str,
    with_navigation: bool = True,
    typed: Typed | None = None,
) -> HttpResponse:
    """A plain page of sentences; for a request made by a part of a page, only a notice to be put into it, and what was
    typed still stands in that page.

    with_navigation: False where reading the session or the shop may fail. typed: what the page offers to send again.
    """
    context = {"heading": heading, "sentences": sentences, "typed": typed}
    if typed:
        context["csrf_token"] = get_token(request)
    if request.headers.get("HX-Request") == "true":
        text = render_to_string("_said.html", context)
    elif with_navigation and is_in(request):
        text = render_to_string("fault.html", {**context, "came_from": came_from(request)}, request)
    else:
        text = render_to_string("fault_bare.html", context)
    return HttpResponse(text, status=status, headers={"Cache-Control": "no-store"})


def is_in(request: HttpRequest) -> bool:
    """Whether the sign-in still stands, or there is none. A page that is answered before that was asked (an address
    that is none, a key that fits no more) must not show a person's pages to whoever finds their browser, nor give it
    the key to what the phone keeps."""
    stands = getattr(request, "sign_in_stands", None)
    return stands is None or stands()


def came_from(request: HttpRequest) -> str:
    """The page of this site that sent the request, or nothing."""
    page = request.headers.get("Referer", "")
    if not url_has_allowed_host_and_scheme(page, {request.get_host()}, request.is_secure()):
        return ""
    return "" if page == request.build_absolute_uri() else page


def refused(request: HttpRequest, refusal: Refused) -> HttpResponse:
    """A refusal that no form could show."""
    return fault(request, 409, "That was not done", refusal.message, "Nothing was recorded.", BACK)


def too_busy(request: HttpRequest, refusal: Refused) -> HttpResponse:
    """Status 429: something costly was asked for while others of its kind are being made."""
    answer = fault(request, 429, "Not just now", refusal.message, "Nothing was recorded, and nothing is lost.")
    answer["Retry-After"] = "10"
    return answer


def database_away(request: HttpRequest) -> HttpResponse:
    """The database is busy, unreachable, full or read-only."""
    typed = typed_in(request)
    again = (
        "What you typed is kept on this page, to be sent again in a moment"
        if typed
        else ("Go back and send it again in a moment")
    )
    return fault(
        request,
        503,
        "The ledger cannot be reached just now",
        "The ledger is busy, or its disk cannot be read or written.",
        f"An entry is recorded whole or not at all. {again}: a form that did arrive is not recorded twice.",
        "If this stays, tell the person who looks after the computer that the ledger runs on.",
        with_navigation=False,
        typed=typed,
    )


def restored_meanwhile(request: HttpRequest) -> HttpResponse:
    """A backup took the ledger's place between the reading of a form and its recording."""
    return fault(
        request,
        503,
        "A backup was restored just now",
        "While this was on its way, a backup took the place of the ledger: what you entered was judged by the old one.",
        "Nothing of yours was recorded. Sign in, look what stands there now, and enter it again.",
        BACK,
        with_navigation=False,
    )


def at_once(request: HttpRequest) -> HttpResponse:
    """Two people recorded what can be there only once, such as one name, at the same moment."""
    typed = typed_in(request)
    return fault(
        request,
        409,
        "Somebody was a moment quicker",
        "What you entered, or part of it such as a name or a number, was recorded by somebody else at the same moment.",
        "Nothing of yours was recorded. Look whether it is there already, and enter it again if not.",
        KEPT if typed else BACK,
        typed=typed,
    )


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The page's own key no longer fits: open over a sign-in, or for days, or sent from another site.

    Offered to be sent again only where the browser says that a page of this site sent it. Otherwise another site could
    bring somebody here by a form of its own, and this page would lend it the key that it lacks."""
    typed = typed_in(request) if from_a_page_of_ours(request) else None
    sentences = ["Go back, reload the page, and send it again."]
    if typed:
        who = request.user.get_username() if request.user.is_authenticated and is_in(request) else ""
        sentences = [
            f"{KEPT} It is then recorded by {who}, who is signed in now."
            if who
            else f"{KEPT} Nobody is signed in now: sign in first, on another page, and leave this one open."
        ]
    return fault(
        request,
        403,
        "This page was open too long",
        "Somebody signed in or out since it was opened, or cookies are switched off: the form was not taken.",
        "Nothing was recorded.",
        *sentences,
        typed=typed,
    )


def unreadable(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Status 400."""
    return fault(
        request,
        400,
        "That could not be read",
        "What the browser sent was too large, or was cut off on the way, or is not addressed to this site.",
        "Nothing was recorded. Go back and try again.",
        with_navigation=False,
    )


def not_allowed(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Status 403. PermissionDenied may bring its own sentence."""
    why = str(exception or "") or "This page is for somebody with another role in the shop."
    return fault(request, 403, "Not for your sign-in", why, "An owner of the shop can change who may do what.")


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Status 404. Says the same for what never was and for what this person may not see."""
    return fault(
        request,
        404,
        "Nothing here",
        "There is no such page or record, or it is not one of yours.",
        "Records of the ledger are never deleted; look for it in its list.",
    )


def not_that_way(request: HttpRequest) -> HttpResponse:
    """Status 405: an address that only takes a form was opened as a page."""
    return fault(
        request,
        405,
        "This address only takes a form",
        "It was opened as a page, perhaps by a reload or a bookmark. Nothing was recorded.",
        "Start from the list or from Home.",
    )


def broken(request: HttpRequest) -> HttpResponse:
    """Status 500, or 503 where the database failed outside a view (while reading the session, say)."""
    if is_away(sys.exc_info()[1]):
        return database_away(request)
    typed = typed_in(request)
    return fault(
        request,
        500,
        "Something went wrong here",
        "This is a fault of the program, not of what you entered. It was written to the log.",
        "An entry is recorded whole or not at all: look whether yours is there before you send it again.",
        *([KEPT] if typed else []),
        with_navigation=False,
        typed=typed,
    )
