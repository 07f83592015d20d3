"""Which columns of its lists a person wants to see."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

from inventory.shop.access import everybody
from inventory.shop.models import ChosenColumns


@everybody
@require_POST
def list_columns(request: HttpRequest) -> HttpResponse:
    """Keep which columns of a list a person wants to see; none: all of them."""
    columns = [name[:60] for name in request.POST.getlist("columns")[:60]]
    ChosenColumns.objects.update_or_create(
        username=request.user.username, table=request.POST.get("list", "")[:40], defaults={"columns": columns}
    )
    back = request.POST.get("back", "")
    known = url_has_allowed_host_and_scheme(back, allowed_hosts=None) and back.startswith("/")
    return redirect(back if known else "home")
