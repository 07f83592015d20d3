"""How changes come into the trail: each followed model tells of its saves and removals, within their transaction.

Who acts is known from the page's request; a command, and the site's own background work, act as the command line.
Bulk statements (`update`, `bulk_create`) tell nothing: followed models are saved one by one.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from django.db.models import Model
from django.db.models.signals import post_delete, post_save, pre_save
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

COMMANDS = "command line"
UNSHOWN = "(not shown)"
_request: ContextVar[HttpRequest | None] = ContextVar("trail_request", default=None)
_quiet: ContextVar[bool] = ContextVar("trail_quiet", default=False)
_hidden: dict[type[Model], frozenset[str]] = {}


class WhoMiddleware:
    """Remembers whose request this is, until it is answered."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        token = _request.set(request)
        try:
            return self.get_response(request)
        finally:
            _request.reset(token)


def who() -> str:
    """The username that acts now."""
    request = _request.get()
    user = getattr(request, "user", None)
    return user.username if user is not None and user.is_authenticated else COMMANDS


def known_user(request: HttpRequest | None = None) -> str:
    """The username of the request at hand where it was read already, else nothing: for the log, which must not ask
    a database that may be what failed."""
    user = getattr(request or _request.get(), "_cached_user", None)
    return getattr(user, "username", "")


@contextmanager
def quiet() -> Iterator[None]:
    """Leave out single records: for loading a log, which is kept whole and named in one line."""
    token = _quiet.set(True)
    try:
        yield
    finally:
        _quiet.reset(token)


def follow(*models: type[Model], hidden: tuple[str, ...] = ()) -> None:
    """Keep what happens to these. hidden: fields that are worked out from others, or say nothing."""
    for model in models:
        _hidden[model] = frozenset(hidden) | {"id", "key", "password", "last_login"}
        pre_save.connect(_before, sender=model, dispatch_uid=f"trail-before-{model._meta.label}")
        post_save.connect(_saved, sender=model, dispatch_uid=f"trail-saved-{model._meta.label}")
        post_delete.connect(_removed, sender=model, dispatch_uid=f"trail-removed-{model._meta.label}")


def followed() -> list[str]:
    """The kinds of record that are followed, in words."""
    return sorted(_word(model) for model in _hidden)


def tell(kind: str, what: str, key: object, title: str, before: dict | None = None, after: dict | None = None) -> None:
    """Write one line of the trail."""
    from inventory.audit.models import Change

    Change.objects.create(
        at=timezone.now(),
        by=who()[:150],
        kind=kind,
        what=what,
        key=str(key)[:64],
        title=title[:200],
        before=before or {},
        after=after or {},
    )


def _word(model: type[Model]) -> str:
    return str(model._meta.verbose_name)


def _said(record: Model) -> dict[str, str]:
    """The record's fields as text; of another record its name."""
    said = {}
    for field in record._meta.concrete_fields:
        if field.name in _hidden[type(record)]:
            continue
        value = getattr(record, field.attname)
        if value in (None, "", [], {}):
            said[field.name] = ""
        elif field.many_to_one:
            said[field.name] = str(getattr(record, field.name))
        elif field.choices:
            said[field.name] = str(dict(field.flatchoices).get(value, value))
        else:
            said[field.name] = field.value_to_string(record)
    return said


def _before(sender: type[Model], instance: Model, raw: bool = False, using: str = "default", **_more) -> None:
    instance._trail_before = None
    if raw or _quiet.get() or instance._state.adding:
        return
    stored = sender._base_manager.using(using).filter(pk=instance.pk).first()
    if stored is not None:
        instance._trail_before = (_said(stored), getattr(stored, "password", None))


def _saved(sender: type[Model], instance: Model, created: bool, raw: bool = False, update_fields=None, **_more) -> None:
    if raw or _quiet.get():
        return
    now = _said(instance)
    if created:
        tell(
            "made", _word(sender), instance.pk, str(instance), {}, {name: value for name, value in now.items() if value}
        )
        return
    kept = getattr(instance, "_trail_before", None)
    if kept is None:
        return
    was, password = kept
    written = set(now) | {"password"} if update_fields is None else set(update_fields)
    names = [name for name in now if now[name] != was[name] and name in written]
    before, after = {name: was[name] for name in names}, {name: now[name] for name in names}
    if (
        password is not None
        and password != instance.password
        and (update_fields is None or "password" in update_fields)
    ):
        before["password"] = after["password"] = UNSHOWN
    if after:
        tell("changed", _word(sender), instance.pk, str(instance), before, after)


def _removed(sender: type[Model], instance: Model, **_more) -> None:
    if not _quiet.get():
        tell("removed", _word(sender), instance.pk, str(instance), {n: v for n, v in _said(instance).items() if v}, {})
