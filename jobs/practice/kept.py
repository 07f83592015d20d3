"""What is kept of a practice job: when it began and what was posted to it, in the session of its person alone."""

import datetime as dt
from dataclasses import dataclass, field
from typing import NamedTuple

from django.http import HttpRequest
from django.utils import timezone

from jobs.drafts.fields import CLOCKS

KEPT = "practice"  # in the session
MOST = 60  # posts
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


@dataclass
class Practice:
    """began: when its person began it; started: when the job was, which time that is let pass moves back. version: of
    the job as its page was shown last."""

    began: dt.datetime
    started: dt.datetime
    version: int = 0
    posts: list[Post] = field(default_factory=list)

    def keep(self, request: HttpRequest) -> None:
        """Write it into the session of a request."""
        request.session[KEPT] = {
            "person": request.user.pk,
            "began": self.began.isoformat(),
            "started": self.started.isoformat(),
            "version": self.version,
            "posts": [list(post) for post in self.posts],
        }

    def let_pass(self, by: dt.timedelta = PASSES) -> None:
        """Everything was so much earlier: as if one had waited."""
        self.started -= by
        self.posts = [post.earlier(by) for post in self.posts]


def begin(request: HttpRequest) -> Practice:
    """A practice job with nothing done on it yet, in place of any other."""
    now = timezone.now()
    made = Practice(now, now)
    made.keep(request)
    return made


def under_way(request: HttpRequest) -> Practice | None:
    """The practice of whoever is signed in; None where there is none, or it lasted too long."""
    said = request.session.get(KEPT)
    if not isinstance(said, dict) or said.get("person") != request.user.pk:
        return None
    began, started = (dt.datetime.fromisoformat(said[name]) for name in ("began", "started"))
    if timezone.now() - began > LASTS:
        return None
    return Practice(began, started, said["version"], [Post(*one) for one in said["posts"]])


def forget(request: HttpRequest) -> None:
    request.session.pop(KEPT, None)
