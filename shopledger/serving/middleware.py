"""Refuses a body that is too large before anything reads it, whatever web server stands in front."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

from shopledger.errors.large import too_large
from shopledger.serving.limits import too_much


class BodyMiddleware:
    """The outermost one: neither the session nor the form's own key is looked for in what is refused here.

    `manage.py serve` refuses the same by the headers, before the body arrives; here it is for any other server. Django
    reads no body without a Content-Length.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        said = request.META.get("CONTENT_LENGTH") or "0"
        length = int(said) if said.isascii() and said.isdigit() else 0
        most = too_much(length, request.path_info, request.META.get("HTTP_COOKIE", ""))
        if not most:
            return self.get_response(request)
        text, headers = too_large(most, part=request.headers.get("HX-Request") == "true")
        return HttpResponse(text, status=413, headers=headers)
