"""What is loaded once for all processes of `tests/forked.py`: libraries that ask for no settings."""

import asyncio  # noqa: F401

import openpyxl  # noqa: F401
import psycopg  # noqa: F401
import reportlab.graphics.renderSVG
import reportlab.platypus  # noqa: F401
import segno  # noqa: F401
import waitress  # noqa: F401
from django.conf import settings

assert not settings.configured
