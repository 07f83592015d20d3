"""Sessions in the database, whose keys show that this server made them.

The key of whoever signed in carries a digest of itself, made with the server's secret. So the web server tells at
once, without the database and before it takes what somebody sends, whether they ever signed in here. Whether the
session still stands is asked where it always was. A visitor's session, which anybody is given who asks for it (a
passkey's challenge is kept in one), has a key without the digest; signing in makes another.
"""

from django.conf import settings
from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.backends import db
from django.utils.crypto import constant_time_compare, get_random_string, salted_hmac

CHOSEN, DIGEST = 24, 16  # characters: 36 to the 24th keys, 64 bits of digest; the column holds 40
LETTERS = "abcdefghijklmnopqrstuvwxyz0123456789"


def digest_of(chosen: str, secret: str | None = None) -> str:
    """secret: of before; without it the server's present one."""
    return salted_hmac("shopledger.session", chosen, secret, algorithm="sha256").hexdigest()[:DIGEST]


def made_here(key: str) -> bool:
    """Whether a session's key was given to somebody who signed in, by this server, now or earlier."""
    secrets = (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS)
    digests = (digest_of(key[:CHOSEN], secret) for secret in secrets)
    return len(key) == CHOSEN + DIGEST and any(constant_time_compare(key[CHOSEN:], one) for one in digests)


class SessionStore(db.SessionStore):
    proved = False  # whoever it is just proved who they are

    def cycle_key(self) -> None:
        """Called where somebody signs in, proves again who they are, or has another password."""
        self.proved = True
        super().cycle_key()

    def _get_new_session_key(self) -> str:
        while True:
            chosen = get_random_string(CHOSEN, LETTERS)
            signed_in = self.proved or SESSION_KEY in self._session
            key = chosen + (digest_of(chosen) if signed_in else get_random_string(DIGEST, LETTERS))
            if not self.exists(key):
                return key
