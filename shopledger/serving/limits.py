"""How much a request may bring, judged by its address and by what its headers say of who sends it.

| who, where                                   | most of one body |
|----------------------------------------------|------------------|
| nobody who signed in here                    | 64 KB            |
| any form                                     | 2 MB (`DATA_UPLOAD_MAX_MEMORY_SIZE`, 10,000 fields, 30 files) |
| a file that is attached, a photo of a job, a spreadsheet | 15 MB and a little for the form around it |
| an earlier log                               | 160 MB           |

The address, the query and the headers together: 32 KB.
"""

from django.conf import settings
from django.http.cookie import parse_cookie
from django.urls import Resolver404, resolve

from inventory.attachments.content import MOST_BYTES as MOST_OF_A_FILE
from shopledger.logbook.uploads import MOST_BYTES as MOST_OF_A_LOG
from shopledger.serving.sessions import made_here
from shopledger.sheets.book import MOST_BYTES as MOST_OF_A_SHEET

STRANGER = 64 * 1024
AROUND = 1024 * 1024  # the form that a file comes in, and what parts it
WITH_FILES = {
    "attach-to": MOST_OF_A_FILE + AROUND,
    "job-photo": MOST_OF_A_FILE + AROUND,
    "job-finger": MOST_OF_A_FILE + AROUND,
    "found-new": MOST_OF_A_FILE + AROUND,
    "sheets": MOST_OF_A_SHEET + AROUND,
    "logs": MOST_OF_A_LOG + 10 * AROUND,
}
MOST = max(WITH_FILES.values())


def most_bytes(path: str, cookies: str) -> int:
    """How many bytes a request's body may have. cookies: as its header has them. Asks no database: whoever has a
    session that ended since is told so by the page."""
    if not made_here(parse_cookie(cookies).get(settings.SESSION_COOKIE_NAME, "")):
        return STRANGER
    try:
        name = resolve(path).url_name
    except Resolver404:
        return STRANGER
    return WITH_FILES.get(name or "", settings.DATA_UPLOAD_MAX_MEMORY_SIZE)


def too_much(length: int, path: str, cookies: str) -> int:
    """0 where a body of so many bytes may come; otherwise the most that may."""
    if length <= STRANGER:
        return 0
    most = most_bytes(path, cookies)
    return most if length > most else 0
