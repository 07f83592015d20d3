"""The program's settings, with a writer who does not wait for another one: what it says after half a minute."""

from shopledger.settings import *  # noqa: F403
from shopledger.settings import DATABASES

DATABASES["default"]["OPTIONS"]["timeout"] = 0
