"""Sessions in the database, whose keys show that this server made them.

A key carries a digest of itself, made with the server's secret. So the web server tells at once, without the database
and before it takes what somebody sends, whether they ever signed in here. Whether the session still stands is asked
where it always was.
"""

from django.contrib.sessions.backends import db
from django.utils.crypto import constant_time_compare, get_random_string, salted_hmac

CHOSEN, DIGEST = 24, 16  # characters: 36 to the 24th keys, 64 bits of digest; the column holds 40
LETTERS = "abcdefghijklmnopqrstuvwxyz0123456789"


def digest_of(chosen: str) -> str:
    return salted_hmac("shopledger.session", chosen, algorithm="sha256").hexdigest()[:DIGEST]


def made_here(key: str) -> bool:
    """Whether a session's key was given by this server, now or earlier."""
    return len(key) == CHOSEN + DIGEST and constant_time_compare(key[CHOSEN:], digest_of(key[:CHOSEN]))


class SessionStore(db.SessionStore):
    def _get_new_session_key(self) -> str:
        while True:
            chosen = get_random_string(CHOSEN, LETTERS)
            key = chosen + digest_of(chosen)
            if not self.exists(key):
                return key
