"""A form is recorded once. Its id (the field `key`) is made with the empty form; the same id with the same content is
answered as it was the first time, with other content it is refused: what was typed is kept, to be posted as a new one.

This is looked up in one place, by whoever writes (`ledger.actions.writing`, `recorded` elsewhere) once it is its turn,
and kept in its transaction. Where no page's form is at hand (commands, a log) nothing is looked up.

What a form said is kept as a fingerprint, a keyed hash: the words of a form are personal, and must not be found again
by trying once they are erased. The key is the installation's SECRET_KEY, so a ledger that was restored under another
one takes a form that is sent again for one with other content: it is refused, what was typed is kept, nothing is lost.
"""

import hashlib
import json
import re
import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import TypeVar

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.db.models import Model
from django.http import HttpRequest
from django.urls import Resolver404, resolve
from django.utils.crypto import constant_time_compare, salted_hmac
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from inventory.shop.models import FormSent
from inventory.shop.who import request_at_hand
from inventory.text.refusal import Refused

# What a form sends beside what was typed: which button was pressed, a mark of what a page showed, its own id.
BESIDE = {"csrfmiddlewaretoken", "key", "post", "change", "more", "shown", "ask"}
CHOSEN = "-sha256"  # ends the name of a field: of which file a picture was made that a phone kept smaller
SHA256 = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True)
class Became:
    """What a form was recorded as. called: e.g. `voucher 12`; words: what that is, e.g. `3 cans of R-134a`; page: where
    it stands; thing_page: where the thing stands that it is about, where that is another page. anew: what can be done
    with what was typed now; instead: what else, e.g. `correct voucher 12`, and where."""

    called: str
    words: str = ""
    page: str = ""
    thing_page: str = ""
    anew: str = "post it as a new one"
    instead: str = ""
    instead_page: str = ""


M = TypeVar("M", bound=Model)
pages: dict[str, Callable[[str], str]] = {}  # kind of a thing -> its page, by its key; blank where it has none
vouchers_told: list[Callable[[int, object], Became]] = []  # how the room of corrections tells of a voucher, to a person


class AlreadyRecorded(Refused):
    """The form at hand was recorded before, with other content."""

    def __init__(self, sent: FormSent, request: HttpRequest):
        self.voucher, self.became, self.files = sent.voucher, _became(sent, request.user), bool(request.FILES)
        super().__init__("".join(words for words, _ in self._parts()))

    @property
    def html(self) -> SafeString:
        """The sentence, with links where the person may follow them."""
        return format_html_join("", "{}", ((_link(words, page),) for words, page in self._parts()))

    def _parts(self) -> Iterator[tuple[str, str]]:
        """The sentence in pieces, each with where it leads."""
        became = self.became
        yield "This form was already recorded as ", ""
        yield became.called, became.page
        yield f" ({became.words})" if became.words else "", ""
        yield f". What you typed now is kept below: {became.anew}", ""
        if became.instead:
            yield ", or ", ""
            yield became.instead, became.instead_page
        yield ". Choose the file again: a browser does not keep it." if self.files else ".", ""


class SentAgain(Exception):
    """The form at hand was recorded before in the same words, and could not be entered today: what was there then is
    there no more. It is answered with the page of what it became. So it is no refusal."""

    def __init__(self, sent: FormSent, request: HttpRequest):
        super().__init__(f"form {sent.key} was sent again")
        became = _became(sent, request.user)
        self.page = became.thing_page or became.page


def _link(words: str, page: str) -> str:
    return format_html('<a href="{}">{}</a>', page, words) if page else words


def _became(sent: FormSent, person: object) -> Became:
    """What a form was recorded as; without what this person may not open."""
    if sent.voucher is not None:
        became = vouchers_told[0](sent.voucher, person)
    else:
        became = Became(sent.called, page=page_of(sent.thing))
    if not may_open(became.instead_page, person):
        became = replace(became, instead="", instead_page="")
    return became if may_open(became.page, person) else replace(became, page="")


def page_of(thing: str) -> str:
    """The address of the page of a thing, e.g. of `customer C-000012`; blank where it has none, or is gone."""
    kind, _, key = thing.partition(" ")
    return pages[kind](key) if kind in pages else ""


def may_open(page: str, person: object) -> bool:
    """Whether there is such a page, and a person's role may open it."""
    try:
        view = resolve(page).func
    except Resolver404:
        return False
    return getattr(person, "role", None) in getattr(view, "roles", ())


# -- the form at hand --------------------------------------------------------------------------------------


def form_at_hand() -> uuid.UUID | None:
    """The id of the form that a page sent; None where there is none."""
    request = request_at_hand()
    if request is None or request.method != "POST":
        return None
    try:
        return uuid.UUID(request.POST.get("key", "")[:60])
    except ValueError:
        return None


def recorded() -> FormSent | None:
    """What the form at hand was recorded as, sent in the same words; None where it was not yet, and where there is no
    form. One question. Raises AlreadyRecorded where it said something else then. Whoever writes asks this when it is
    their turn: before, somebody else may be about to record it."""
    key = form_at_hand()
    sent = FormSent.objects.filter(pk=key).first() if key else None
    if sent is None:
        return None
    request = request_at_hand()
    secrets = (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS)
    if not any(constant_time_compare(sent.digest, _fingerprint(request, one)) for one in secrets):
        raise AlreadyRecorded(sent, request)
    return sent


def keep(**became: object) -> None:
    """Inside the transaction that recorded the form at hand: keep what it became, as FormSent has it."""
    key = form_at_hand()
    if key is not None:
        sent = FormSent(key=key, digest=_fingerprint(request_at_hand(), settings.SECRET_KEY), **became)
        FormSent.objects.bulk_create([sent], ignore_conflicts=True)


def made_by(model: type[M], key: uuid.UUID | None) -> M | None:
    """The row that a form with this id made, once it is the writer's turn; None where none did."""
    return model._default_manager.filter(key=key).first() if key else None


def _fingerprint(request: HttpRequest, secret: str) -> str:
    """Of where a form was sent, its fields and its files, in whatever order they came. A field left empty says nothing,
    as one that is not there."""
    fields = [(name, value) for name, values in request.POST.lists() for value in values if value]
    said = sorted((name, value) for name, value in fields if name not in BESIDE and not name.endswith(CHOSEN))
    files = [(name, file) for name, those in request.FILES.lists() for file in those]
    seen = sorted((name, file.name, _digest(file, request.POST.get(name + CHOSEN, ""))) for name, file in files)
    whole = json.dumps([request.get_full_path(), said, seen])
    return salted_hmac(__name__, whole, secret, algorithm="sha256").hexdigest()


def _digest(file: UploadedFile, chosen: str) -> str:
    """Of a file. chosen: as a phone says it of the picture that it kept smaller."""
    if SHA256.fullmatch(chosen):
        return chosen
    file.seek(0)
    found = hashlib.sha256()
    for chunk in file.chunks():
        found.update(chunk)
    file.seek(0)
    return found.hexdigest()
