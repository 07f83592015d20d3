"""What is answered to a request that is too large: a page that needs no request, for it is said before there is one."""

from django.template.loader import render_to_string

HEADERS = {
    "Content-Type": "text/html; charset=utf-8",
    "Cache-Control": "no-store",
    "Content-Security-Policy": "default-src 'none'; style-src 'self'; img-src 'self'; frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
}


def too_large(most: int, part: bool = False) -> tuple[str, dict[str, str]]:
    """Text and headers. most: bytes that would be taken. part: asked for by a part of a page."""
    taken = f"{most // 1024 // 1024} MB" if most >= 1024 * 1024 else f"{most // 1024} KB"
    return _said(
        part,
        "That is too large",
        f"What the browser sent is more than the {taken} that are taken here. It was refused before it was read, and "
        "nothing was recorded.",
        "Send a smaller file. If you were signed out meanwhile, sign in and send it again. An earlier log of that size "
        "is loaded with the command line.",
    )


def unreadable_head(part: bool = False) -> tuple[str, dict[str, str]]:
    """The same for a request whose beginning cannot be read, or is too long."""
    return _said(
        part,
        "That could not be read",
        "What the browser sent is not a request as it should be, or its address and cookies are too long.",
        "Nothing was recorded. Go back and try again.",
    )


def _said(part: bool, heading: str, *sentences: str) -> tuple[str, dict[str, str]]:
    context = {"heading": heading, "sentences": sentences}
    return render_to_string("_said.html" if part else "fault_bare.html", context), HEADERS
