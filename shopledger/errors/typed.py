"""What somebody typed, carried by the page that says it was not taken: one button sends the same form again.

It needs no database. The form's own id goes with it, so a form that did arrive is not recorded twice.
"""

import re
from dataclasses import dataclass

from django.conf import settings
from django.core.exceptions import SuspiciousOperation
from django.http import HttpRequest
from django.http.multipartparser import MultiPartParserError
from django.utils.text import capfirst

from shopledger.errors.labels import labels_of, line_of

# Rooms whose forms are never carried: all that they ask for is a secret, or is nothing to type again.
OF_SECRETS = ("shopledger.signin", "shopledger.shared_phone", "shopledger.home", "shopledger.inspectors")
SECRET = re.compile(r"pass(word|phrase)|^repeated$|secret|token", re.IGNORECASE)
# What a page put into its own form, and nobody typed.
OF_THE_FORM = re.compile(
    r"^(key|shown|version|action|csrfmiddlewaretoken)$|-(TOTAL|INITIAL|MIN_NUM|MAX_NUM)_FORMS$|-key$"
)
SHOWN = 400  # fields that are listed; all are carried


@dataclass(frozen=True)
class Typed:
    """path: where the form goes. fields: name and value of each, to be sent again. secrets: names of passwords, which
    are typed again. files: name of each field of files, the names of those that were chosen, and whether several.
    module: of the view, whose forms say how the fields are called."""

    path: str
    fields: list[tuple[str, str]]
    secrets: list[str]
    files: list[tuple[str, str, bool]]
    module: str

    @property
    def shown(self) -> list[tuple[str, str]]:
        """What a person typed or chose, each as the label of its field has it, or in words where it has none."""
        labels = labels_of([name for name, _ in self.fields], self.module)
        typed = [(name, value) for name, value in self.fields if value and not OF_THE_FORM.search(name)]
        return [(capfirst(labels.get(name) or words_of(name)), value) for name, value in typed[:SHOWN]]


def words_of(name: str) -> str:
    """`line-0-net_mass` as `line 1, net mass`."""
    where, name = line_of(name)
    return f"{where}{name.replace('-', ' ', 1).replace('_', ' ')}"


def typed_in(request: HttpRequest) -> Typed | None:
    """What a form of this site brought that was not taken; None where there is nothing to carry. Only of a form that
    showed its page's key, or is proved to come from a page of ours: what another site sent in somebody's name must not
    become one click away from being recorded."""
    match = request.resolver_match
    if request.method != "POST" or match is None or match.func.__module__.startswith(OF_SECRETS):
        return None
    if not (getattr(request, "csrf_processing_done", False) or from_a_page_of_ours(request)):
        return None
    try:
        sent, files = request.POST, request.FILES
    except (OSError, SuspiciousOperation, MultiPartParserError, RuntimeError):  # cut off, or its disk is full
        return None
    carried = [(name, value) for name, values in sent.lists() for value in values if name != "csrfmiddlewaretoken"]
    fields = [(name, value) for name, value in carried if not SECRET.search(name)]
    secrets = [name for name in sent if SECRET.search(name) and name != "csrfmiddlewaretoken"]
    chosen = [(name, ", ".join(one.name or "" for one in group), len(group) > 1) for name, group in files.lists()]
    if not fields and not chosen:
        return None
    return Typed(request.get_full_path(), fields, secrets, chosen, match.func.__module__)


def from_a_page_of_ours(request: HttpRequest) -> bool:
    """Whether the browser itself says so: no page can write this header, and every browser sends it with a form."""
    ours = {f"{request.scheme}://{request.get_host()}", *settings.CSRF_TRUSTED_ORIGINS}
    return request.headers.get("Origin") in ours
