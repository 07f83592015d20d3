"""Which roles may open a page."""

from collections.abc import Callable
from functools import wraps

from django.core.exceptions import PermissionDenied

STAFF = ("technician", "office", "owner")
ROLES = (*STAFF, "inspector")


def role_required(*roles: str) -> Callable:
    """Let only these roles into a view; others get 403. Visitors who are not signed in never come this far.

    The roles stay readable as `view.roles`. For a class-based view: `role_required("owner")(Page.as_view())`.
    """
    unknown = set(roles) - set(ROLES)
    if unknown or not roles:
        raise ValueError(f"{sorted(unknown) or 'nothing'} given; the roles are {', '.join(ROLES)}.")

    def guard(view: Callable) -> Callable:
        @wraps(view)
        def guarded(request, *args, **kwargs):
            if getattr(request.user, "role", None) not in roles:
                raise PermissionDenied
            return view(request, *args, **kwargs)

        guarded.roles = roles
        return guarded

    return guard


everybody = role_required(*STAFF)  # everybody who works here
office = role_required("office", "owner")
owner = role_required("owner")
