"""What is kept of a practice job: when it began and what was posted to it, for its person alone. It lies in a row of
its own among the sessions, whose key the person's session holds: a request that writes that session back whole, as
every notice does, takes no note along. A note is added to the notes that it was tried with, or not at all."""

import datetime as dt
from dataclasses import dataclass, field
from typing import NamedTuple

from django.contrib.sessions.backends.db import SessionStore
from django.contrib.sessions.models import Session
from django.http import HttpRequest
from django.utils import timezone

from jobs.drafts.fields import CLOCKS

KEPT = "practice"  # in the session: where the notes are
MOST = 40  # posts; a whole job takes about fifteen, and all are worked out anew with each answer
MOST_CHARACTERS = 20_000  # of one post: a session is no place for more
LASTS = dt.timedelta(hours=12)
PASSES = dt.timedelta(minutes=30)  # by one tap
LOCAL = "%Y-%m-%dT%H:%M"  # as a field of a moment has it
TOLD = "tapped"  # the field that says when something was tapped (outbox.js)


class Post(NamedTuple):
    """path: where it went; fields: names and values, in their order; at: when, ISO 8601."""

    path: str
    fields: list[list[str]]
    at: str

    @property
    def moment(self) -> dt.datetime:
        return dt.datetime.fromisoformat(self.at)

    @property
    def length(self) -> int:
        return len(self.path) + sum(len(name) + len(value) for name, value in self.fields)

    def earlier(self, by: dt.timedelta) -> "Post":
        """The same so much earlier, with all moments that it says."""
        fields = [[name, _earlier(name, value, by)] for name, value in self.fields]
        return Post(self.path, fields, (self.moment - by).isoformat())


def _earlier(name: str, value: str, by: dt.timedelta) -> str:
    if name != TOLD and name not in CLOCKS:
        return value
    try:
        moment = dt.datetime.fromisoformat(value) - by
    except (ValueError, OverflowError):
        return value
    return moment.isoformat() if moment.tzinfo else moment.strftime(LOCAL)


class Meanwhile(Exception):
    """Something else was noted since these notes were read, or the practice ended."""


@dataclass
class Practice:
    """key, mark: where it is kept, and the text that it was read as. began: when its person began it; started: when the
    job was, which time that is let pass moves back. version: of the job as its page was shown last."""

    key: str
    mark: str
    began: dt.datetime
    started: dt.datetime
    version: int = 0
    posts: list[Post] = field(default_factory=list)

    def keep(self) -> None:
        """Write it in the place of what was read, in one statement. Raises Meanwhile where something else is there."""
        said = {
            "began": self.began.isoformat(),
            "started": self.started.isoformat(),
            "version": self.version,
            "posts": [list(post) for post in self.posts],
        }
        text = SessionStore().encode(said)
        if not Session.objects.filter(**self._as_read).update(session_data=text):
            raise Meanwhile
        self.mark = text

    def end(self) -> None:
        """Raises Meanwhile where something was noted since it was read."""
        if not Session.objects.filter(**self._as_read).delete()[0]:
            raise Meanwhile

    @property
    def _as_read(self) -> dict[str, str]:
        return {"session_key": self.key, "session_data": self.mark}

    def let_pass(self, by: dt.timedelta = PASSES) -> None:
        """Everything was so much earlier: as if one had waited."""
        self.started -= by
        self.posts = [post.earlier(by) for post in self.posts]


def begin(request: HttpRequest) -> Practice:
    """A practice job with nothing done on it yet, in place of any other."""
    forget(request)
    now, store = timezone.now(), SessionStore()
    store.create()
    made = Practice(store.session_key, "", now, now)
    row = Session.objects.get(session_key=store.session_key)
    row.expire_date = now + LASTS
    row.save(update_fields=["expire_date"])
    made.mark = row.session_data
    made.keep()
    request.session[KEPT] = {"person": request.user.pk, "notes": made.key}
    return made


def under_way(request: HttpRequest) -> Practice | None:
    """The practice of whoever is signed in, as it is kept now; None where there is none, or it lasted too long."""
    held = request.session.get(KEPT)
    if not isinstance(held, dict) or held.get("person") != request.user.pk:
        return None
    mark = Session.objects.filter(session_key=held["notes"]).values_list("session_data", flat=True).first()
    said = SessionStore().decode(mark) if mark else {}
    if not said:
        return None
    began, started = (dt.datetime.fromisoformat(said[name]) for name in ("began", "started"))
    if timezone.now() - began > LASTS:
        return None
    return Practice(held["notes"], mark, began, started, said["version"], [Post(*one) for one in said["posts"]])


def forget(request: HttpRequest) -> None:
    held = request.session.pop(KEPT, None)
    if isinstance(held, dict):
        Session.objects.filter(session_key=held.get("notes")).delete()
