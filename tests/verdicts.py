"""Verdicts of an invented rulebook, to try how they are shown."""

import datetime as dt
import html
import io
import re
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

from pypdf import PdfReader

from inventory.reference.gas_rules import ServiceBan
from inventory.reference.rule import Text
from inventory.verdicts.verdict import Figure, Verdict

LAW = Text("law", "Law of Nowhere", "seen", read_on=dt.date(2026, 2, 1))
DIGEST = Text("digest", "A digest of the law", "secondary", read_on=dt.date(2026, 2, 3))
BAN = ServiceBan(
    text=LAW,
    citation="art. 7(2)",
    confidence="seen",
    from_day=dt.date(2025, 1, 1),
    note="Until the act is amended.",
    grades=("virgin",),
    equipment=("vehicle/*", "stationary/refrigeration"),
    gwp_at_least=Decimal(2500),
    enforcement="warn",
)
HEARD = ServiceBan(text=DIGEST, citation="p. 4", confidence="secondary", grades=("recovered",))
BANNED = Verdict(
    answer="breach",
    said="Virgin refrigerant with a GWP of 3943 may not be charged into it any more.",
    rules=(BAN, HEARD),
    figures=(Figure("GWP", "3943"), Figure("grade", "virgin")),
    readings=("A trailer counts as a vehicle.",),
    changes=("Recycled refrigerant may be charged until 2030.",),
)
ASKED = Verdict(
    answer="open",
    said="Whether it is checked for leaks cannot be judged: say whether it is hermetically sealed.",
    rules=(HEARD,),
    ask=("whether it is hermetically sealed",),
)
# What a note says of the first.
NOTE = (
    "Virgin refrigerant with a GWP of 3943 may not be charged into it any more.",
    "Worked out from: GWP: 3943; grade: virgin.",
    "Rule: Law of Nowhere, art. 7(2);",
    "GWP of at least: 2500",
    "applies from 2025-01-01",
    "Until the act is amended; read in the text itself; read on 2026-02-01.",
    "Rule: A digest of the law, p. 4;",
    "read in a summary, not in the text itself; read on 2026-02-03; to be confirmed with the authority.",
    "The text allows more than one reading; taken is: A trailer counts as a vehicle.",
    "What would change it: Recycled refrigerant may be charged until 2030.",
)


def judging(objections: Callable, **by_key: Verdict) -> Callable:
    """What signing objects to, with a verdict for each key that is named here, `_` for `-`."""

    def found(*asked) -> list:
        known = {key.replace("_", "-"): one for key, one in by_key.items()}
        return [replace(one, verdict=known.get(one.key, one.verdict)) for one in objections(*asked)]

    return found


def words(page: bytes) -> str:
    """What a page says, without its marks."""
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", page.decode())).split())


def printed(pdf: bytes) -> str:
    """What a PDF says."""
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())
